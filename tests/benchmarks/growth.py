"""How time and memory grow with the number of unknowns: the demo's press held on ever finer grids."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

import numpy as np

from labrum.simulate.equilibrium.newton import StepFailedError
from labrum.simulate.living.breath_and_muscle import final_stage
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import Pressed, hold, press
from labrum.simulate.problem import Problem
from labrum.simulate.solving import silent

from .problems import clocked, demo


def growth(unknowns: Sequence[int], repeats: int) -> dict[str, Any]:
    """Hold the demo on grids of about ``unknowns``, each from the one before; the exponents of the times.

    A hold starts from the coarser equilibrium, as a refinement does. Its best time of ``repeats`` counts.
    """
    problem = demo(1.0)
    standing = press(problem, Fineness(), silent)
    sizes = []
    for wanted in unknowns:
        fineness = _fineness(standing, wanted)
        runs = [clocked(partial(_held, problem, standing, fineness)) for _ in range(repeats)]
        standing, iterations = runs[0][0]
        sizes.append(_size(standing, iterations, min(seconds for _, seconds, _ in runs)))
    return {"sizes": sizes, **{f"exponent_{of}": exponent(sizes, f"{of}_cpu_seconds") for of in ("hold", "iteration")}}


def _fineness(pressed: Pressed, unknowns: int) -> Fineness:
    """The fineness that gives about so many unknowns, going by how many there are now."""
    return pressed.fineness.refined(float(np.sqrt(pressed.model.unknowns / unknowns)))


def _size(held: Pressed, iterations: int, seconds: float) -> dict[str, Any]:
    return {
        "unknowns": held.model.unknowns,
        "equations": held.model.pattern.size,
        "newton_iterations": iterations,
        "hold_cpu_seconds": seconds,
        "iteration_cpu_seconds": seconds / iterations,
    }


def exponent(sizes: Sequence[dict[str, Any]], key: str) -> float:
    """The slope of the logarithm of a time over that of the unknowns, by least squares."""
    count, seconds = ([float(size[name]) for size in sizes] for name in ("unknowns", key))
    return float(np.polyfit(np.log(count), np.log(seconds), 1)[0])


def hundred_thousand(unknowns: int) -> dict[str, Any]:
    """Hold the demo on about so many unknowns, in a process that has done nothing else: what memory that takes."""
    problem = demo(1.0)
    standing = press(problem, Fineness(), silent)
    for wanted in (unknowns // 4, unknowns // 2):
        standing, _ = _held(problem, standing, _fineness(standing, wanted))
    (held, iterations), cpu, _ = clocked(partial(_held, problem, standing, _fineness(standing, unknowns)))
    return _size(held, iterations, cpu)


def _held(problem: Problem, start: Pressed, fineness: Fineness) -> tuple[Pressed, int]:
    """The press on another grid and the iterations it took; a hold that fails fails the measurement."""
    iterations = 0

    def count(progress: Any) -> None:
        nonlocal iterations
        iterations += progress.iteration > 0

    try:
        held = hold(problem, start, fineness, final_stage(problem), count)
    except StepFailedError as failure:
        raise RuntimeError(f"no equilibrium on a grid of fineness {fineness}: {failure}") from failure
    return held, iterations
