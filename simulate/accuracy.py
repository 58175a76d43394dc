"""How far the peak stands from that of an endlessly fine grid.

Two grids that agree prove little at a sharp bite, so two independent signs are added: how much the peak moved
when the unknowns were made four times as many, and how much the two ways of reading it (reactions over areas,
and the consistent recovery; see `simulate.traction`) differ on the finer of them. Both shrink at least in
proportion to the element length, so their sum bounds what the next halving would change.
"""

from __future__ import annotations

from dataclasses import dataclass

from meshes.rims import Rim

from .build import Stage
from .fitting import Fineness
from .measures import PressureReading, pressure_reading
from .newton import StepFailedError
from .press import Listener, Pressed, hold
from .problem import NotConverged, Problem
from .traction import traction

FLOOR_PERCENT = 0.05  # an estimate below this would claim more than two grids can tell


@dataclass(frozen=True)
class Refined:
    """The finest equilibrium, the one before it, and the estimated error of the peak in percent."""

    finest: Pressed
    before: Pressed
    error_percent: float


def refine_until_accurate(
    problem: Problem, pressed: Pressed, stage: Stage, listener: Listener, most_unknowns: int
) -> Refined:
    """Refine until the estimated error of the peak is within what the problem asks; raises `NotConverged`.

    Refinement also ends, with the estimate it has, where the next grid would have more than ``most_unknowns``.
    """
    coarse = _held(problem, pressed, pressed.fineness, stage, listener)
    while True:
        fine = _held(problem, coarse, coarse.fineness.refined(), stage, listener)
        error = error_percent(problem.rim, coarse, fine)
        if error <= problem.accuracy.peak_pressure_percent or 4 * fine.model.unknowns > most_unknowns:
            return Refined(fine, coarse, error)
        coarse = fine


def error_percent(rim: Rim, coarse: Pressed, fine: Pressed) -> float:
    """Estimated discretisation error of the finer peak, percent."""
    before, after = reading_of(rim, coarse), reading_of(rim, fine)
    moved = abs(after.peak - before.peak)
    disagreement = abs(after.peak - after.peak_raw)
    return max(FLOOR_PERCENT, 100.0 * (moved + disagreement) / after.peak)


def reading_of(rim: Rim, pressed: Pressed) -> PressureReading:
    """Contact pressure of an equilibrium."""
    return pressure_reading(rim, traction(pressed.model, pressed.equilibrium.state))


def _held(problem: Problem, pressed: Pressed, fineness: Fineness, stage: Stage, listener: Listener) -> Pressed:
    try:
        return hold(problem, pressed, fineness, stage, listener)
    except StepFailedError as failure:
        raise NotConverged(
            pressed.equilibrium.force,
            f"the refined grid found no equilibrium ({failure})",
            "lower force_n a little, or round the bite (bite_radius_mm)",
            pressed.history,
        ) from failure
