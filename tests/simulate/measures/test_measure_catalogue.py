"""The catalogue of measures: complete, of one piece with the types, and enough for every page that draws on it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labrum.simulate.measures.catalogue import CATALOGUE, ERROR_OF_PEAK, GROUPS
from labrum.simulate.measures.declaration import DEEP_MM, Better, Evidence, FromMovement, Measure, ShareOfPeakError

UNITS = {"kPa": "_kpa", "mm": "_mm", "mm2": "_mm2", "mm3": "_mm3", "N/mm": "_n_per_mm", "%": "_percent",
         "deg": "_deg", "Nmm/deg": "_nmm_per_deg", "%/deg": "_percent_per_degree", "Hz": "_hz",
         "um/kPa": "_um_per_kpa"}  # fmt: skip
EACH = pytest.mark.parametrize("measure", CATALOGUE.values(), ids=CATALOGUE)


@EACH
def test_the_unit_stands_in_the_name(measure: Measure) -> None:
    if measure.unit:
        assert f"{UNITS[measure.unit]}_" in f"{measure.name}_"
    else:
        assert not any(f"{ending}_" in f"{measure.name}_" for ending in UNITS.values())


@EACH
def test_when_it_is_absent_is_said_just_where_it_may_be(measure: Measure) -> None:
    assert bool(measure.absent) == measure.optional


@EACH
def test_every_number_has_an_error_and_no_fact_has_one(measure: Measure) -> None:
    assert (measure.error is None) == (measure.fact or measure.name == ERROR_OF_PEAK)


@EACH
def test_its_words_fit_a_line_of_a_terminal(measure: Measure) -> None:
    assert 0 < len(measure.label) <= 19
    assert 0 < len(measure.words) <= 80


def test_every_measure_is_shown_once_the_peaks_error_beside_the_peak() -> None:
    shown = [measure.name for _, measures in GROUPS for measure in measures]
    assert sorted([*shown, ERROR_OF_PEAK]) == sorted(CATALOGUE)
    assert len({heading for heading, _ in GROUPS}) == len(GROUPS), "a heading's measures stand together"


def test_the_two_ways_of_estimating_an_error() -> None:
    """By hand: 0.8 of 2 % of 50 is 0.8, of -50 too; what was not seen to move has its floor."""
    assert ShareOfPeakError(0.8).of(Evidence(value=50.0, peak_percent=2.0)) == pytest.approx(0.8)
    assert ShareOfPeakError(0.8).of(Evidence(value=-50.0, peak_percent=2.0)) == pytest.approx(0.8)
    fixed = FromMovement(size=0.01)
    assert fixed.of(Evidence(value=50.0, peak_percent=2.0)) == 0.01
    assert fixed.of(Evidence(value=-3.0, peak_percent=9.0)) == 0.01


def test_what_moved_counts_once_it_is_more_than_the_floor() -> None:
    """By hand: 2 x 0.03 + 3 x 0.01 = 0.09, over floors of 0.02 and of 1 % of 5 doubled by friction."""
    estimate = FromMovement(size=0.02, share=0.01, grids=2.0, steps=3.0, alive=0.5, rubs=2.0)
    seen = Evidence(value=-5.0, peak_percent=1.0, rubs=True)
    assert estimate.of(seen) == pytest.approx(0.1)
    assert estimate.of(replace(seen, grids=0.03, steps=0.01)) == pytest.approx(0.1)
    assert estimate.of(replace(seen, grids=0.06, steps=0.01)) == pytest.approx(0.15)
    assert estimate.of(replace(seen, rubs=False, alive=True)) == pytest.approx(0.025)
    assert estimate.of(replace(seen, alive=True)) == pytest.approx(0.1)


def test_a_floor_of_both_stands_for_that_of_either_and_one_for_an_inverse_goes_with_the_square() -> None:
    """By hand: breath doubles 0.02, friction trebles it, both take seven times it; 0.01 of 5 squared is 0.25."""
    seen = Evidence(value=5.0, peak_percent=1.0, alive=True, rubs=True)
    estimate = FromMovement(size=0.02, alive=2.0, rubs=3.0)
    assert estimate.of(seen) == pytest.approx(0.06), "the larger where nothing is said of both"
    estimate = replace(estimate, both=7.0)
    assert estimate.of(seen) == pytest.approx(0.14)
    assert estimate.of(replace(seen, rubs=False)) == pytest.approx(0.04)
    assert estimate.of(replace(seen, alive=False)) == pytest.approx(0.06)
    assert FromMovement(size=0.2, square=0.01).of(replace(seen, value=-5.0)) == pytest.approx(0.25)


def test_a_floor_grows_with_the_sink_once_that_is_more_than_friction_makes_of_it() -> None:
    """By hand: pressed in by twice `DEEP_MM`, the power of two makes 4 of 1; friction's 3 is less, its 5 more."""
    seen = Evidence(value=1.0, peak_percent=1.0, rubs=True, sink=2.0 * DEEP_MM)
    assert FromMovement(size=0.02, rubs=3.0, deep=2.0).of(seen) == pytest.approx(0.08)
    assert FromMovement(size=0.02, rubs=5.0, deep=2.0).of(seen) == pytest.approx(0.1)
    assert FromMovement(size=0.02, deep=2.0).of(replace(seen, sink=0.5 * DEEP_MM)) == pytest.approx(0.02)
    assert FromMovement(size=0.02).of(seen) == pytest.approx(0.02)


def test_better_is_a_sign() -> None:
    assert [CATALOGUE[name].better.value for name in ("bearing_area_mm2", "peak_pressure_kpa", "sink_mm")] == [1, -1, 0]
    assert Better(0) is Better.NEITHER


def test_an_axis_has_the_unit_in_brackets_and_a_ratio_none() -> None:
    assert CATALOGUE["bearing_area_mm2"].axis_label == "bearing area (mm²)"
    assert CATALOGUE["closing_travel_ratio"].axis_label == "closing travel"
