"""With friction: the steps on the way halved until they no longer matter."""

from __future__ import annotations

from dataclasses import replace

from labrum.simulate.accuracy.refinement import SHARE_GRID_WITH_FRICTION, Refined, way_error_percent
from labrum.simulate.load_path.press import Listener
from labrum.simulate.main_job.effort import Effort, Limited
from labrum.simulate.main_job.ways import Readable, by_some_way, made_finer
from labrum.simulate.problem import NotConverged, Problem

MOST_HALVINGS = 5


def by_shorter_steps(problem: Problem, plan: Effort, progress: Listener) -> tuple[Readable, Refined]:
    """Press with friction: by steps halved until what that changes lets the estimate meet what is asked.

    Slip adds up along the way, so the answer depends on the steps as on the grid; both are in the estimate.
    """
    searching = Limited(progress, problem, plan)

    def standing(plan: Effort) -> Readable:
        return by_some_way(problem, None, plan, progress, lambda first, *_: first, searching)

    here = standing(plan)
    for shorter in range(1, MOST_HALVINGS + 1):
        before, plan = here, plan.halved
        try:
            here = standing(plan)
        except NotConverged:
            if shorter <= plan.fewest_halvings:
                raise
            break  # what the last halving moved is the estimate then
        ways = before.standing, here.standing
        moved = way_error_percent(problem.rim, *ways)
        if shorter >= plan.fewest_halvings and moved <= 0.5 * problem.accuracy.peak_pressure_percent:
            break
    first, refined = made_finer(here, plan, progress)
    both = SHARE_GRID_WITH_FRICTION * refined.grid_percent + moved
    return first, replace(refined, error_percent=max(refined.error_percent, both), ways=ways)
