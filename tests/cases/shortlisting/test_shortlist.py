"""The shortlist: what is asked of a sheet, the shop's steps, the forecast, the choice, and one player whole."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from labrum.cases.player.sheet import Sheet
from labrum.cases.player.slopes import changed_rim
from labrum.cases.shortlisting.choosing import (
    BOLDEST,
    Field,
    balanced,
    boldest,
    holding_back,
    least_change,
    quantity_of,
)
from labrum.cases.shortlisting.dials import ShopStep, dials_of, place_of, turned_rim
from labrum.cases.shortlisting.forecast import Forecast, Quantity, forecast_from
from labrum.cases.shortlisting.kept import SHORTLIST_SCHEMA, kept_faults
from labrum.cases.shortlisting.told import soft_words, worse_at_soft
from labrum.cases.shortlisting.wanted import RESTRAINTS, Restraint, Want, brief_of
from tests.some_measures import some_measures
from tests.studies.players import directions, players, sheet_of, shortlisted, trades_way

SHOP = ShopStep.read("0.05")
PLAYER = players()[0]


def test_what_is_wanted_is_not_held_the_same_way() -> None:
    brief = brief_of(Sheet("s", "trumpet", complaints=("cuts", "feels small"), wishes=("keep the diameter",)))
    assert [want.measure for want in brief.wants] == ["peak_pressure_kpa", "felt_diameter_mm"]
    felt = {one.sign: one.amount for one in brief.restraints if one.measure == "felt_diameter_mm"}
    assert felt == {-1.0: 0.25, 1.0: 0.5}
    assert brief.held == {"inner_diameter_mm": "keep the diameter"}


def test_what_is_wanted_is_held_on_its_own_terms() -> None:
    pinned = {one.measure: one for one in brief_of(Sheet("s", "tuba", complaints=("pins",))).restraints}
    assert (pinned["bearing_area_mm2"].amount, pinned["contact_inner_radius_mm"].sign) == (0.15, -1.0)
    assert set(pinned) == {"contact_inner_radius_mm", *(one.measure for one in RESTRAINTS)}
    same = brief_of(Sheet("s", "tuba", complaints=("pins",), wishes=("keep the feel",))).restraints
    assert [(one.amount, one.share) for one in same if one.measure == "felt_diameter_mm"] == [(0.1, False)]


def test_with_nothing_said_of_it_everything_is_held() -> None:
    brief = brief_of(Sheet("s", "trumpet", wishes=("keep the feel",)))
    assert len(brief.restraints) == len(RESTRAINTS)
    assert next(one.amount for one in brief.restraints if one.measure == "felt_diameter_mm") == 0.1


@pytest.mark.parametrize(("text", "mm"), [("0.05", 0.05), ("0.1mm", 0.1), ("0.001in", 0.0254), (".002 inch", 0.0508)])
def test_a_shops_step(text: str, mm: float) -> None:
    assert ShopStep.read(text).mm == pytest.approx(mm)


@pytest.mark.parametrize("text", ["", "0", "2", "0.05cm", "-0.1"])
def test_no_shops_step(text: str) -> None:
    with pytest.raises(ValueError, match="a length"):
        ShopStep.read(text)


def test_changed_dimensions_are_the_shops_and_the_rest_stays() -> None:
    sheet, rim = sheet_of(PLAYER)
    dials = dials_of(sheet, rim, {"inner_diameter_mm": "keep the diameter"})
    assert "inner_diameter_mm" not in [dial.key for dial in dials]
    rng = np.random.default_rng(1)
    for place in rng.uniform(-1.5, 1.5, (50, len(dials))):
        changes = turned_rim(rim, dials, place, SHOP)
        drawn = changed_rim(rim, changes)
        for key, value in changes.items():
            length = value if key != "high_point" else value * changes.get("width_mm", rim.table["width_mm"])
            assert math.remainder(length, 0.05) == pytest.approx(0.0, abs=1e-5)
        if drawn is not None:
            same = {key for key in rim.table if drawn.table[key] == rim.table[key]}
            assert same >= set(rim.table) - set(changes)
    assert turned_rim(rim, dials, np.zeros(len(dials)), SHOP) == {}


def test_a_dial_finds_its_place_again_within_its_range() -> None:
    sheet, rim = sheet_of(PLAYER)
    for dial in dials_of(sheet, rim, {}):
        assert dial.low <= dial.now <= dial.high
        for value in np.linspace(dial.low, dial.high, 5):
            assert dial.value(dial.place(float(value))) == pytest.approx(value)


def test_a_forecast_goes_through_what_was_solved_and_learns_exactly() -> None:
    felt, peak = Quantity("felt_diameter_mm", False), Quantity("peak_pressure_kpa", True)
    now = some_measures(felt_diameter_mm=20.0, peak_pressure_kpa=100.0)
    near = [(u, replace(now, felt_diameter_mm=20.0 + u + 0.3 * u**2, peak_pressure_kpa=100.0 * math.exp(-0.2 * u)))
            for u in (-1.0, 0.8)]  # fmt: skip
    forecast = forecast_from((felt, peak), now, [near, []])
    places = np.array([[-1.0, 0.0], [0.8, 0.0], [0.5, 0.0]])
    assert forecast.changes(places)[:, 0] == pytest.approx([-0.7, 0.992, 0.575])
    assert forecast.changes(places)[:, 1] == pytest.approx([0.2, -0.16, -0.1])
    place = np.array([1.4, -0.6])
    learnt = forecast.corrected(place, {felt: 0.123})
    assert learnt.changes(place[None])[0, 0] == pytest.approx(0.123)
    across = np.array([[0.6, 1.4]])  # Broyden's update leaves what is at right angles to the step
    assert learnt.changes(across) == pytest.approx(forecast.changes(across))


def straight_field(restraints: tuple[Restraint, ...]) -> Field:
    """A field whose answers are known: the peak's logarithm falls by 0.1 a step of width, closing by 0.02."""
    sheet, rim = sheet_of(PLAYER)
    dials = tuple(dial for dial in dials_of(sheet, rim, {}) if dial.key in ("width_mm", "bite_radius_mm"))
    want = Want("cuts", "peak_pressure_kpa", -1.0, 0.10, share=True)
    quantities = tuple(quantity_of(one) for one in (want, *restraints))
    slope = np.array([[-0.10, -0.05], *[[-0.02, 0.0]] * len(restraints)])
    return Field(rim, dials, (want,), restraints, Forecast(quantities, slope, np.zeros_like(slope)), SHOP)


