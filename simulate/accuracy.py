"""How far the peak stands from that of an endlessly fine grid.

Two grids that agree prove little: where the columns happen to fall on the joints of the rim's pieces moves the
peak by a few tenths of a percent either way. So the estimate adds what the peak moved when the unknowns were
made four times as many, and what the two ways of reading it differ on the finer grid (reactions over areas, and
the consistent recovery; see `simulate.traction`), and it never claims less than the scatter seen between grids
of that fineness.

The weights and the scatter were set on the 30 playing cases (three lips, three bites, 5 to 60 N), each solved
on four grids; so their test checks that it holds there, not how it does on rims never seen. It asks for 25 of 27.
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

SHARE_MOVED, SHARE_DIFFERENCE = 0.7, 0.5
DETOUR = 1.35  # how much coarser a grid is tried where one is out of reach
SCATTER_PERCENT = 0.5  # between grids once refined; halves with every further refinement


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
    scatter = SCATTER_PERCENT
    while True:
        fine = _held(problem, coarse, coarse.fineness.refined(), stage, listener)
        error = max(scatter, error_percent(problem.rim, coarse, fine))
        if error <= problem.accuracy.peak_pressure_percent or 4 * fine.model.unknowns > most_unknowns:
            return Refined(fine, coarse, error)
        coarse, scatter = fine, 0.5 * scatter


def error_percent(rim: Rim, coarse: Pressed, fine: Pressed) -> float:
    """Error of the finer peak, percent, by what it moved and by how far its two readings differ."""
    before, after = reading_of(rim, coarse), reading_of(rim, fine)
    moved = abs(after.peak - before.peak)
    difference = abs(after.peak - after.peak_raw)
    return 100.0 * (SHARE_MOVED * moved + SHARE_DIFFERENCE * difference) / after.peak


def reading_of(rim: Rim, pressed: Pressed) -> PressureReading:
    """Contact pressure of an equilibrium."""
    return pressure_reading(rim, traction(pressed.model, pressed.equilibrium.state))


def _held(
    problem: Problem, pressed: Pressed, fineness: Fineness, stage: Stage, listener: Listener, detours: int = 2
) -> Pressed:
    """The equilibrium on a finer grid, by way of one between them where the step from grid to grid is too long."""
    try:
        return hold(problem, pressed, fineness, stage, listener)
    except StepFailedError as failure:
        if detours == 0:
            raise NotConverged(
                pressed.equilibrium.force,
                f"the refined grid found no equilibrium ({failure})",
                "lower force_n a little, or round the bite (bite_radius_mm)",
                pressed.history,
            ) from failure
    between = _held(problem, pressed, fineness.refined(DETOUR), stage, listener, detours - 1)
    return _held(problem, between, fineness, stage, listener, detours - 1)
