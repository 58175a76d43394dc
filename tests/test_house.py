"""The house stays as DEVELOPERS.md draws it: one-way arrows, nothing else at the top, all explained."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MAY_IMPORT = {
    "meshes": set(),
    "simulate": {"meshes"},
    "reports": {"meshes", "simulate"},
    "cases": {"meshes", "simulate", "reports"},
}
TOP = {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", "tests", *MAY_IMPORT}


def sources(package: str) -> list[Path]:
    return sorted((ROOT / package).rglob("*.py"))


def imported(path: Path) -> Iterator[tuple[int, str]]:
    """Line and first name of every absolute import, those inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name.partition(".")[0]) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.lineno, node.module.partition(".")[0]


@pytest.mark.parametrize("package", MAY_IMPORT)
def test_arrows_run_one_way(package: str) -> None:
    ours = {*MAY_IMPORT, "tests"} - {package} - MAY_IMPORT[package]
    wrong = [
        f"{path.relative_to(ROOT)}:{line} imports {name}"
        for path in sources(package)
        for line, name in imported(path)
        if name in ours
    ]
    assert not wrong


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
        ".".join(path.parent.relative_to(ROOT).parts)
        for package in MAY_IMPORT
        for path in (ROOT / package).rglob("__init__.py")
    }
    assert set(listed) == found


def undocumented(path: Path) -> Iterator[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
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
