"""The margin of an opening that the muscle squeezes: how its grid is graded, and that such lips get there in time."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import NotConverged, solve
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.build import resting_grid
from labrum.simulate.main_job.effort import BESIDE_UNKNOWNS, Effort
from labrum.simulate.problem import Problem, Progress
from tests.studies.designs import drawn_alive


def contracting() -> Problem:
    table = {
        "schema": 1, "title": "margin", "rim": {"inner_diameter_mm": 16.5, "width_mm": 5.2},
        "lip": {"type": "average", "backing": "sliding", "opening_radius_mm": 1.5},
        "load": {"force_n": 20.0, "muscle_activation": 0.3},
    }  # fmt: skip
    return case_from_table(table).problem


def test_elements_grow_gently_from_the_margin_of_an_opening() -> None:
    """No line's interval is longer than the margin's length and the growth over the way to it, along either face."""
    problem = contracting()
    fine = Effort().living(problem.lip)[0]
    grid = resting_grid(problem, fine)
    for lines in (grid.columns - grid.columns[0], grid.rows - grid.rows[0]):
        lengths = np.diff(lines)
        assert np.all(lengths <= 1.05 * (fine.margin + fine.margin_growth * lines[1:]))
        assert lengths[0] < 1.2 * fine.margin
    plain = resting_grid(problem, Fineness())
    assert np.diff(plain.columns)[0] > 2.0 * fine.margin, "nothing asks for that without a contraction"


def test_a_finer_margin_can_be_left_out_of_a_finer_grid() -> None:
    fine = Effort().living(contracting().lip)[0]
    kept = fine.sharper().with_margin_of(fine)
    assert (kept.margin, kept.margin_growth) == (fine.margin, fine.margin_growth)
    assert kept.largest == fine.sharper().largest < fine.largest


def test_all_that_a_contracting_lip_is_given_is_limited() -> None:
    """Ways, grids, drift and the lip without a rim share one budget: what has no answer is refused in good time."""
    done: list[int] = []

    def hear(progress: Progress) -> None:
        done.append(progress.unknowns + BESIDE_UNKNOWNS)

    solve(contracting(), hear)
    whole = sum(done)
    done.clear()
    with pytest.raises(NotConverged, match="more iterations than are worth while"):
        solve(contracting(), hear, Effort(most_answer_work=int(0.9 * whole)))
    assert sum(done) <= 0.9 * whole


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "which"), [(62, 19), (63, 21), (63, 124)])
def test_lips_whose_margin_is_squeezed_on_the_teeth_get_there(seed: int, which: int) -> None:
    """Random designs that took up to 5 million of work, or were lost, when the margin's elements grew faster."""
    work: list[int] = []

    def hear(progress: Progress) -> None:
        work.append(progress.unknowns + BESIDE_UNKNOWNS)

    _, problem = drawn_alive(np.random.default_rng([seed, which]))
    found = solve(problem, hear).measures
    assert found.closing_travel_ratio is not None
    assert 0.8 < found.closing_travel_ratio < 1.1
    assert sum(work) < 4_000_000
