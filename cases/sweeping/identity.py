"""What makes two solved cases the same: the resolved case, the rim it draws, and the solver's own code."""

from __future__ import annotations

import ast
import hashlib
import json
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from cases.building import Case
from cases.provenance import own_version

SOLVER = "simulate.solving"
DECIMALS = 9


@cache
def solver_identity() -> str:
    """Name the solver that runs here: version, and a fingerprint of its code.

    A version alone would let results from before and after a correction stand in one table unnoticed. Only what the
    solver imports counts: a change to a figure or a gauge does not make anything be solved again.
    """
    code = hashlib.sha256()
    for name, source in sorted(solver_sources().items()):
        code.update(f"{name}\n".encode() + source)
    return f"{own_version()}+{code.hexdigest()[:12]}"


def solver_sources() -> dict[str, bytes]:
    """Read the modules of ours that the solver consists of: it, and whatever those import."""
    found: dict[str, bytes] = {}
    wanted = [SOLVER]
    while wanted:
        name = wanted.pop()
        package, _, module = name.partition(".")
        place = files(package).joinpath(f"{module}.py")
        if name in found or not place.is_file():
            continue
        found[name] = place.read_bytes()
        wanted += _imported(ast.parse(found[name]), package)
    return found


def _imported(tree: ast.Module, package: str) -> Iterator[str]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.ImportFrom):
            continue
        origin = ".".join(filter(None, (package if node.level else "", node.module)))
        yield from (origin, *(f"{origin}.{alias.name}" for alias in node.names)) if _ours(origin) else ()


def _ours(origin: str) -> bool:
    return origin.partition(".")[0] in ("meshes", "simulate")


def case_key(case: Case, solver: str) -> str:
    """Return the key under which a solved case is kept; the title, which changes nothing, is left out.

    The rim counts as drawn, for a trace's file may change behind an unchanged name, or move.
    """
    physics = {name: value for name, value in case.resolved.items() if name != "title"}
    physics["rim"] = {name: value for name, value in physics["rim"].items() if name != "trace"}
    curve = case.problem.rim.curve
    pieces = np.column_stack([curve.start, curve.end, curve.bulge]).round(DECIMALS) + 0.0  # no minus nought
    return digest({"case": physics, "rim": pieces.tolist(), "solver": solver})


def digest(content: dict[str, Any]) -> str:
    """Hash plain tables: equal tables, equal hash, whatever the order of their keys."""
    return hashlib.sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
