"""One solve from cold, one from a like one's press, and a force history."""

from __future__ import annotations

import sys
from typing import Any

from labrum.simulate import solve_near
from labrum.simulate.equilibrium import sparse
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.outcome import Outcome

from .problems import clocked, demo, demo_dimension, effort_of, living_demo, numbers_of, repeated

NEIGHBOURS = {
    "inner_diameter_mm": 0.1, "width_mm": 0.1, "bite_radius_mm": 0.1, "inner_crown_radius_mm": 0.1,
    "outer_crown_radius_mm": 0.1, "shoulder_radius_mm": 0.1,
}  # fmt: skip
SOLVER_PACKAGES = ("pypardiso", "cvxopt", "kvxopt", "sksparse", "qdldl", "mumps")


def cold(percent: float, repeats: int) -> dict[str, Any]:
    """The demo from nothing; ``first_cpu_seconds`` is what the very first solve of a process takes."""
    problem = demo(percent)

    def job() -> Outcome:
        return solve_near(problem, None).outcome

    _, first, _ = clocked(job)
    outcome, effort = repeated(job, repeats)
    found = {**effort, "first_cpu_seconds": first, **effort_of(outcome), **_solver()}
    return {**found, "numbers": numbers_of(outcome)}


def _solver() -> dict[str, Any]:
    """What the product solves with: its own words, and the solvers' packages it has loaded beside SciPy."""
    loaded = [name for name in SOLVER_PACKAGES if name in sys.modules]
    return {"linear_solver": (sparse.__doc__ or "").partition("\n")[0], "linear_solver_packages": loaded}


def living(repeats: int) -> dict[str, Any]:
    """The shipped living lip from nothing, after a solve to load everything."""
    problem = living_demo()
    solve_near(problem, None)
    outcome, effort = repeated(lambda: solve_near(problem, None).outcome, repeats)
    return {**effort, **effort_of(outcome), "numbers": numbers_of(outcome)}


def warm(percent: float, repeats: int) -> dict[str, Any]:
    """Rims like the demo's but for one dimension, each from the demo's press; the middle one stands for them."""
    start = solve_near(demo(percent), None).pressed
    each = {f"{name} + {step:g}": _near(percent, name, step, start, repeats) for name, step in NEIGHBOURS.items()}
    ordered = sorted(each.values(), key=lambda found: float(found["cpu_seconds"]))
    most = max(found["newton_iterations"] for found in each.values())
    return {**ordered[len(ordered) // 2], "most_newton_iterations": most, "each": each}


def _near(percent: float, name: str, step: float, start: Pressed, repeats: int) -> dict[str, Any]:
    problem = demo(percent, **{name: demo_dimension(name) + step})
    outcome, effort = repeated(lambda: solve_near(problem, start).outcome, repeats)
    return {**effort, **effort_of(outcome), "numbers": numbers_of(outcome)}


def history(percent: float, steps: int, force: float = 20.0) -> dict[str, Any]:
    """The demo under ``steps`` forces up to ``force`` N, each solved from the press of the one before.

    `simulate.solve_near` chained is how a caller gets a history each of whose peaks is as exact as asked.
    """
    problems = [demo(percent, force * (step + 1) / steps) for step in range(steps)]

    def job() -> list[Outcome]:
        pressed, outcomes = None, []
        for problem in problems:
            solved = solve_near(problem, pressed)
            pressed = solved.pressed
            outcomes.append(solved.outcome)
        return outcomes

    outcomes, effort = repeated(job, 1)
    iterations = [outcome.newton_iterations for outcome in outcomes]
    every = {"newton_iterations": sum(iterations), "newton_iterations_each": iterations}
    return {**effort, **every, "steps": steps, "numbers": numbers_of(outcomes[-1])}
