"""Every number of a result comes with its error, and the errors hold against far finer grids.

Coverage over hundreds of random designs: ``python -m tests.studies.errors``.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from labrum.cases.case_file.reading import case_from_table, read_case
from labrum.cases.exploring.tables import tables_of
from labrum.simulate import solve
from labrum.simulate.accuracy.refinement import ANSWER
from labrum.simulate.measures.catalogue import CATALOGUE, OFF_AXIS, Measures
from labrum.simulate.postures.asked import Posture
from labrum.simulate.problem import Accuracy, Problem
from labrum.simulate.solving import Effort


def demo(**load: float) -> Problem:
    table = tables_of(read_case("demo"))
    return case_from_table(table | {"load": table["load"] | load}).problem


@pytest.fixture(scope="module")
def pressed() -> Measures:
    return solve(demo()).measures


def test_errors_stand_for_just_the_numbers_there_are(pressed: Measures) -> None:
    assert list(pressed.errors) == list(CATALOGUE)
    for name, measure in CATALOGUE.items():
        there = getattr(pressed, name) is not None and measure.error is not None
        assert (pressed.errors[name] is not None) == there, name
    assert all(error > 0.0 for error in pressed.errors.values() if error is not None)


def test_the_peaks_is_its_percentage_in_kilopascals(pressed: Measures) -> None:
    share = 0.01 * pressed.peak_pressure_error_percent
    assert pressed.errors["peak_pressure_kpa"] == pytest.approx(share * pressed.peak_pressure_kpa)


def test_they_bound_what_far_finer_grids_change(pressed: Measures) -> None:
    exact = replace(demo(), accuracy=Accuracy(0.1))
    finer = solve(exact, plan=Effort(answer=ANSWER.sharper().sharper())).measures
    told = [name for name, error in pressed.errors.items() if error is not None]
    off = {name: abs(getattr(pressed, name) - getattr(finer, name)) for name in told}
    assert [name for name in told if off[name] > (pressed.errors[name] or 0.0)] == []


@pytest.mark.slow
@pytest.mark.parametrize("friction", [0.0, 0.2])
def test_off_axis_too(friction: float) -> None:
    posed = replace(demo(friction=friction), posture=Posture(0.5, 60.0, 0.1, 0.05))
    told = solve(posed).measures
    finer = solve(replace(posed, accuracy=Accuracy(0.15)), plan=Effort(answer=ANSWER.sharper().sharper())).measures
    names = [name for name, one in CATALOGUE.items() if one.heading == OFF_AXIS and told.errors[name] is not None]
    off = {name: abs(getattr(told, name) - getattr(finer, name)) for name in names}
    assert len(names) >= 15
    assert [name for name in names if off[name] > (told.errors[name] or 0.0)] == []


def test_with_friction_the_way_is_part_of_them() -> None:
    rubbed = solve(demo(friction=0.3)).measures
    assert rubbed.errors["sticking_share"] is not None
    assert all(error > 0.0 for error in rubbed.errors.values() if error is not None)
