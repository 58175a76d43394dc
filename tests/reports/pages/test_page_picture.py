"""The picture a page draws: true to the outcome within a fifth of a dot, and plain numbers."""

from __future__ import annotations

import json

import numpy as np
import pytest

from labrum.reports.pages.live import LOOKS, lessons_page, script_safe
from labrum.reports.pages.picture import PICTURE_CHORD_MM, picture, rim_points, thinned
from labrum.simulate.outcome import Outcome


def test_thinned_line_strays_no_farther_than_said() -> None:
    angle = np.linspace(0.0, np.pi, 400)
    circle = 5.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    kept = thinned(circle)
    assert len(kept) < 60
    middles = 0.5 * (kept[1:] + kept[:-1])
    assert np.abs(np.hypot(*middles.T) - 5.0).max() <= PICTURE_CHORD_MM + 1e-9


def test_straight_line_keeps_its_ends_only() -> None:
    line = np.column_stack([np.linspace(0, 1, 50), np.linspace(0, 2, 50)])
    assert len(thinned(line)) == 2


def test_picture_holds_the_outcomes_numbers(outcome: Outcome) -> None:
    drawn = json.loads(json.dumps(picture(outcome), allow_nan=False))
    assert max(p for _, p in drawn["profile"]) == pytest.approx(outcome.measures.peak_pressure_kpa, abs=1e-3)
    assert drawn["bite"][1] == pytest.approx(outcome.rim.bite[1] - outcome.measures.sink_mm, abs=1e-3)
    assert min(z for _, z in drawn["rim"]) == pytest.approx(-outcome.measures.sink_mm, abs=2e-3)
    assert [layer["name"] for layer in drawn["layers"]] == list(outcome.section.layer_names)
    assert drawn["thickness_mm"] == pytest.approx(11.5)


def test_picture_is_light(outcome: Outcome) -> None:
    assert len(json.dumps(picture(outcome))) < 60_000


def test_rim_stands_where_it_has_sunk(outcome: Outcome) -> None:
    high, low = np.array(rim_points(outcome.rim, 0.0)), np.array(rim_points(outcome.rim, 2.0))
    assert high[[0, -1]] - low[[0, -1]] == pytest.approx(np.array([[0.0, 2.0]] * 2))
    assert [high[:, 1].min(), low[:, 1].min()] == pytest.approx([0.0, -2.0], abs=2e-3)


def test_data_cannot_leave_its_script_element() -> None:
    data = {"title": "</script><script>alert(1)</script><!--\u2028"}
    text = script_safe(data)
    assert "<" not in text
    assert json.loads(text) == data


def test_every_rim_has_a_look_of_its_own() -> None:
    assert len({look["colour"] for look in LOOKS}) == len({look["dashes"] for look in LOOKS}) == 6


def test_titles_in_the_list_of_lessons_are_escaped() -> None:
    html = lessons_page([{"name": "x", "title": "<b>T</b>", "summary": "<i>"}])
    assert "<b>" not in html
    assert "&lt;b&gt;T" in html
