"""The 27 playing cases: what each gives and takes, so that two commits can be held against each other."""

from __future__ import annotations

from typing import Any

from labrum.simulate import NotConverged, solve
from labrum.simulate.problem import Problem
from tests.simulate.accuracy.test_playing_cases import PLAYING, problem

from .problems import clocked, demo, effort_of, numbers_of


def playing(most: int, friction: float = 0.0) -> dict[str, Any]:
    """Solve the first ``most`` of the cases, each once, after a solve of the demo to load everything."""
    solve(demo(1.0))
    asked = {
        f"{lip}, bite {bite:g}, {force:g} N": problem(lip, bite, force, friction=friction)
        for lip, bite, force in PLAYING[:most]
    }
    each = {name: _solved(case) for name, case in asked.items()}
    return {
        "cpu_seconds": sum(found["cpu_seconds"] for found in each.values()),
        "newton_iterations": sum(found.get("newton_iterations", 0) for found in each.values()),
        "failed_cases": sum("failed_because" in found for found in each.values()),
        "each": each,
    }


def _solved(asked: Problem) -> dict[str, Any]:
    try:
        outcome, cpu, wall = clocked(lambda: solve(asked))
    except NotConverged as stop:
        return {"cpu_seconds": 0.0, "failed_because": str(stop)}
    return {"cpu_seconds": cpu, "wall_seconds": wall, **effort_of(outcome), "numbers": numbers_of(outcome)}
