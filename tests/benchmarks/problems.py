"""What is solved: the demo, a rim like it, and a problem's numbers with the error each may have."""

from __future__ import annotations

import statistics
import time
import tomllib
from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any, TypeVar

from labrum.cases.case_file.reading import case_from_table
from labrum.cases.library.shelf import demo_text
from labrum.simulate.conclusions.measure_errors import doubt
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem

from .accounting import Account, accounted_for

Found = TypeVar("Found")


def demo(percent: float, force: float | None = None, **rim: float) -> Problem:
    """The shipped demo with so much error allowed in the peak; under another force N, or another rim."""
    table = tomllib.loads(demo_text("demo"))
    table["accuracy"] = {"peak_pressure_percent": percent}
    table["rim"] |= rim
    problem = case_from_table(table).problem
    return problem if force is None else replace(problem, load=replace(problem.load, force=force))


def living_demo() -> Problem:
    """The shipped living lip as it is."""
    return case_from_table(tomllib.loads(demo_text("living-lip"))).problem


def demo_dimension(name: str) -> float:
    """A dimension of the demo's rim, mm."""
    return float(tomllib.loads(demo_text("demo"))["rim"][name])


def numbers_of(outcome: Outcome) -> dict[str, dict[str, float]]:
    """Every measure that has an estimated error, with it: so that two runs can be held against each other."""
    measures = outcome.measures
    names = [field.name for field in fields(Measures) if _has_doubt(measures, field.name)]
    return {name: {"value": float(getattr(measures, name)), "error": doubt(measures, name)} for name in names}


def _has_doubt(measures: Measures, name: str) -> bool:
    if getattr(measures, name) is None:
        return False
    try:
        doubt(measures, name)
    except KeyError:  # a yes or no, or the estimate itself
        return False
    return True


def effort_of(outcome: Outcome) -> dict[str, Any]:
    """What an outcome says of the way to it."""
    return {
        "peak_pressure_error_percent": outcome.measures.peak_pressure_error_percent,
        "unknowns": outcome.unknowns,
        "newton_iterations": outcome.newton_iterations,
        "warnings": list(outcome.warnings),
    }


def clocked(function: Callable[[], Found]) -> tuple[Found, float, float]:
    """What a function returns, and the processor's and the wall's seconds it took."""
    wall, cpu = time.perf_counter(), time.process_time()
    found = function()
    return found, time.process_time() - cpu, time.perf_counter() - wall


def repeated(function: Callable[[], Found], times: int) -> tuple[Found, dict[str, Any]]:
    """Call a function so many times; what it returned last, the medians of its seconds, and on what they went.

    To account for the time costs some microseconds a call, a few thousandths of a solve.
    """
    account = Account()
    with accounted_for(account):
        runs = [clocked(function) for _ in range(times)]
    cpu, wall = [run[1] for run in runs], [run[2] for run in runs]
    calls = {name: count / times for name, count in account.calls.items()}
    medians = {"cpu_seconds": statistics.median(cpu), "wall_seconds": statistics.median(wall)}
    return runs[-1][0], {**medians, "cpu_seconds_each": cpu, "shares": account.shares(sum(cpu)), "calls": calls}
