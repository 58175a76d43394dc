"""What a grid leaves undecided, on pressures and backs made for it."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from labrum.cases.case_file.reading import read_case
from labrum.meshes.arrays import Floats
from labrum.simulate import solve
from labrum.simulate.accuracy.undecided import other_hump, touching_in_doubt
from labrum.simulate.equilibrium.traction import Traction
from labrum.simulate.problem import Problem
from labrum.simulate.readings.measures import crest_gap
from tests.studies.designs import drawn

RADII = np.linspace(8.0, 14.0, 61)


def pressed(pressure: Floats, foot: Floats | None = None) -> Traction:
    """A contact of that pressure, touching where there is any."""
    none, place = np.zeros(len(pressure)), np.column_stack([RADII, np.zeros(len(pressure))])
    feet = RADII if foot is None else foot
    return Traction(place, place, feet, none, none, none, pressure, none, pressure, pressure > 0.0)


def humps(second: float) -> Floats:
    """Two parabolas 3 mm apart, the outer ``second`` times as high."""
    first, other = 1.0 - (RADII - 9.5) ** 2, 1.0 - (RADII - 12.5) ** 2
    return np.maximum(0.05, np.maximum(first, second * other))


@pytest.mark.parametrize(("second", "percent", "way"), [(0.985, 1.0, 3.0), (0.975, 1.0, 0.0), (0.975, 1.5, 3.0)])
def test_a_hump_that_comes_within_both_errors_may_be_the_peak(second: float, percent: float, way: float) -> None:
    assert other_hump(pressed(humps(second)), percent) == pytest.approx(way, abs=0.03)


def test_one_hump_has_no_other() -> None:
    assert other_hump(pressed(np.maximum(0.01, 1.0 - 0.1 * (RADII - 11.0) ** 2)), 1.0) == pytest.approx(0.0, abs=0.03)
    assert other_hump(pressed(np.zeros(len(RADII))), 1.0) == 0.0


def demo() -> Problem:
    return read_case("demo").problem


@pytest.mark.parametrize(("past_joint", "doubtful"), [(0.02, True), (-0.02, False)])
def test_pressure_drawn_on_past_the_joint_leaves_the_touch_in_doubt(past_joint: float, doubtful: bool) -> None:
    """The pressure falls linearly inwards over the rim's first nodes and would vanish that far beyond its joint."""
    rim = demo().rim
    foot = rim.cup_end + 0.03 + (RADII - RADII[3])
    pressure = np.where(foot > rim.cup_end, foot - (rim.cup_end - past_joint), 0.0)
    pressure = np.where(np.arange(len(RADII)) < 3, 0.0, pressure)
    assert touching_in_doubt(rim, pressed(pressure, foot), False, 0.012) is doubtful


def test_a_node_past_the_joint_that_is_not_held_to_touch_is_doubtful() -> None:
    rim = demo().rim
    foot = rim.cup_end - 0.02 + (RADII - RADII[0])
    contact = pressed(np.linspace(0.05, 1.0, len(RADII)), foot)
    assert touching_in_doubt(rim, contact, False, 0.012)
    assert not touching_in_doubt(rim, contact, True, 0.012)
    assert touching_in_doubt(rim, contact, True, 0.03)


def test_a_flat_crest_is_placed_between_samples() -> None:
    """Of a parabola sampled every 0.2 mm the way to a sloping wall is found as if it were known everywhere."""
    wall = SimpleNamespace(nearest=lambda at: SimpleNamespace(distance=(at[:, 0] - 2.0) / 2.0))
    rim = cast(Any, SimpleNamespace(curve=wall))
    for shift in (0.0, 0.03, 0.09):
        r = np.arange(3.0, 7.0, 0.2) + shift
        surface = np.column_stack([r, 1.0 - 0.01 * (r - 5.0) ** 2])
        assert crest_gap(rim, surface, 0.0) == pytest.approx(1.5, abs=1e-9)


def test_where_the_cup_may_or_may_not_be_touched_the_error_is_the_whole_way() -> None:
    """A random rim whose pressure ends at the joint: far finer grids touch 0.005 mm of the wall."""
    measures = solve(drawn(np.random.default_rng([5, 34]), friction=False, living=False)).measures
    error = measures.errors["cup_clearance_mm"]
    assert measures.touches_cup is False
    assert error is not None
    assert measures.cup_clearance_mm is not None
    assert error == pytest.approx(measures.cup_clearance_mm, abs=0.01)


def test_where_it_is_plain_that_the_cup_is_not_touched_the_error_is_small() -> None:
    error = solve(drawn(np.random.default_rng([5, 0]), friction=False, living=False)).measures.errors
    assert 0.0 < (error["cup_clearance_mm"] or 0.0) < 0.01


def test_compliance_and_mode_are_read_on_two_grids() -> None:
    measures = solve(replace(demo(), vibration=True)).measures
    for name, least in (("lip_compliance_um_per_kpa", 0.02), ("lip_mode_hz", 0.01)):
        value, error = getattr(measures, name), measures.errors[name]
        assert value is not None
        assert error is not None
        assert least * value - 1e-12 <= error < 0.2 * value
