"""With friction: the steps on the way halved until they no longer matter.

Slip adds up along the way, so the answer depends on the steps as on the grid; both are in the estimate. A press goes by
steps of second order (`labrum.simulate.contact.signorini.caught_up`), and what steps of first order would have changed
tells what they leave open: one way is mostly enough. Contraction turns slip back and forth, which no order helps: there
ways with ever shorter steps are compared. Only what sticks in the end remembers the way: where a contraction leaves
nothing sticking, friction is the reaction times its coefficient at every node, and one way is enough.
"""

from __future__ import annotations

from dataclasses import replace

from labrum.simulate.accuracy.refinement import BESIDE, SHARE_GRID_WITH_FRICTION, Refined, way_error_percent
from labrum.simulate.equilibrium.newton import StepFailedError
from labrum.simulate.living.breath_and_muscle import contracts, final_stage
from labrum.simulate.load_path.advice import advice
from labrum.simulate.load_path.press import Listener, Pressed, of_first_order
from labrum.simulate.main_job.effort import Effort, Limited
from labrum.simulate.main_job.ways import AtFirst, Readable, by_some_way, made_finer, unheard
from labrum.simulate.problem import NotConverged, Problem

MOST_HALVINGS = 5
LONGER_WAY = 2.0  # what a way takes over the one with steps twice as long, at most


def by_shorter_steps(
    problem: Problem, plan: Effort, progress: Listener, at_first: AtFirst = unheard
) -> tuple[Readable, Refined]:
    """Press with friction: by steps halved until what they leave open lets the estimate meet what is asked.

    ``at_first`` hears where the first way ends.

    It also ends, with the estimate it has, where the next way would be more work than a contracting lip is given.
    """
    here, ways, moved = _standing(problem, plan, progress, at_first)
    first, refined = made_finer(here, plan, progress)
    both = SHARE_GRID_WITH_FRICTION * refined.grid_percent + moved
    return first, replace(refined, error_percent=max(refined.error_percent, both), ways=ways)


def _standing(
    problem: Problem, plan: Effort, progress: Listener, at_first: AtFirst
) -> tuple[Readable, tuple[Pressed, Pressed] | None, float]:
    """The end of the last way, two ends that tell what the steps matter, if there are, and the percent by which that
    leaves the peak open.
    """
    by = _by_many_ways if contracts(problem) else _by_two_orders
    return by(problem, plan, progress, at_first)


def _by_two_orders(
    problem: Problem, plan: Effort, progress: Listener, at_first: AtFirst
) -> tuple[Readable, tuple[Pressed, Pressed], float]:
    """Press by steps of second order, halved until what the first order would change is little."""
    searching, plan = Limited.search(progress, problem, plan), plan.rubbing
    found: tuple[Readable, tuple[Pressed, Pressed], float] | None = None
    for halvings in range(MOST_HALVINGS + 1):
        try:
            here = by_some_way(problem, None, plan, progress, _first, searching)
            if halvings == 0:
                at_first(here)
            ways = _lower_order(problem, here, searching), here.standing
        except NotConverged:
            if found is None:
                raise
            break  # what the last way left open is the estimate then
        moved = way_error_percent(problem.rim, *ways)
        found = here, ways, moved
        if moved <= 0.5 * problem.accuracy.peak_pressure_percent:
            break
        plan = plan.halved
    assert found is not None
    return found


def _lower_order(problem: Problem, here: Readable, listener: Listener) -> Pressed:
    standing = here.standing
    try:
        return of_first_order(problem, standing, final_stage(problem), listener, BESIDE)
    except StepFailedError as failure:
        raise NotConverged(
            standing.equilibrium.force, f"what the steps leave open could not be told ({failure})",
            advice(problem, standing.equilibrium.force), standing.history,
        ) from failure


def _by_many_ways(
    problem: Problem, plan: Effort, progress: Listener, at_first: AtFirst
) -> tuple[Readable, tuple[Pressed, Pressed] | None, float]:
    """Contract by steps halved until they no longer matter, or until that is too much work."""
    searching = Limited.search(progress, problem, plan)
    here, ways, moves = by_some_way(problem, None, plan, progress, _first, searching), None, list[float]()
    at_first(here)
    if not _sticks(here.standing):
        return here, None, 0.0
    way = searching.spent
    while len(moves) < MOST_HALVINGS and not _settled(problem, plan, moves):
        if moves and searching.spent + LONGER_WAY * way > plan.enough_work:
            break
        before, plan, spent = here, plan.halved, searching.spent
        try:
            here = by_some_way(problem, None, plan, progress, _first, searching)
        except NotConverged:
            if not moves:
                raise
            break  # what the last halving moved is the estimate then
        way, ways = searching.spent - spent, (before.standing, here.standing)
        moves.append(way_error_percent(problem.rim, *ways))
    return here, ways, _moved(moves)


def _settled(problem: Problem, plan: Effort, moves: list[float]) -> bool:
    return len(moves) >= plan.fewest_halvings and _moved(moves) <= 0.5 * problem.accuracy.peak_pressure_percent


def _moved(moves: list[float]) -> float:
    """What is left open: what one of the last two halvings moved, as contraction scatters them."""
    return max(moves[-2:])


def _first(first: Readable, *_: object) -> Readable:
    return first


def _sticks(pressed: Pressed) -> bool:
    """Does any node stick to the rim?"""
    return bool(pressed.equilibrium.state.pairs[0].stuck.any())
