"""The ways to the first equilibrium that can be read, the quickest first."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar

from labrum.simulate.accuracy.refinement import BESIDE, Refined, held, readable, refine_until_accurate
from labrum.simulate.living.breath_and_muscle import alive, contracts, enlivened, final_stage
from labrum.simulate.living.contraction import Contraction
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import HOME, PRESS, Last, Listener, Pressed, press
from labrum.simulate.main_job.effort import Effort, Limited
from labrum.simulate.main_job.neighbour import Neighbour
from labrum.simulate.problem import NotConverged, Problem


@dataclass(frozen=True)
class Readable:
    """The first equilibrium that is read, ``standing``, under all of a problem's loads.

    ``pressed`` is the press it came from, before breath and contraction; ``contraction`` what the muscle then did, if
    anything contracts.
    """

    problem: Problem
    pressed: Pressed
    contraction: Contraction | None
    standing: Pressed

    @property
    def start(self) -> Pressed:
        """Where a like problem may begin."""
        return self.pressed if alive(self.problem) else self.standing


Found = TypeVar("Found")
AtFirst = Callable[[Readable], None]
"""Hears of the first equilibrium that can be read, before anybody knows its error; of a later one where no answer came
of that.
"""


def unheard(first: Readable) -> None:
    """Let the first equilibrium pass."""


def by_some_way(
    problem: Problem, neighbour: Neighbour | None, plan: Effort, progress: Listener,
    go_on: Callable[[Readable, Effort, Listener], Found], searching: Listener | None = None,
) -> Found:  # fmt: skip
    """Press by the quickest way that leads somewhere, be it only on a finer grid; raises the `NotConverged` of the
    way that came furthest.

    ``searching`` listens to the ways only, and may end them; where it is not given each search has its own limit.
    """
    lost: NotConverged | None = None
    searching = searching or Limited.search(progress, problem, plan)
    for press_home, effort in _ways(problem, neighbour, plan, searching):
        try:
            pressed = press_home()
        except NotConverged as stop:
            lost = _further(lost, stop)
            continue
        for fineness in effort.living(problem.lip) if contracts(problem) else (effort.path,):
            if pressed is None:
                break
            try:
                return go_on(_loaded(problem, pressed, effort, fineness, searching), effort, progress)
            except NotConverged as stop:
                lost = _further(lost, stop)
    assert lost is not None  # a press from first touch is home or raises
    raise lost


def _further(one: NotConverged | None, other: NotConverged) -> NotConverged:
    return other if one is None or other.force_reached >= one.force_reached else one


def _ways(
    problem: Problem, neighbour: Neighbour | None, plan: Effort, progress: Listener
) -> Iterator[tuple[Callable[[], Pressed | None], Effort]]:
    """From a like problem's press, from first touch, and from first touch with care.

    Very soft tissue without stiffening folds up into coarse elements, and then no step is short enough.
    """
    if neighbour is not None:
        fineness = plan.living(problem.lip)[0] if contracts(problem) else plan.answer
        settings = HOME if alive(problem) else BESIDE
        yield partial(neighbour.press, problem, fineness, progress, settings), plan
    # with friction the answer depends on the steps on the way; breath and contraction go on from the path's grid
    plain = problem.load.friction == 0.0 and not alive(problem)
    last = Last(plan.answer, BESIDE) if plain else None
    yield partial(press, problem, plan.path, progress, plan.pace, last=last), plan
    careful = plan.careful
    yield partial(press, problem, careful.path, progress, careful.pace, HOME), careful


def _loaded(
    problem: Problem, pressed: Pressed, plan: Effort, fineness: Fineness, progress: Listener
) -> Readable:
    """Bring breath and contraction in, on a grid of ``fineness``, and go to the coarsest grid that is read."""
    living, had = pressed, pressed.fineness
    if contracts(problem) and (had.largest, had.margin) != (fineness.largest, fineness.margin):
        living = held(problem, pressed, replace(fineness, arc=min(fineness.arc, had.arc)), PRESS, progress, HOME)
    living, contraction = enlivened(problem, living, progress)
    standing = readable(problem, living, final_stage(problem), progress, plan.answer)
    return Readable(problem, pressed, contraction, standing)


def told_and_made_finer(at_first: AtFirst) -> Callable[[Readable, Effort, Listener], tuple[Readable, Refined]]:
    """`made_finer`, ``at_first`` hearing of the first equilibrium before."""

    def go_on(first: Readable, plan: Effort, progress: Listener) -> tuple[Readable, Refined]:
        at_first(first)
        return made_finer(first, plan, progress)

    return go_on


def made_finer(first: Readable, plan: Effort, progress: Listener) -> tuple[Readable, Refined]:
    """``first``, and the grids made finer from it until the peak is accurate enough; raises `NotConverged`."""
    problem, stage = first.problem, final_stage(first.problem)
    refined = refine_until_accurate(problem, first.standing, stage, progress, plan.answer, plan.most_unknowns)
    return first, refined