def test_three_rims_from_the_least_change_to_the_boldest() -> None:
    where = straight_field(())
    bold = boldest(where)
    least = least_change(where, bold.relief)
    middle = balanced(where, least.relief, bold.relief)
    assert least.relief < middle.relief < bold.relief
    assert len(least.changes) <= len(bold.changes)
    assert place_of(where.dials, bold.changes) == pytest.approx([d.place(d.high) for d in where.dials], abs=0.15)


def test_the_limit_that_binds_is_named() -> None:
    """Width costs 0.02 of closing a step: at 0.02 allowed, with a tenth to spare, it goes 0.9 of a step."""
    closing = Restraint("closing_travel_ratio", -1.0, 0.02)
    where = straight_field((closing,))
    bold = boldest(where)
    assert place_of(where.dials, bold.changes)[0] == pytest.approx(0.9, abs=0.1)
    told = [one.words for one in holding_back(where, bold)]
    assert closing.words() in told


def test_a_forecast_is_believed_near_the_rims_it_was_learnt_from() -> None:
    """One rim solved, the present one: the boldest is no more than a step and a half away, along the steepest way."""
    where = replace(straight_field(()), solved=np.zeros((1, 2)))
    assert where.beyond_trust(np.array([[1.5, 0.0], [0.0, 2.0], [3.0, 4.0]])) == pytest.approx([0.0, 0.5, 3.5])
    place = place_of(where.dials, boldest(where).changes)
    assert np.hypot(*place) == pytest.approx(1.5, abs=0.1)


def test_a_kept_shortlist_is_read_with_every_fault() -> None:
    assert [fault.key for fault in kept_faults([])] == ["schema"]
    faults = kept_faults({"schema": SHORTLIST_SCHEMA, "rims": [{}, 3]})
    assert {"instrument", "rims[0].kind", "rims[1]"} <= {fault.key for fault in faults}


def test_what_gets_worse_at_soft_is_said() -> None:
    def played(**changed: float) -> Any:
        return SimpleNamespace(outcome=SimpleNamespace(force_n=5.0, measures=some_measures(**changed)))

    found: Any = SimpleNamespace(present_soft=played(peak_pressure_kpa=20.0, bearing_area_mm2=200.0))
    rim: Any = SimpleNamespace(soft=played(peak_pressure_kpa=30.0, bearing_area_mm2=260.0))
    assert worse_at_soft(rim, found) == ("peak_pressure_kpa",)
    assert soft_words(rim, found) == "at soft, 5 N, worse beyond the errors: peak pressure 20 -> 30 kPa"
    same: Any = SimpleNamespace(soft=found.present_soft)
    assert soft_words(same, found) == "at soft, 5 N, nothing told is worse"
    lost: Any = SimpleNamespace(soft=None)
    assert "no equilibrium" in soft_words(lost, found)


@pytest.mark.slow
@pytest.mark.parametrize("player", players(), ids=lambda one: one["alias"])
def test_a_shortlist_goes_the_trades_way(player: dict[str, Any]) -> None:
    """Common practice, no source: the boldest goes a player's way, no rim against it, and every one relieves."""
    found = shortlisted(player, lips=2)
    assert BOLDEST in [one.kind for one in found.listed]
    ways = {one.kind: trades_way(directions(one, found), player["expected"]) for one in found.listed}
    assert ways[BOLDEST] is True
    assert False not in ways.values()
    assert min(one.relief for one in found.listed) > 0.0
