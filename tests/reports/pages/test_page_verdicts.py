"""The plain words: the same word for the same number, and the number always beside it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from labrum.reports.pages.verdicts import peak_in_words, verdicts
from labrum.simulate.conclusions.questions import conclusions
from labrum.simulate.conclusions.robustness import Trial
from labrum.simulate.conclusions.thresholds import Scale
from labrum.simulate.outcome import Outcome
from labrum.simulate.postures.asked import Posture
from labrum.simulate.postures.found import OffAxis, PressureWave, Tilted


def words(outcome: Outcome, topic: str, **measures: Any) -> str:
    changed = replace(outcome, measures=replace(outcome.measures, **measures))
    return next(v.words for v in verdicts(changed) if v.topic == topic)


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.3, "A small part"), (0.6, "A part"), (0.8, "Most"), (0.95, "Nearly all")],
)
def test_flotation_follows_the_share_that_bears(outcome: Outcome, share: float, said: str) -> None:
    assert words(outcome, "How it floats", contact_area_mm2=200.0, bearing_area_mm2=200.0 * share).startswith(said)


def test_an_even_pressure_on_the_bearing_area_would_carry_the_force(outcome: Outcome) -> None:
    carried = {"mean_pressure_kpa": 50.0, "contact_area_mm2": 400.0}  # 20 N
    changed = replace(outcome, measures=replace(outcome.measures, **carried, bearing_area_mm2=250.0))
    assert "like an even 80 kPa" in next(v.numbers for v in verdicts(changed) if v.topic == "How it floats")


@pytest.mark.parametrize(("ratio", "said"), [(1.2, "No place"), (2.0, "clearly harder"), (3.0, "far harder")])
def test_cutting_follows_the_concentration(outcome: Outcome, ratio: float, said: str) -> None:
    assert said in words(outcome, "Where it cuts", edge_concentration=ratio)


@pytest.mark.parametrize(
    ("radius", "place"), [(8.1, "the inner edge"), (10.0, "the face of the rim"), (12.9, "the outer edge")]
)
def test_the_peak_is_placed(outcome: Outcome, radius: float, place: str) -> None:
    m = replace(outcome.measures, contact_inner_radius_mm=8.0, contact_outer_radius_mm=13.0, peak_radius_mm=radius)
    assert peak_in_words(m) == place


def test_felt_ring_is_told_against_the_bite(outcome: Outcome) -> None:
    wide = 2 * outcome.rim.bite[0] + 3.0
    assert "3.0 mm wider" in words(outcome, "How wide it feels", felt_diameter_mm=wide)
    assert "2.0 mm narrower" in words(outcome, "How wide it feels", felt_diameter_mm=wide - 5.0)


@pytest.mark.parametrize(
    ("drift", "said"),
    [(0.02, "hardly moves"), (0.2, "a little outwards"), (-0.2, "a little inwards"), (0.5, "clearly")],
)
def test_steadiness_follows_the_drift(outcome: Outcome, drift: float, said: str) -> None:
    assert said in words(outcome, "How steady it is", felt_drift_mm_per_10n=drift)


def test_what_does_not_apply_is_left_out(outcome: Outcome) -> None:
    bare = replace(
        outcome.measures, felt_drift_mm_per_10n=None, touches_cup=None, cup_clearance_mm=None, closing_travel_ratio=None
    )
    topics = {v.topic for v in verdicts(replace(outcome, measures=bare))}
    assert topics == {"How it floats", "Where it cuts", "How wide it feels", "What passes the bite"}


@pytest.mark.parametrize(
    ("ratio", "said"), [(0.1, "nearly stopped"), (0.4, "a good part"), (0.8, "a little"), (0.97, "nearly as")]
)
def test_freedom_follows_the_travel(outcome: Outcome, ratio: float, said: str) -> None:
    assert said in words(outcome, "Whether the lip can move", closing_travel_ratio=ratio)


def test_drawn_in_share_is_of_the_volume_past_the_bite(outcome: Outcome) -> None:
    said = words(
        outcome, "What passes the bite", past_bite=True, intrusion_volume_mm3=200.0, drawn_in_volume_mm3=50.0
    )
    assert "25 % of it was drawn in" in said
    none = words(outcome, "What passes the bite", past_bite=False, intrusion_height_mm=0.0)
    assert none == "No tissue stands past the bite."


def test_no_word_claims_safety_or_comfort(six: list[Outcome]) -> None:
    said = " ".join(v.words + v.numbers for outcome in six for v in verdicts(outcome)).lower()
    assert not any(word in said for word in ("safe", "comfort", "healthy", "harm", "pain", "danger"))


@pytest.mark.parametrize("ratio", [0.1, 0.3, 0.55, 0.8, 0.95])
def test_a_report_and_a_conclusion_use_one_word_for_how_free_the_lip_is(outcome: Outcome, ratio: float) -> None:
    changed = replace(outcome, measures=replace(outcome.measures, closing_travel_ratio=ratio))
    told = next(v.words for v in verdicts(changed) if v.topic == "Whether the lip can move")
    found = next(c for c in conclusions((Trial("own", changed),), "own") if c.name == "closing_travel")
    assert told.lower().startswith(found.words.partition(" (")[0])


@pytest.mark.parametrize("share", [-0.01, 0.1, 0.25, 0.5, 0.75, 0.9])
def test_a_report_and_a_conclusion_put_the_peak_in_one_place(outcome: Outcome, share: float) -> None:
    radius = 8.0 + share * 6.0
    m = replace(outcome.measures, contact_inner_radius_mm=8.0, contact_outer_radius_mm=14.0, peak_radius_mm=radius)
    profile = np.array([[7.0, 0.0], [radius, m.peak_pressure_kpa], [14.0, 0.0]])
    made = replace(outcome, measures=m, pressure_profile=profile)
    assert peak_in_words(m) in conclusions((Trial("own", made),), "own")[0].words


def test_bands_are_told_apart_only_beyond_the_error() -> None:
    scale = Scale((1.0, 2.0), ("low", "middle", "high"))
    assert [scale.band(value) for value in (0.9, 1.0, 1.9, 2.0)] == ["low", "middle", "middle", "high"]
    assert [scale.told(value, 0.1) for value in (0.8, 0.95, 1.05, 1.5, 2.05, 2.2)] == [
        "low", None, None, "middle", None, "high"]  # fmt: skip


@pytest.mark.parametrize(("tilt", "said"), [(0.5, "Hardly"), (2.0, "Fairly"), (4.0, "Forgiving")])
def test_how_forgiving_it_is_follows_the_tilt_that_raises_the_peak(outcome: Outcome, tilt: float, said: str) -> None:
    told = {
        "tilt_for_ten_percent_deg": tilt, "peak_percent_per_degree": 10.0 / tilt, "tilt_holds_to_deg": 5.0,
        "rocking_stiffness_nmm_per_deg": 12.3, "tilt_to_lift_deg": None,
    }  # fmt: skip
    assert words(outcome, "How forgiving it is", **told).startswith(said)
    changed = replace(outcome, measures=replace(outcome.measures, **{**told, "tilt_to_lift_deg": 14.2}))
    numbers = next(v.numbers for v in verdicts(changed) if v.topic == "How forgiving it is")
    assert f"{tilt:.2f}° raises the peak by 10 %" in numbers
    assert "on one side at 14.2°" in numbers
    assert "How forgiving it is" not in [v.topic for v in verdicts(outcome)]


@pytest.mark.parametrize(
    ("front", "corners", "reach", "said"),
    [
        (90.0, 60.0, 20.0, "On the arch the front teeth press harder"),
        (60.0, 90.0, 20.0, "On the arch the corners of the mouth press harder"),
        (60.0, 65.0, 20.0, "On the arch front teeth and corners of the mouth are not told apart"),
        (90.0, 60.0, 27.0, "That arch is more bent than the answer reaches"),
    ],
)
def test_what_an_arch_does_is_told_beyond_both_errors_and_as_far_as_it_holds(
    outcome: Outcome, asked: OffAxis, front: float, corners: float, reach: float, said: str
) -> None:
    errors = {"front_teeth_peak_kpa": 5.0, "corners_peak_kpa": 5.0}
    told = {"front_teeth_peak_kpa": front, "corners_peak_kpa": corners, "arch_holds_to_mm": reach, "errors": errors}
    assert words(replace(outcome, off_axis=asked), "What an arch of teeth does", **told).startswith(said)
    assert "What an arch of teeth does" not in [v.topic for v in verdicts(outcome)]


@pytest.fixture
def asked() -> OffAxis:
    """An arch of 24 mm asked for; no sentence reads what else there is."""
    wave = PressureWave(1, *(np.zeros(1) for _ in range(3)), np.zeros(1, bool), 0.0)
    tilted = Tilted(*(1.0 for _ in range(7)), wave, wave)
    return OffAxis(Posture(arch_radius_mm=24.0), tilted, None, None, None, None, None, False, ())
