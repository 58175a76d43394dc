"""How many small faults in the formulas of `simulate/` the fast checks see.

    python -m tests.studies.mutants --seed 1 --count 150 --workers 2 --out mutants.json

A mutant is one change inside an arithmetic expression or a comparison: a sign, an operator, a number, a side. Files
that only choose steps, grids or words are left out: a fault there costs time or shows in a sentence, not in a formula.
Every worker has its own copy of the tree and spoils one place at a time there; then it runs the test files whose run
reaches that line, those of the same subject first, until one fails. What survives is printed, to be understood.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path
from queue import SimpleQueue

import numpy as np

HOUSE = Path(__file__).resolve().parents[2]
ROOMS = ("tissue", "contact", "equilibrium", "readings", "living", "off_axis", "closed_forms", "weak_form.py")
LEFT_OUT = ("known_laws.py", "factors.py", "sparse.py", "numbering.py")  # they choose solvers and order, by no formula
TESTS = ("tests/simulate", "tests/published")
OPERATORS: dict[type[ast.AST], tuple[str, str]] = {
    ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*"), ast.Pow: ("**", "*"),
}  # fmt: skip
SIDES: dict[type[ast.AST], tuple[str, str]] = {
    ast.Lt: ("<", ">"), ast.Gt: (">", "<"), ast.LtE: ("<=", ">="), ast.GtE: (">=", "<="),
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One change: in ``file``, on ``line``, ``was`` becomes ``becomes`` from the character ``start`` of the text on."""

    file: str
    line: int
    start: int
    was: str
    becomes: str
    code: str

    def spoil(self, text: str) -> str:
        """Return the file's text with the change made."""
        assert text[self.start:].startswith(self.was)
        return text[: self.start] + self.becomes + text[self.start + len(self.was):]


@dataclass(frozen=True)
class Fate:
    """What became of a mutant: ``by`` is the test file that saw it, empty if none of the ``tried`` did."""

    mutant: Mutant
    by: str
    tried: int
    seconds: float


@dataclass(frozen=True)
class Reach:
    """What a test file's run reaches: lines by file, and how long it takes."""

    test: str
    lines: dict[str, frozenset[int]]
    seconds: float


class Positions:
    """Where a line and a column (in bytes, as `ast` counts) stand in a text."""

    def __init__(self, text: str) -> None:
        self._lines = text.splitlines(keepends=True)
        self._starts = np.concatenate([[0], np.cumsum([len(line) for line in self._lines])])

    def at(self, line: int, column: int) -> int:
        """Return the index of the character."""
        before = self._lines[line - 1].encode()[:column].decode()
        return int(self._starts[line - 1]) + len(before)

    def code(self, line: int) -> str:
        """Return the line without its indent."""
        return self._lines[line - 1].strip()


def mutants_of(file: str, text: str) -> Iterator[Mutant]:
    """Every mutant of a file."""
    where = Positions(text)
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.BinOp) and type(node.op) in OPERATORS and not _names_types(node):
            yield from _between(file, text, where, node.left, node.right, OPERATORS[type(node.op)])
            for side in (node.left, node.right):
                yield from _number(file, text, where, side)
        if isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in SIDES:
            yield from _between(file, text, where, node.left, node.comparators[0], SIDES[type(node.ops[0])])
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub) and not _is_number(node.operand):
            start = where.at(node.lineno, node.col_offset)
            yield Mutant(file, node.lineno, start, "-", "+", where.code(node.lineno))


def _names_types(node: ast.BinOp) -> bool:
    texts = (ast.List, ast.Tuple, ast.JoinedStr)  # lists and texts are joined with +, which is no formula
    return any(
        isinstance(side, texts) or (isinstance(side, ast.Constant) and isinstance(side.value, str))
        for side in (node.left, node.right)
    )


def _between(file: str, text: str, where: Positions, left: ast.expr, right: ast.expr,
             change: tuple[str, str]) -> Iterator[Mutant]:  # fmt: skip
    assert left.end_lineno is not None
    assert left.end_col_offset is not None
    first, last = where.at(left.end_lineno, left.end_col_offset), where.at(right.lineno, right.col_offset)
    gap = text[first:last]
    if "#" in gap or gap.count(change[0]) != 1:
        return
    start = first + gap.index(change[0])
    line = text.count("\n", 0, start) + 1
    yield Mutant(file, line, start, change[0], change[1], where.code(line))


