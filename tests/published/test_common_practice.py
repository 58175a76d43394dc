"""The trade's rules against the computation. Common practice, no source: teaching and workshop lore, not
measurement.

The rules, their pairs of cases and the bands stand in `labrum.cases.readme.rules`; the numbers that the README prints
are held to what is solved here.
"""

from __future__ import annotations

import math
from functools import cache

import pytest

from labrum.cases.readme.findings import kept_findings
from labrum.cases.readme.rules import BORNE_OUT, NOT_BORNE_OUT, Rule, RuleCase, rule_case
from labrum.cases.readme.tables import DIGITS

pressed = cache(RuleCase.solved)


def held_to_the_readme(rule: Rule) -> float:
    """Ratio of the pair, whose two numbers are those the README prints, to one in the last digit."""
    numbers = tuple(float(getattr(pressed(case), rule.measure)) for case in (rule.first, rule.second))
    found = kept_findings()[rule.says]
    for number, kept in zip(numbers, (found.first, found.second), strict=True):
        last_digit = 10.0 ** (math.floor(math.log10(abs(kept))) - DIGITS + 1)
        assert number == pytest.approx(kept, abs=last_digit), "python -m labrum.cases.readme --solve writes it anew"
    return numbers[1] / numbers[0]


# Every other rule in the fast checks, all with the slow ones: a change of the model that moves any moves most.
@pytest.mark.parametrize(
    "rule",
    [
        pytest.param(rule, marks=pytest.mark.slow if number % 2 else (), id=rule.says)
        for number, rule in enumerate(BORNE_OUT)
    ],
)
def test_the_model_bears_the_rule_out(rule: Rule) -> None:
    low, high = rule.band
    assert not low <= 1.0 <= high, "a band that holds 1 says nothing of the direction"
    assert low < held_to_the_readme(rule) < high


@pytest.mark.slow
@pytest.mark.parametrize("rule", NOT_BORNE_OUT, ids=lambda rule: rule.says)
def test_the_model_does_not_bear_the_rule_out(rule: Rule) -> None:
    """A finding, kept so that a change of the model that brings the rule about is noticed."""
    low, high = rule.band
    assert low < held_to_the_readme(rule) < high


@pytest.mark.slow
def test_width_relieves_thin_and_fleshy_lips_alike() -> None:
    """Thin lips want a wide rim, fleshy lips a narrow one: not for the relief, a finding. The same width buys both
    about as much; when the muscle pulled twice as hard (activation 0.3), it bought the thin lip more."""
    narrow, wide = (
        {lip: pressed(rule_case(lip, width_mm=width)).peak_pressure_kpa for lip in ("thin", "fleshy")}
        for width in (4.0, 5.8)
    )
    relief = {lip: wide[lip] / narrow[lip] for lip in narrow}
    assert relief["thin"] < 0.7
    assert relief["thin"] == pytest.approx(relief["fleshy"], rel=0.06)


def test_extra_width_stops_helping_a_thin_lip() -> None:
    """Its peak falls by a quarter a millimetre from 4.0 to 6.3 mm, and by a few percent a millimetre beyond.

    Where it turns, the peak leaves the bite for the crown: edge over crown passes 1.
    """
    narrow, turn, wide = (pressed(rule_case("thin", width_mm=width)) for width in (4.0, 6.3, 7.2))
    first = 1.0 - (turn.peak_pressure_kpa / narrow.peak_pressure_kpa) ** (1.0 / 2.3)
    last = 1.0 - (wide.peak_pressure_kpa / turn.peak_pressure_kpa) ** (1.0 / 0.9)
    assert first > 0.2
    assert 0.0 < last < 0.3 * first
    assert narrow.edge_to_crown_pressure > 1.2 > 1.0 > wide.edge_to_crown_pressure


@pytest.mark.slow
def test_a_thin_lip_pays_no_less_for_width_than_a_fleshy_one() -> None:
    """A wide rim pins, a fleshy lip above all: the first is borne out, the second is not, a finding: the same width
    costs a thin lip's muscle more of its shortening. At an activation of 0.3 it cost the fleshy one more."""
    freer, wide = (
        {lip: pressed(rule_case(lip, width_mm=width)).muscle_shortening_ratio for lip in ("thin", "fleshy")}
        for width in (4.0, 5.8)
    )
    assert wide["thin"] / freer["thin"] < wide["fleshy"] / freer["fleshy"] < 1.0
