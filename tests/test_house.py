"""The house stays as DEVELOPERS.md draws it: one-way arrows, nothing else at the top, all explained."""

from __future__ import annotations

import ast
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from fnmatch import fnmatch
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

from labrum.cases.solving.fingerprint import syntax_of

ROOT = Path(__file__).parent.parent
MAY_IMPORT = {
    "meshes": set(),
    "simulate": {"meshes"},
    "reports": {"meshes", "simulate"},
    "cases": {"meshes", "simulate", "reports"},
}
TOP = {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", "setup.py", "tests", *MAY_IMPORT}


def sources(package: str) -> list[Path]:
    return sorted((ROOT / package).rglob("*.py"))


def imported(path: Path) -> Iterator[tuple[int, str]]:
    """Line and folder of every import of ours, those inside functions too."""
    for node in ast.walk(syntax_of(path.read_text(encoding="utf-8"))):
        for name in names_in(node):
            assert name.split(".")[0] not in MAY_IMPORT, f"{path}:{node.lineno}: installed, it is called labrum.{name}"
            if name.startswith("labrum."):
                yield node.lineno, name.split(".")[1]


def names_in(node: ast.AST) -> list[str]:
    """Modules that an import statement names; imports are absolute in this house."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        assert node.level == 0, "imports are absolute in this house"
        module = node.module or ""
        return [f"{module}.{alias.name}" for alias in node.names] if module == "labrum" else [module]
    return []


@pytest.mark.parametrize("package", MAY_IMPORT)
def test_arrows_run_one_way(package: str) -> None:
    ours = set(MAY_IMPORT) - {package} - MAY_IMPORT[package]
    wrong = [
        f"{path.relative_to(ROOT)}:{line} imports {name}"
        for path in sources(package)
        for line, name in imported(path)
        if name in ours
    ]
    assert not wrong


MOST_SIDE_BY_SIDE = 13


def test_no_folder_is_an_attic() -> None:
    crowds = {
        str(folder.relative_to(ROOT)): len(modules)
        for package in MAY_IMPORT
        for folder in {path.parent for path in sources(package)}
        if len(modules := [path for path in folder.glob("*.py") if path.name != "__init__.py"]) > MOST_SIDE_BY_SIDE
    }
    assert not crowds


def known_modules() -> dict[str, Path]:
    """Every module and package of the house by the name it is imported by."""
    found = {}
    for package in MAY_IMPORT:
        for path in sources(package):
            parts = path.relative_to(ROOT).with_suffix("").parts
            found[".".join(("labrum", *(parts[:-1] if parts[-1] == "__init__" else parts)))] = path
    return found


def arrows() -> dict[str, set[str]]:
    """Which module imports which, imports inside functions and for the type checker alone among them."""
    modules = known_modules()
    found: dict[str, set[str]] = {name: set() for name in modules}
    for name, path in modules.items():
        for node in ast.walk(syntax_of(path.read_text(encoding="utf-8"))):
            for origin in names_in(node):
                asked = [f"{origin}.{alias.name}" for alias in node.names] if isinstance(node, ast.ImportFrom) else []
                found[name] |= {inner for inner in asked if inner in modules} or {origin} & set(modules)
    return found


def circle(graph: dict[str, set[str]]) -> list[str]:
    """Some circle of a graph; empty where it has none."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_no_module_imports_itself_by_a_detour() -> None:
    assert circle(arrows()) == []


def test_arrows_between_the_rooms_of_a_folder_run_one_way() -> None:
    def room(name: str) -> str:
        """The subfolder a module stands in, or the module itself where it stands beside the subfolders."""
        return ".".join(name.split(".")[:3])

    rooms: dict[str, set[str]] = {}
    for name, reached in arrows().items():
        if len(name.split(".")) > 2:  # a folder's own face stands for what is inside
            rooms.setdefault(room(name), set()).update(room(other) for other in reached if room(other) != room(name))
    assert circle(rooms) == []


DRAWING = {"labrum.cases.asking.answers"}
"""Answers a question with a figure: it loads the plotting library on purpose."""
COMPUTING = ("asking", "case_file", "comparing", "searching", "solving", "sweeping", "tolerancing", "workers")


def test_what_computes_does_not_load_the_plotting_library() -> None:
    """Asked of a fresh Python: a band, a map, a trade-off or a spread is found without what only draws."""
    starts = ("labrum.meshes", "labrum.simulate", *(f"labrum.cases.{room}" for room in COMPUTING))
    names = [name for name in known_modules() if f"{name}.".startswith(tuple(f"{s}." for s in starts))]
    asked = "import importlib, sys; [*map(importlib.import_module, sys.argv[1:])]; print('matplotlib' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", asked, *sorted(set(names) - DRAWING)], capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "False\n"), done.stderr


def test_a_solve_loads_no_library_but_numpy() -> None:
    """Asked of a fresh Python: to load the others would take longer than the solve; without kernels scipy is needed.

    Nor does it load of our own what it does not use: other commands, run folders, friction, what is off the axis.
    """
    heavy = ("skfem", "scipy", "matplotlib", "meshio", "jinja2", "rich", "numpy.ma")
    ours = ("cases.command", "cases.solving.run_folder", "simulate.main_job.halved_steps", "simulate.postures.found")
    unused = {*heavy, *(f"labrum.{name}" for name in ours)}
    asked = f"""
import contextlib, sys
from labrum.cases.entry import begin
sys.argv = ["labrum", "solve", "demo", "--json", "--quiet"]
with contextlib.suppress(SystemExit):
    begin()
from labrum.simulate.compiled import library
allowed = () if library() else ("scipy",)
print(sorted(set(sys.modules) & {unused} - set(allowed)), file=sys.stderr)
"""
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "[]\n")


def test_nothing_else_stands_at_the_top() -> None:
    ignored = [
        line.strip("/") for line in (ROOT / ".gitignore").read_text().split() if not line.startswith("#")
    ]
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    strangers = {name for name in found - TOP if not any(fnmatch(name, pattern) for pattern in ignored)}
    assert not strangers
    assert found >= TOP


def test_every_package_is_installed() -> None:
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"]
    found = {
        ".".join(("labrum", *path.parent.relative_to(ROOT).parts))
        for package in MAY_IMPORT
        for path in (ROOT / package).rglob("__init__.py")
    }
    assert set(listed) == found


def undocumented(path: Path) -> Iterator[str]:
    tree = syntax_of(path.read_text(encoding="utf-8"))
    if not ast.get_docstring(tree):
        yield f"{path.relative_to(ROOT)}: the file"
    yield from (
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
        for node in public(tree)
        if not ast.get_docstring(node)
    )


def public(tree: ast.Module | ast.ClassDef) -> Iterator[ast.FunctionDef | ast.ClassDef]:
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from public(node)


@pytest.mark.parametrize("package", MAY_IMPORT)
def test_everything_public_says_what_it_is(package: str) -> None:
    assert not [gap for path in sources(package) for gap in undocumented(path)]