def _is_number(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in (int, float)


def _number(file: str, text: str, where: Positions, side: ast.expr) -> Iterator[Mutant]:
    if not isinstance(side, ast.Constant) or not _is_number(side):
        return
    line, start = side.lineno, where.at(side.lineno, side.col_offset)
    assert side.end_col_offset is not None
    was = text[start : where.at(line, side.end_col_offset)]
    becomes = repr(side.value + 1) if isinstance(side.value, int) else repr(float(str(side.value)) * 1.25)
    yield Mutant(file, line, start, was, becomes, where.code(line))


def all_mutants() -> list[Mutant]:
    """Every mutant of the rooms that hold formulas, in the order of their files."""
    found: list[Mutant] = []
    for path in sorted((HOUSE / "simulate").rglob("*.py")):
        inside = path.relative_to(HOUSE / "simulate")
        if inside.parts[0] in ROOMS and path.name not in LEFT_OUT:
            found += mutants_of(str(path.relative_to(HOUSE)), path.read_text())
    return found


def copied(place: Path) -> Path:
    """Copy the tree, compiled kernels included, so that a worker may spoil it."""
    left = (".git", ".venv", "build", "*.egg-info", "__pycache__", ".*_cache", ".hypothesis")
    shutil.copytree(HOUSE, place, ignore=shutil.ignore_patterns(*left), symlinks=True)
    return place


def pytest_in(tree: Path, tests: list[str], limit: float, measure: Path | None = None) -> bool:
    """Run test files in a copy of the tree; True if all pass. A run beyond its time counts as failed."""
    paths = [str(tree / ".house"), str(tree), *filter(None, [os.environ.get("PYTHONPATH")])]
    threads = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    environment = {**os.environ, **threads, "PYTHONPATH": os.pathsep.join(paths), "PYTHONDONTWRITEBYTECODE": "1"}
    start = [sys.executable, "-m"]
    if measure:
        start += ["coverage", "run", f"--data-file={measure}", "--source=simulate", "-m"]
    command = [*start, "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", *tests]
    run = subprocess.Popen(command, cwd=tree, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                           start_new_session=True)  # fmt: skip
    try:
        return run.wait(limit) == 0
    except subprocess.TimeoutExpired:
        os.killpg(run.pid, signal.SIGKILL)
        run.wait()
        return False


def reach_of(test: str, tree: Path) -> Reach:
    """Run one test file and see which lines of `simulate/` it reaches."""
    from coverage import CoverageData

    data = tree / f".reach-{test.replace('/', '-')}"
    started = time.monotonic()
    passed = pytest_in(tree, [test], 600.0, data)
    seconds = time.monotonic() - started
    if not passed:
        return Reach(test, {}, seconds)  # what fails before anything is spoiled sees nothing
    read = CoverageData(basename=str(data))
    read.read()
    lines = {str(Path(file).relative_to(tree)): frozenset(read.lines(file) or ()) for file in read.measured_files()}
    return Reach(test, lines, seconds)


def chosen_tests(mutant: Mutant, reaches: list[Reach]) -> list[str]:
    """The test files that reach a mutant, those of its own room first, then the quickest."""
    room = "tests/" + str(Path(mutant.file).parent)
    seen = [reach for reach in reaches if mutant.line in reach.lines.get(mutant.file, ())]
    return [reach.test for reach in sorted(seen, key=lambda reach: (not reach.test.startswith(room), reach.seconds))]


def fate_of(mutant: Mutant, tests: list[str], tree: Path) -> Fate:
    """Spoil one place of a tree, run its tests one after the other until one fails, and mend the place again."""
    path, started = tree / mutant.file, time.monotonic()
    whole = path.read_text()
    path.write_text(mutant.spoil(whole))
    try:
        for number, test in enumerate(tests, 1):
            if not pytest_in(tree, [test], 240.0):
                return Fate(mutant, test, number, time.monotonic() - started)
    finally:
        path.write_text(whole)
    return Fate(mutant, "", len(tests), time.monotonic() - started)


def study(mutants: list[Mutant], workers: int, budget: float) -> list[Fate]:
    """See what becomes of the mutants; those not begun within ``budget`` seconds are left."""
    ends = time.monotonic() + budget
    tests = sorted(str(path.relative_to(HOUSE)) for folder in TESTS for path in (HOUSE / folder).rglob("test_*.py"))
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(workers) as pool:
        trees: SimpleQueue[Path] = SimpleQueue()
        for number in range(workers):
            trees.put(copied(Path(folder).resolve() / str(number)))

        def reach(test: str) -> Reach:
            tree = trees.get()
            try:
                return reach_of(test, tree)
            finally:
                trees.put(tree)

        def fate(mutant: Mutant) -> Fate | None:
            if time.monotonic() > ends:
                return None
            tree = trees.get()
            try:
                return fate_of(mutant, chosen_tests(mutant, reaches), tree)
            finally:
                trees.put(tree)

        reaches = list(pool.map(reach, tests))
        blind = [each.test for each in reaches if not each.lines]
        print(f"{len(tests)} test files; failing before anything is spoiled: {', '.join(blind) or 'none'}", flush=True)
        return [each for each in pool.map(fate, mutants) if each]


def main() -> None:
    """Draw mutants, try them, print what survives and write all."""
    parser = argparse.ArgumentParser("python -m tests.studies.mutants", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=150)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--budget", type=float, default=1e9, help="seconds after which no mutant is begun")
    parser.add_argument("--out", type=Path)
    said = parser.parse_args()
    every = all_mutants()
    picked = np.random.default_rng(said.seed).permutation(len(every))[: said.count]
    fates = study([every[index] for index in picked], said.workers, said.budget)
    killed = sum(bool(each.by) for each in fates)
    print(f"{len(every)} mutants in all, {len(fates)} tried, {killed} killed: {killed / max(len(fates), 1):.1%}")
    for each in sorted((each for each in fates if not each.by), key=lambda each: (each.mutant.file, each.mutant.line)):
        lost = each.mutant
        print(f"  {lost.file}:{lost.line}: {lost.was} -> {lost.becomes} ({each.tried} test files): {lost.code}")
    if said.out:
        said.out.write_text(json.dumps([asdict(each) for each in fates], indent=1))


if __name__ == "__main__":
    main()
