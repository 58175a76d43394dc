"""What makes two solved cases the same: the resolved case, the rim it draws, and the solver's own code."""

from __future__ import annotations

import ast
import gc
import hashlib
import json
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from importlib.util import resolve_name
from pathlib import Path
from typing import Any

import numpy as np

from labrum.cases.case_file.building import Case
from labrum.cases.solving.provenance import own_version

SOLVER = "labrum.simulate.solving"
HOUSE = "labrum"
COUNTS = (f"{HOUSE}.meshes", f"{HOUSE}.simulate")
KEY_DECIMALS = 9
READERS = {f"{HOUSE}.cases": ("case_file", "library", "sweeping"), f"{HOUSE}.meshes": (".",)}


class SourceNotFound(RuntimeError):
    """A module that the solver imports and that is nowhere to be read."""


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


def solver_sources(start: str = SOLVER) -> dict[str, bytes]:
    """Read the modules of ours that the solver consists of: ``start``, and whatever those import, at any depth.

    Raises
    ------
    SourceNotFound
        If an import of ours leads nowhere: a fingerprint that left it out would call stale cases fresh.
    """
    found: dict[str, bytes] = {}
    wanted = [start]
    while wanted:
        name = wanted.pop()
        if name in found:
            continue
        place = _place(name)
        if place is None:
            raise SourceNotFound(f"the solver imports {name}, which is nowhere to be read")
        found[name] = place.read_bytes()
        package = name if place.name == "__init__.py" else name.rpartition(".")[0]
        wanted += [owner for owner in (package, name.rpartition(".")[0]) if _counts(owner)]
        for origin, alias in _imported(syntax_of(found[name]), package):
            wanted.append(origin)
            inner = f"{origin}.{alias}"
            wanted += [inner] if alias and _place(inner) else []
    return found


def syntax_of(source: bytes | str) -> ast.Module:
    """Parse a module's text, with no garbage collected meanwhile.

    Python 3.11 counts the depth of a tree once for the whole interpreter: what a collection runs in the middle of it,
    or lets another thread run, can end it with a SystemError ("AST constructor recursion depth mismatch").
    """
    collects = gc.isenabled()
    gc.disable()
    try:
        return ast.parse(source)
    finally:
        if collects:
            gc.enable()


def _place(name: str) -> Path | None:
    """The file that holds a module or a package of ours; None where there is none."""
    house, folder, *inner = name.split(".")
    for base in import_module(f"{house}.{folder}").__path__:
        inside = Path(base).joinpath(*inner)
        for file in (inside / "__init__.py", inside.with_suffix(".py")):
            if file.is_file():
                return file
    return None


def _imported(tree: ast.Module, package: str) -> Iterator[tuple[str, str]]:
    """Modules of ours that a module names in its imports, with the name asked of each ('' where it is the module)."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, "") for alias in node.names if _counts(alias.name))
        elif isinstance(node, ast.ImportFrom):
            origin = resolve_name("." * node.level + (node.module or ""), package) if node.level else node.module or ""
            for name in (alias.name for alias in node.names):
                place, asked = (f"{origin}.{name}", "") if origin == HOUSE else (origin, name)
                if _counts(place):
                    yield place, asked


def _counts(origin: str) -> bool:
    """Is it part of what can change a solution? Figures and commands are not."""
    return ".".join(origin.split(".")[:2]) in COUNTS


def case_key(case: Case, solver: str) -> str:
    """Return the key under which a solved case is kept; the title, which changes nothing, is left out.

    The rim counts as drawn, for a trace's file may change behind an unchanged name, or move.
    """
    physics = {name: value for name, value in case.resolved.items() if name != "title"}
    physics["rim"] = {name: value for name, value in physics["rim"].items() if name != "trace"}
    curve = case.problem.rim.curve
    pieces = np.column_stack([curve.start, curve.end, curve.bulge]).round(KEY_DECIMALS) + 0.0  # no minus nought
    return digest({"case": physics, "rim": pieces.tolist(), "solver": solver})


@cache
def reading_identity() -> str:
    """Fingerprint of what turns a plan's settings into cases: the code that reads them, and the library."""
    code = hashlib.sha256()
    for package, rooms in READERS.items():
        home = Path(next(iter(import_module(package).__path__)))
        files = (file for room in rooms for file in home.joinpath(room).rglob("*") if file.suffix in (".py", ".toml"))
        for file in sorted(files):
            code.update(f"{package}/{file.relative_to(home)}\n".encode() + file.read_bytes())
    return code.hexdigest()


def file_digest(path: Path) -> str:
    """Hash a file's content; empty where it cannot be read."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def digest(content: dict[str, Any]) -> str:
    """Hash plain tables: equal tables, equal hash, whatever the order of their keys."""
    return hashlib.sha256(json.dumps(content, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
