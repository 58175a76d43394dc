"""How far the peak stands from that of an endlessly fine grid.

Displacements are right to a few parts in ten thousand on coarse grids already. The peak is not: it depends on how
many elements the hump of pressure around it has, so the grids are made finer there above all
(`labrum.simulate.load_path.adaptive_grid.Fineness.sharper`). The estimate adds what the peak moved from one grid to
the next and what the two ways of reading it differ on the finer one (reactions over areas, and the consistent
recovery; see `labrum.simulate.equilibrium.traction`). It never claims less than the scatter seen between grids of that
fineness: where the columns happen to fall moves the peak either way.

The scatter was set on the 30 playing cases (three lips, three bites, 5 to 60 N); on 30 random rims, lips and
supports that were not among them the estimate bounded 29 errors, and the last was 0.34 % for 0.30. With friction
the answer depends on the way, which each grid breaks up in its own steps: there the scatter is larger and no grid
lowers it; its size was set on 13 other random presses with friction.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from labrum.meshes.rims.rim import Rim
from labrum.simulate.equilibrium.newton import Settings, StepFailedError
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.advice import advice
from labrum.simulate.load_path.build import Stage
from labrum.simulate.load_path.press import HOME, Listener, Pressed, hold
from labrum.simulate.problem import NotConverged, Problem
from labrum.simulate.readings.pressure import PressureReading, pressure_reading

SHARE_MOVED, SHARE_DIFFERENCE = 0.5, 0.5
SHARE_WAY = 2.25  # of what the steps moved the peak by, with friction: halved, or of a lower order
SHARE_GRID_WITH_FRICTION = 1.5  # of the estimate from grids, which differ in what slipped on the way too
DETOUR = 1.35  # how much coarser a grid is tried where one is out of reach
SCATTER_PERCENT = 0.3  # between grids once sharpened; a third with every further sharpening
SCATTER_WITH_FRICTION_PERCENT = 1.0  # between ways to the same force, on any grid
ANSWER = Fineness(touching=0.09, ends=0.015, span=0.35, growth=1.0, hump=0.36)  # the coarsest that is read
# for equilibria that an answer is compared with, far below their scatter
BESIDE = Settings(residual=1e-5, gap=1e-6, chords_below=1e-4)


@dataclass(frozen=True)
class Refined:
    """The finest equilibrium, the one before it, and the estimated error of the peak in percent.

    ``grid_percent`` is the part of it that comes from these two grids alone, before any floor. ``ways`` are, with
    friction, two equilibria, the second by steps of a higher order or half as long.
    """

    finest: Pressed
    before: Pressed
    error_percent: float
    grid_percent: float = 0.0
    ways: tuple[Pressed, Pressed] | None = None


def readable(problem: Problem, pressed: Pressed, stage: Stage, listener: Listener, answer: Fineness) -> Pressed:
    """The equilibrium on the coarsest grid that is read; raises `NotConverged`.

    That grid is as fine as ``answer``, and on arcs and at the opening's margin at least as fine as that of ``pressed``,
    which is taken as it is where it resolves the peak already.
    """
    if pressed.fineness.hump <= answer.hump:
        return pressed
    had = pressed.fineness
    first = replace(answer, arc=min(answer.arc, had.arc), margin=min(answer.margin, had.margin))
    return held(problem, pressed, first, stage, listener, BESIDE)


def refine_until_accurate(
    problem: Problem, pressed: Pressed, stage: Stage, listener: Listener, answer: Fineness, most_unknowns: int
) -> Refined:
    """Refine until the estimated error of the peak is within what the problem asks; raises `NotConverged`.

    The first grid is that of `readable`. Refinement also ends, with the estimate it has, where the next grid would
    have more than ``most_unknowns``.
    """
    coarse = readable(problem, pressed, stage, listener, answer)
    scatter, least = SCATTER_PERCENT, SCATTER_WITH_FRICTION_PERCENT if problem.load.friction > 0.0 else 0.0
    while True:
        fine = held(problem, coarse, coarse.fineness.sharper(), stage, listener, HOME)
        grid = error_percent(problem.rim, coarse, fine)
        error = max(scatter, least, grid)
        next_unknowns = fine.model.unknowns**2 / coarse.model.unknowns
        if error <= max(problem.accuracy.peak_pressure_percent, least) or next_unknowns > most_unknowns:
            return Refined(fine, coarse, error, grid)
        coarse, scatter = fine, scatter / 3.0


def error_percent(rim: Rim, coarse: Pressed, fine: Pressed) -> float:
    """Error of the finer peak, percent, by what it moved and by how far its two readings differ."""
    before, after = reading_of(rim, coarse), reading_of(rim, fine)
    moved = abs(after.peak - before.peak)
    difference = abs(after.peak - after.peak_raw)
    return 100.0 * (SHARE_MOVED * moved + SHARE_DIFFERENCE * difference) / after.peak


def way_error_percent(rim: Rim, before: Pressed, after: Pressed) -> float:
    """Error of the peak, percent, that the length of the steps leaves, by how far two ways' peaks lie apart."""
    one, other = reading_of(rim, before), reading_of(rim, after)
    return 100.0 * SHARE_WAY * abs(other.peak - one.peak) / other.peak


def reading_of(rim: Rim, pressed: Pressed) -> PressureReading:
    """Contact pressure of an equilibrium."""
    return pressure_reading(rim, traction(pressed.model, pressed.equilibrium.state))


def held(
    problem: Problem, pressed: Pressed, fineness: Fineness, stage: Stage, listener: Listener, settings: Settings,
    detours: int = 2,
) -> Pressed:  # fmt: skip
    """The equilibrium on a finer grid, by way of one between them where the step from grid to grid is too long.

    Where it leads nowhere with shorter elements at an opening's margin, these stay as they are: a margin that the
    muscle squeezes by half answers finer elements with folds (see `Effort.living`), and the peak does not ask for them.
    """
    coarse_margin = fineness.with_margin_of(pressed.fineness)
    try:
        return hold(problem, pressed, fineness, stage, listener, settings=settings)
    except StepFailedError as failure:
        if coarse_margin != fineness:
            return held(problem, pressed, coarse_margin, stage, listener, settings, detours)
        if detours == 0:
            raise NotConverged(
                pressed.equilibrium.force,
                f"the refined grid found no equilibrium ({failure})",
                advice(problem, 0.95 * pressed.equilibrium.force),
                pressed.history,
            ) from failure
    between = held(problem, pressed, fineness.refined(DETOUR), stage, listener, settings, detours - 1)
    return held(problem, between, fineness, stage, listener, settings, detours - 1)
