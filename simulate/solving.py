"""The main job: from a problem to an outcome."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace

from labrum.simulate.accuracy.errors import with_errors
from labrum.simulate.accuracy.refinement import Refined
from labrum.simulate.living.breath_and_muscle import alive
from labrum.simulate.load_path.press import Listener, Pressed
from labrum.simulate.main_job.answer import outcome_of
from labrum.simulate.main_job.beside import Living, liveliness_of, off_axis_of
from labrum.simulate.main_job.drifts import drift_of
from labrum.simulate.main_job.effort import Counted, Effort, Limited
from labrum.simulate.main_job.neighbour import Neighbour
from labrum.simulate.main_job.ways import AtFirst, Readable, by_some_way, told_and_made_finer, unheard
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged, Problem, Progress

AIM_MET = 2e-3  # relative, of the wanted value, in the answer
AIM_TRIES = 4


def silent(progress: Progress) -> None:
    """Report nothing."""


@dataclass(frozen=True)
class Solved:
    """An outcome, and a press on its way, before breath and contraction: a start for like problems."""

    outcome: Outcome
    pressed: Pressed


def solve(problem: Problem, progress: Listener = silent, plan: Effort | None = None) -> Outcome:
    """Press the rim into the lip with the problem's force and read the measures off.

    Where the problem has an aim in place of a force, the force is found that meets it to 0.2 %.

    Raises
    ------
    NotConverged
        Where no equilibrium was found; it tells the force reached, the likely cause and what to try.
    """
    return solve_near(problem, None, progress, plan).outcome


def solve_near(
    problem: Problem, neighbour: Neighbour | Pressed | None, progress: Listener = silent, plan: Effort | None = None,
    at_first: AtFirst = unheard,
) -> Solved:  # fmt: skip
    """Like `solve`, starting from a like problem's press where there is one and it helps.

    The answer is that of a cold start within the estimated error; with friction, whose answer depends on the
    way, the start is always cold. ``at_first`` hears of the first equilibrium as soon as it is there.
    Raises `NotConverged`.
    """
    return solve_refined(problem, neighbour, progress, plan, at_first)[0]


def solve_refined(
    problem: Problem, neighbour: Neighbour | Pressed | None = None, progress: Listener = silent,
    plan: Effort | None = None, at_first: AtFirst = unheard,
) -> tuple[Solved, Refined]:  # fmt: skip
    """Like `solve_near`, and the last two equilibria with it, for what is asked about the pressed state itself."""
    plan, started, counted = plan or Effort(), time.perf_counter(), Counted(progress)
    near, within = Neighbour.of(neighbour), Limited.whole(counted, problem, plan)
    if problem.load.aim is None:
        solved, refined = _pressed_and_read(problem, near, plan, within, at_first)
    else:
        solved, refined = _pressed_as_wanted(problem, near, plan, within, at_first)
    seconds = time.perf_counter() - started
    outcome = replace(solved.outcome, newton_iterations=counted.iterations, solve_seconds=seconds)
    return replace(solved, outcome=outcome), refined


def _pressed_and_read(
    problem: Problem, neighbour: Neighbour | None, plan: Effort, progress: Listener, at_first: AtFirst
) -> tuple[Solved, Refined]:
    """Solve under the problem's force."""
    if problem.load.friction > 0.0:
        from labrum.simulate.main_job.halved_steps import by_shorter_steps  # no other press loads it

        first, refined = by_shorter_steps(problem, plan, progress, at_first)
    else:
        first, refined = by_some_way(problem, neighbour, plan, progress, told_and_made_finer(at_first))
    warnings = list[str]()
    harder = None if neighbour is None else neighbour.harder
    drift = drift_of(problem, refined.before, refined.finest, progress, warnings, harder)
    living = Living.of(problem, first, plan, progress)
    lively = liveliness_of(problem, refined.finest, warnings)
    if refined.error_percent > problem.accuracy.peak_pressure_percent:
        warnings.append(
            f"the peak's estimated error of {refined.error_percent:.2f} % is above the "
            f"{problem.accuracy.peak_pressure_percent:g} % asked for"
        )
    found = off_axis_of(problem, refined, progress, warnings)
    outcome = outcome_of(problem, refined, drift, living, lively, tuple(warnings))
    if found is not None:
        outcome = replace(outcome, measures=replace(outcome.measures, **found.measures()), off_axis=found)
    outcome = replace(outcome, measures=with_errors(problem, outcome.measures, refined, found))
    start = first.pressed if alive(problem) else replace(refined.before, beyond=drift.pressed)
    return Solved(outcome, start), refined


def _pressed_as_wanted(
    problem: Problem, neighbour: Neighbour | None, plan: Effort, progress: Listener, at_first: AtFirst
) -> tuple[Solved, Refined]:
    """Find the force on grids that can be read, solve under it, and set it right where the finer grid reads otherwise.

    Raises `NotConverged`, also where the answer stays off by more than `AIM_MET`.
    """
    from labrum.simulate.main_job.wanted import force_aimed_at, under_force  # where the force is given it is not loaded

    aim = problem.load.aim
    assert aim is not None
    aimed, near = force_aimed_at(problem, neighbour, plan, progress)
    force = aimed.force
    for _ in range(AIM_TRIES):
        start = Neighbour(near.start)
        solved, refined = _pressed_and_read(under_force(problem, force), start, plan, progress, at_first)
        miss = float(getattr(solved.outcome.measures, aim.measure)) / aim.value - 1.0
        if abs(miss) <= AIM_MET:
            return solved, refined
        force *= math.exp(-miss / aimed.power)
    raise NotConverged(
        force,
        f"{aim.measure} stayed {100.0 * miss:.2f} % off what is wanted: it jumps from force to force",
        "give force_n, or ask for a little more or less",
    )


def first_readable(
    problem: Problem, neighbour: Neighbour | Pressed | None, progress: Listener = silent, plan: Effort | None = None
) -> Readable:
    """The first stage of `solve_near` alone: an equilibrium that can be read, of which nobody has checked the error.

    Raises `NotConverged`.
    """
    plan, near = plan or Effort(), Neighbour.of(neighbour)
    if problem.load.aim is not None:
        from labrum.simulate.main_job.wanted import force_aimed_at

        return force_aimed_at(problem, near, plan, progress)[1]
    return by_some_way(problem, near, plan, progress, lambda first, *_: first)
