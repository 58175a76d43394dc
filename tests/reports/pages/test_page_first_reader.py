"""What a first-time reader asks of a report: answered from the measures and their errors, and refused where untold."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labrum.reports.pages.content import RimSheet
from labrum.reports.pages.first_reader import next_questions, rankings_told, unlike
from labrum.simulate.outcome import Outcome


def sheet(outcome: Outcome, name: str, **measures: float) -> RimSheet:
    return RimSheet(name, replace(outcome, measures=replace(outcome.measures, **measures)), {"lip": {"type": name}})


def test_the_better_rim_is_named_with_the_gap_and_the_errors(outcome: Outcome) -> None:
    errors = {**outcome.measures.errors, "peak_pressure_kpa": 0.5}
    pair = [sheet(outcome, "one", peak_pressure_kpa=90.0), sheet(outcome, "two", peak_pressure_kpa=80.0)]
    pair = [replace(s, outcome=replace(s.outcome, measures=replace(s.outcome.measures, errors=errors))) for s in pair]
    cuts, floats, *_ = rankings_told(pair)
    assert cuts.words.startswith("B, by 10 kPa before A; both errors together are 1 kPa")
    assert floats.words.startswith("Cannot be told between A and B")
    assert "not tried" in cuts.rests_on


def test_a_rim_alone_is_not_ranked_but_told_what_to_try(outcome: Outcome) -> None:
    one = [sheet(outcome, "one")]
    assert rankings_told(one) == ()
    (text,) = next_questions(one)
    assert "this rim" in text


@pytest.mark.parametrize(("share", "words"), [(0.02, "rounder bite"), (0.5, "on the face"), (0.98, "shoulder")])
def test_what_to_try_follows_where_the_peak_stands(outcome: Outcome, share: float, words: str) -> None:
    m = outcome.measures
    radius = m.contact_inner_radius_mm + share * (m.contact_outer_radius_mm - m.contact_inner_radius_mm)
    assert words in next_questions([sheet(outcome, "one", peak_radius_mm=radius)])[0]


def test_cases_that_differ_in_more_than_the_rim_are_told(outcome: Outcome) -> None:
    assert unlike([sheet(outcome, "thin"), sheet(outcome, "fleshy")]) == ("lip",)
    assert unlike([sheet(outcome, "thin"), sheet(outcome, "thin")]) == ()
