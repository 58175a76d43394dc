"""Differences between rims: marked where they are clear, and called lasting only where they are."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from labrum.reports.pages.content import NoSolution, RimSheet, Softened
from labrum.reports.pages.differences import clear_sign, difference, orders_kept, range_columns, ranges, times
from labrum.simulate.measures.catalogue import CATALOGUE, Measures
from labrum.simulate.outcome import Outcome


def measures(outcome: Outcome, **values: Any) -> Measures:
    return replace(outcome.measures, peak_pressure_error_percent=0.4, **values)


def sheet(outcome: Outcome, name: str, sinks: tuple[float, float, float]) -> RimSheet:
    """A rim of which the lip's stiffness changes only the sink: soft, as given, stiff."""
    soft, given, stiff = (measures(outcome, sink_mm=sink) for sink in sinks)
    return RimSheet(name, replace(outcome, measures=given), {}, softened=(Softened(0.5, soft), Softened(2.0, stiff)))


@pytest.mark.parametrize(("b", "sign"), [(21.7, 0), (21.715, 0), (21.73, 1), (21.67, -1)])
def test_what_lies_within_both_errors_is_no_difference(outcome: Outcome, b: float, sign: int) -> None:
    told = {"felt_diameter_mm": 0.01}
    one, other = (measures(outcome, felt_diameter_mm=value, errors=told) for value in (21.7, b))
    assert clear_sign("felt_diameter_mm", one, other) == sign
    assert clear_sign("felt_diameter_mm", other, one) == -sign


def test_peaks_must_differ_by_more_than_their_errors(outcome: Outcome) -> None:
    one = replace(outcome.measures, peak_pressure_kpa=100.0, peak_pressure_error_percent=3.0)
    other = replace(one, peak_pressure_kpa=105.0)
    assert clear_sign("peak_pressure_kpa", one, other) == 0
    assert clear_sign("peak_pressure_kpa", one, replace(other, peak_pressure_error_percent=1.0)) == 1


def test_changes_are_told_in_percent_and_drifts_in_mm(outcome: Outcome) -> None:
    one = measures(outcome, sink_mm=2.0, felt_drift_mm_per_10n=0.05)
    assert difference("sink_mm", one, measures(outcome, sink_mm=3.0)).words == "+50 %"
    assert difference("sink_mm", one, measures(outcome, sink_mm=1.0)).words == "−50 %"
    assert difference("sink_mm", one, replace(one, sink_mm=2.03)).words == "+1.5 %"
    assert difference("felt_drift_mm_per_10n", one, replace(one, felt_drift_mm_per_10n=0.055)).words == ""
    assert difference("felt_drift_mm_per_10n", one, replace(one, felt_drift_mm_per_10n=0.15)).words == "+0.1 mm"


def test_a_fact_differs_or_does_not(outcome: Outcome) -> None:
    one = measures(outcome, touches_cup=False, closing_travel_ratio=None)
    assert difference("touches_cup", one, replace(one, touches_cup=True)).words == "differs"
    assert difference("touches_cup", one, one).words == ""
    assert difference("closing_travel_ratio", one, replace(one, closing_travel_ratio=0.5)).words == "differs"


def test_a_measure_without_an_error_is_not_marked(outcome: Outcome, monkeypatch: pytest.MonkeyPatch) -> None:
    one, other = measures(outcome, sink_mm=1.0), measures(outcome, sink_mm=9.0)
    assert difference("sink_mm", one, other).words
    monkeypatch.setitem(CATALOGUE, "sink_mm", replace(CATALOGUE["sink_mm"], error=None))
    assert difference("sink_mm", one, other).words == ""


def test_an_order_that_stays_holds(outcome: Outcome) -> None:
    found = {c.label: c for c in orders_kept([sheet(outcome, "x", (4, 3, 2)), sheet(outcome, "y", (3, 2, 1))])}
    assert found["sink"].holds
    assert found["sink"].words == "from most to least: A, B"


def test_an_order_that_turns_does_not_hold(outcome: Outcome) -> None:
    found = {c.label: c for c in orders_kept([sheet(outcome, "x", (4, 3, 1)), sheet(outcome, "y", (3, 2, 2))])}
    assert not found["sink"].holds
    assert found["sink"].words == "A and B change places at double the stiffness"


def test_an_order_that_fades_does_not_hold(outcome: Outcome) -> None:
    found = {c.label: c for c in orders_kept([sheet(outcome, "x", (4, 3, 2)), sheet(outcome, "y", (4, 2, 1))])}
    assert found["sink"].words == "A and B no longer differ clearly at half the stiffness"


def test_a_solve_that_stopped_leaves_the_order_unknown(outcome: Outcome) -> None:
    one, other = sheet(outcome, "x", (4, 3, 2)), sheet(outcome, "y", (3, 2, 1))
    stopped = replace(other, softened=(Softened(0.5, NoSolution(1.0, "c", "a")), other.softened[1]))
    found = {c.label: c for c in orders_kept([one, stopped])}
    assert found["sink"].words == "A and B: not known at half the stiffness"


def test_without_another_stiffness_nothing_is_concluded(outcome: Outcome) -> None:
    bare = RimSheet("x", outcome, {})
    assert orders_kept([bare, bare]) == ()


def test_ranges_run_from_soft_to_stiff(outcome: Outcome) -> None:
    found = {r.label: r.values for r in ranges(sheet(outcome, "x", (4.0, 3.0, 2.0)))}
    assert found["sink"] == ("4", "3", "2")


def test_a_difference_is_coloured_only_where_one_side_is_better(outcome: Outcome) -> None:
    one = measures(outcome, peak_pressure_kpa=80.0, bearing_area_mm2=300.0, sink_mm=2.0)
    for name, value, look in (
        ("peak_pressure_kpa", 160.0, "worse"), ("peak_pressure_kpa", 40.0, "better"),
        ("bearing_area_mm2", 600.0, "better"), ("sink_mm", 4.0, "even"),
    ):  # fmt: skip
        assert difference(name, one, replace(one, **{name: value})).look == look


def test_ranges_name_what_is_varied_alone_and_leave_both_at_once_to_the_order(outcome):
    lips = [(f, r) for f in (0.5, 1.0, 2.0) for r in (None, 0.05, 0.5)]
    sheet = RimSheet("A", outcome, {}, softened=tuple(Softened(f, outcome.measures, r) for f, r in lips))
    words = [name for name, _ in range_columns(sheet)]
    assert words == ["half the stiffness", "as given", "double the stiffness", "friction 0.05", "friction 0.5"]
    assert times(Softened(2.0, outcome.measures, 0.5)) == "double the stiffness, friction 0.5"
    assert {len(row.values) for row in ranges(sheet)} == {5}
