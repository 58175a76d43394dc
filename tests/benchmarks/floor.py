"""The least a solve could cost: each of its matrices factorised once, and solved with once, by the fastest solver.

Whoever solves the same problem by the same Newton iterations with a direct solver pays this, and the assembly, the
contact and the steering come on top.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import numpy as np

from labrum.meshes.arrays import Floats

from .recording import System
from .solvers import Solver, Unsuited

Clock = Callable[[], float]
LARGEST_RESIDUAL = 1e-8  # what the product itself asks of a solution
SYMMETRIC_TO = 1e-12  # a solver that looks at one triangle only is right where the triangles agree


@dataclass(frozen=True)
class Times:
    """What a solver needs for all systems of a solve, seconds: each from scratch, or the analysis kept within a grid.

    ``residual`` is the largest relative one; ``refused`` says why a solver was not up to it, else it is empty.
    """

    name: str
    fresh_seconds: float
    reused_seconds: float
    residual: float
    refused: str = ""

    @property
    def right(self) -> bool:
        """Did it solve every system?"""
        return not self.refused and self.residual <= LARGEST_RESIDUAL


def times_of(solver: Solver, systems: Sequence[System], repeats: int, clock: Clock = time.process_time) -> Times:
    """Let a solver solve all systems, ``repeats`` times each, and take its best time for each."""
    fresh, reused, residual = 0.0, 0.0, 0.0
    try:
        for _, group in groupby(systems, key=lambda system: system.pattern):
            kept: Any = None
            for place, system in enumerate(group):
                once, x, analysis = _fresh(solver, system, repeats, clock)
                if place == 0:
                    kept, later, y = analysis, once, x
                else:
                    later, y = _again(solver, system, kept, repeats, clock)
                fresh, reused = fresh + once, reused + later
                residual = max(residual, relative_residual(system, x), relative_residual(system, y))
    except Unsuited as reason:
        return Times(solver.name, np.inf, np.inf, np.inf, str(reason))
    return Times(solver.name, fresh, reused, residual)


def _fresh(solver: Solver, system: System, repeats: int, clock: Clock) -> tuple[float, Floats, Any]:
    form, best = _form(solver, system), np.inf
    for _ in range(repeats):
        started = clock()
        x, kept = solver.fresh(form, system.wanted)
        best = min(best, clock() - started)
    return best, x, solver.keep(form, kept)


def _again(solver: Solver, system: System, kept: Any, repeats: int, clock: Clock) -> tuple[float, Floats]:
    form, best = _form(solver, system), np.inf
    for _ in range(repeats):
        started = clock()
        x = solver.again(form, system.wanted, kept)
        best = min(best, clock() - started)
    return best, x


def _form(solver: Solver, system: System) -> Any:
    if solver.symmetric and asymmetry(system) > SYMMETRIC_TO:
        raise Unsuited(f"the matrix is not symmetric: {asymmetry(system):.0e} of its largest entry")
    return solver.convert(system.matrix)


def asymmetry(system: System) -> float:
    """Largest difference between the two triangles over the largest entry."""
    return float(abs(system.matrix - system.matrix.T).max() / abs(system.matrix).max())


def relative_residual(system: System, x: Floats) -> float:
    """Of a solution x (n,); infinite where x is not finite."""
    if not np.all(np.isfinite(x)):
        return np.inf
    size = max(float(np.linalg.norm(system.wanted)), 1e-300)
    return float(np.linalg.norm(system.matrix @ x - system.wanted)) / size


def floor_of(times: Sequence[Times]) -> dict[str, Any]:
    """The fastest solver that was right, from scratch and with the analysis kept; the smaller is the floor."""
    right = [entry for entry in times if entry.right]
    fresh, reused = min(right, key=lambda t: t.fresh_seconds), min(right, key=lambda t: t.reused_seconds)
    return {
        "fresh_solver": fresh.name,
        "fresh_cpu_seconds": fresh.fresh_seconds,
        "reused_solver": reused.name,
        "reused_cpu_seconds": reused.reused_seconds,
        "cpu_seconds": min(fresh.fresh_seconds, reused.reused_seconds),
    }
