"""What came of the rules: each pair's two numbers, how sure their ratio is, and in how many other lips it holds."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from importlib.resources import files
from math import hypot
from pathlib import Path

from labrum.cases.readme.rules import BORNE_OUT, NOT_BORNE_OUT, Rule, RuleCase
from labrum.cases.workers.each import solve_each
from labrum.cases.workers.task import Solver, real_solver
from labrum.simulate import Effort, solve
from labrum.simulate.conclusions.measure_errors import doubt, higher
from labrum.simulate.conclusions.robustness import Stopped
from labrum.simulate.conclusions.varied_lips import (
    EITHER_WAY,
    FRICTIONS,
    Variation,
    lip_name,
    own_name,
    varied_lips,
)
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem


class NoFinding(RuntimeError):
    """A rule of which nothing can be said."""


@dataclass(frozen=True)
class Finding:
    """The measure of both cases, the error of their ratio, and ``holds`` of ``of`` lips in which it goes the same way.

    The error is the two measures' own added as independent ones; it is the mesh's part alone. A pair goes up, goes
    down, or is not told apart, each beyond both errors.
    """

    first: float
    second: float
    ratio_error: float
    holds: int
    of: int


Findings = Mapping[str, Finding]
"""What came of each rule, by what it says."""

InLips = Mapping[str, Measures | None]
"""A case's measures by the varied lip's name; None where it has no result."""


def found(workers: int = 0) -> Findings:
    """Solve every case of the rules in its own lip and four others, each once; raises `NoFinding`."""
    rules = (*BORNE_OUT, *NOT_BORNE_OUT)
    cases = list(dict.fromkeys(case for rule in rules for case in (rule.first, rule.second)))
    solved = dict(zip(cases, _in_lips(cases, workers), strict=True))
    return {rule.says: finding(rule, solved[rule.first], solved[rule.second]) for rule in rules}


def lips_of(problem: Problem) -> tuple[Variation, ...]:
    """The problem's own lip first; then half and double the stiffness, and little and much friction, one at a time."""
    own = own_name(problem)
    every = {lip.name: lip for lip in varied_lips(problem)}
    others = [lip_name(factor, problem.load.friction) for factor in EITHER_WAY]
    others += [lip_name(1.0, friction) for friction in FRICTIONS]
    return (every[own], *(every[name] for name in others if name != own))


def by_fewer_ways(problem: Problem) -> Outcome:
    """Solve with the way's steps halved once at least, not twice: the estimate tells what that leaves open."""
    return solve(problem, plan=Effort(fewest_halvings=1))


def _in_lips(cases: Sequence[RuleCase], workers: int) -> list[InLips]:
    """The usual lip as anybody solves it, the others by fewer ways."""
    lips = [lips_of(case.problem()) for case in cases]
    own = _solved([few[0].problem for few in lips], workers, real_solver)
    others = iter(_solved([lip.problem for few in lips for lip in few[1:]], workers, by_fewer_ways))
    return [
        {few[0].name: first} | {lip.name: next(others) for lip in few[1:]}
        for few, first in zip(lips, own, strict=True)
    ]


def _solved(problems: Sequence[Problem], workers: int, solver: Solver) -> list[Measures | None]:
    results: dict[int, Measures | None] = {}
    for number, result in solve_each(problems, workers, solver):
        results[number] = None if isinstance(result, Stopped) else result.measures
        print(f"{len(results)} of {len(problems)}", file=sys.stderr, flush=True)
    return [results[number] for number in range(len(problems))]


def finding(rule: Rule, first: InLips, second: InLips) -> Finding:
    """What is found of one rule; raises `NoFinding` where its own lip has no numbers."""
    own = own_name(rule.first.problem())
    one, other = _number(rule, first[own]), _number(rule, second[own])
    relative = hypot(*(error / abs(value) for value, error in (one, other)))
    ways = [_way(rule.measure, first[lip], second[lip]) for lip in first]
    same = ways.count(_way(rule.measure, first[own], second[own]))
    return Finding(one[0], other[0], relative * abs(other[0] / one[0]), same, len(ways))


def _number(rule: Rule, measures: Measures | None) -> tuple[float, float]:
    """The rule's measure in the usual lip, and its error."""
    value = None if measures is None else getattr(measures, rule.measure)
    if measures is None or value is None:
        raise NoFinding(f"{rule.says}: no {rule.measure} in the usual lip")
    return float(value), doubt(measures, rule.measure)


def _way(measure: str, first: Measures | None, second: Measures | None) -> str:
    """Which way the measure goes; other words where it is missing, so that this is like nothing else."""
    if first is None or second is None or getattr(first, measure) is None or getattr(second, measure) is None:
        return "missing"
    return {True: "up", False: "down", None: "alike"}[higher(second, first, measure)]


def kept_findings() -> Findings:
    """Read the findings as they were last solved."""
    kept = json.loads(kept_place().read_text(encoding="utf-8"))
    return {says: Finding(**row) for says, row in kept.items()}


def keep_findings(findings: Findings) -> None:
    """Keep the findings, to six digits."""
    rows = {says: {name: _rounded(value) for name, value in asdict(f).items()} for says, f in findings.items()}
    kept_place().write_text(json.dumps(rows, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def _rounded(value: float) -> float:
    return value if isinstance(value, int) else float(f"{value:.6g}")


def kept_place() -> Path:
    """Return the file that keeps them, beside this module."""
    return Path(str(files("labrum.cases.readme").joinpath("rule_numbers.json")))

