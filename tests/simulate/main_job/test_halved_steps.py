"""With friction the way counts only for what sticks in the end, and a contracting lip is solved within its budget."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import solve
from labrum.simulate.accuracy.refinement import reading_of
from labrum.simulate.load_path.press import StepLengths
from labrum.simulate.main_job.effort import Effort
from labrum.simulate.main_job.halved_steps import by_shorter_steps
from labrum.simulate.main_job.ways import Readable
from labrum.simulate.problem import Problem, Progress
from labrum.simulate.solving import first_readable, silent


def living(width: float = 5.2, force: float = 20.0, friction: float = 0.15) -> Problem:
    table = {
        "schema": 1, "title": "living", "rim": {"inner_diameter_mm": 16.5, "width_mm": width, "bite_radius_mm": 0.6},
        "lip": {"type": "average", "backing": "sliding", "tooth_gap_radius_mm": 6.0, "opening_radius_mm": 1.5},
        "load": {
            "force_n": force, "mouth_pressure_kpa": 4.0, "friction": friction, "muscle_activation": 0.3,
        },
    }  # fmt: skip
    return case_from_table(table).problem


def stuck(found: Readable) -> int:
    return int(found.standing.equilibrium.state.pairs[0].stuck.sum())


def test_where_nothing_sticks_the_way_does_not_matter() -> None:
    """Then friction is known from the reaction alone; what is left is the scatter between the two ways' grids."""
    problem = living(friction=0.05)
    paces = (StepLengths(), StepLengths().times(0.25))
    ways = [first_readable(problem, None, silent, Effort(pace=pace)) for pace in paces]
    assert [stuck(way) for way in ways] == [0, 0]
    one, other = (way.standing for way in ways)
    assert one.equilibrium.state.travel == pytest.approx(other.equilibrium.state.travel, rel=1e-3)
    assert reading_of(problem.rim, one).peak == pytest.approx(reading_of(problem.rim, other).peak, rel=5e-3)


def presses(problem: Problem, plan: Effort) -> int:
    """How often the rim was pressed home from first touch."""
    starts = list[Progress]()

    def listen(progress: Progress) -> None:
        if progress.stage == "press" and progress.iteration == 0 and progress.sink == 0.0:
            starts.append(progress)

    by_shorter_steps(problem, plan, listen)
    return len(starts)


def test_one_way_is_enough_where_nothing_sticks_and_two_where_work_is_dear() -> None:
    assert presses(living(friction=0.05), Effort()) == 1
    sticking = living(friction=0.3)
    assert presses(sticking, Effort(enough_work=0)) == 2
    assert presses(replace(sticking, accuracy=replace(sticking.accuracy, peak_pressure_percent=50.0)), Effort()) == 3


@pytest.mark.slow
def test_a_narrow_rim_under_a_hard_press_contracts() -> None:
    """It found no equilibrium on halved steps once: what contracts is cut by the rim's arcs now."""
    measures = solve(living(4.0, 40.0)).measures
    assert measures.closing_travel_ratio == pytest.approx(0.855, abs=0.01)
