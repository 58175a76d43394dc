"""The demo's solve from cold beside the least its factorisations and back-substitutions could cost, in one run."""

from __future__ import annotations

import statistics
from dataclasses import asdict
from typing import Any

import numpy as np

from labrum.simulate import solve

from .floor import asymmetry, floor_of, times_of
from .problems import demo, repeated
from .recording import recorded
from .solvers import available, missing


def floor(percent: float, repeats: int) -> dict[str, Any]:
    """Record the demo's systems, have every solver solve them, and set the solve's time against the fastest."""
    problem = demo(percent)
    with recorded() as systems:
        solve(problem)
    _, seconds = repeated(lambda: solve(problem), repeats)
    times = [times_of(solver, systems, repeats) for solver in available()]
    least = floor_of(times)
    sizes = [system.matrix.shape[0] for system in systems]
    return {
        "cold_cpu_seconds": seconds["cpu_seconds"],
        "floor": least,
        "ratio": seconds["cpu_seconds"] / least["cpu_seconds"],
        "factorisations": len(systems),
        "grids": len({system.pattern for system in systems}),
        "equations_median": statistics.median(sizes),
        "equations_most": max(sizes),
        "largest_asymmetry": max(asymmetry(system) for system in systems),
        "missing_solvers": missing(),
        "solvers": [_plain(asdict(entry)) for entry in times],
    }


def _plain(entry: dict[str, Any]) -> dict[str, Any]:
    """JSON has no infinity: a solver that refused has no times."""
    return {key: None if isinstance(value, float) and not np.isfinite(value) else value for key, value in entry.items()}
