"""What makes two solved cases the same: the resolved case, the files it drew on, and the solver's own code."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from importlib.resources import files
from typing import Any

from cases.building import Case
from cases.provenance import own_version

SOLVER_PACKAGES = ("meshes", "simulate")


@cache
def solver_identity() -> str:
    """Name the solver that runs here: version, and a fingerprint of its code.

    A version alone would let results from before and after a correction stand in one table unnoticed. The closed forms
    are left out: nothing is solved with them.
    """
    code = hashlib.sha256()
    for package in SOLVER_PACKAGES:
        sources = {item.name: item for item in files(package).iterdir() if item.name.endswith(".py")}
        for name in sorted(sources):
            code.update(f"{package}/{name}\n".encode() + sources[name].read_bytes())
    return f"{own_version()}+{code.hexdigest()[:12]}"


def case_key(case: Case, solver: str) -> str:
    """Return the key under which a solved case is kept; the title, which changes nothing, is left out."""
    physics = {name: value for name, value in case.resolved.items() if name != "title"}
    inputs = sorted(hashlib.sha256(path.read_bytes()).hexdigest() for path in case.inputs)
    return digest({"case": physics, "inputs": inputs, "solver": solver})


def digest(content: dict[str, Any]) -> str:
    """Hash plain tables: equal tables, equal hash, whatever the order of their keys."""
    return hashlib.sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
