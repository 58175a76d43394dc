"""The first equilibrium: near the solution, wherever it begins, and never in its place."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import read_case
from labrum.cases.exploring.jobs import AtOnce, PressJob, at_once
from labrum.cases.exploring.tables import case_from_page, tables_of
from labrum.simulate import solve


def changed(**rim: float) -> Case:
    tables = copy.deepcopy(tables_of(read_case("demo")))
    tables["rim"] |= rim
    return case_from_page(tables)


def first(case: Case, start: Any = None) -> AtOnce:
    found = at_once(case, start, lambda news: None)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def start() -> AtOnce:
    return first(changed())


def test_it_carries_the_force_and_says_what_it_does_not_know(start: AtOnce) -> None:
    told = json.loads(start.text)["result"]
    assert told["mean_pressure_kpa"] * told["contact_area_mm2"] / 1e3 == pytest.approx(20.0, rel=1e-4)
    assert "peak_pressure_error_percent" not in told
    assert told["errors"]["peak_pressure_kpa"] == pytest.approx(0.01 * told["peak_pressure_kpa"])
    assert all(error > 0.0 for error in told["errors"].values())
    assert "felt_drift_mm_per_10n" not in told


def test_beginning_elsewhere_ends_near_the_solution(start: AtOnce) -> None:
    case = changed(bite_radius_mm=0.9, inner_diameter_mm=16.7)
    told, truth = json.loads(first(case, start.pressed).text)["result"], solve(case.problem).measures
    assert told["sink_mm"] == pytest.approx(truth.sink_mm, rel=5e-3)
    assert told["felt_diameter_mm"] == pytest.approx(truth.felt_diameter_mm, rel=5e-3)
    assert told["bearing_area_mm2"] == pytest.approx(truth.bearing_area_mm2, rel=0.02)
    assert told["peak_pressure_kpa"] == pytest.approx(truth.peak_pressure_kpa, rel=0.05)


def test_another_kind_of_lip_is_pressed_from_rest(start: AtOnce) -> None:
    """The ring of wire presses one layer on sliding ground: nothing of the start can be kept."""
    case = read_case("round-ring")
    told = json.loads(first(case, start.pressed).text)
    carried = told["result"]["mean_pressure_kpa"] * told["result"]["contact_area_mm2"] / 1e3
    assert carried == pytest.approx(5.0, rel=1e-4)
    assert [layer["name"] for layer in told["picture"]["layers"]] == ["tissue"]


def test_what_finds_no_equilibrium_gives_none() -> None:
    tables = tables_of(read_case("demo"))
    tables["lip"] = {"layer": [{"thickness_mm": 3.0, "shear_modulus_kpa": 0.2}]}
    tables["load"] = {"force_n": 400.0}
    assert at_once(case_from_page(tables), None, lambda news: None) is None


def test_a_press_tells_its_first_equilibrium_and_then_the_solution(start: AtOnce) -> None:
    told: list[Any] = []
    case = changed(bite_radius_mm=0.2)
    found = PressJob(case, start.pressed).run(told.append)
    (early,) = [news for news in told if isinstance(news, AtOnce)]
    before, after = json.loads(early.text), json.loads(found.text)  # type: ignore[union-attr]
    assert before["inputs"] == after["inputs"] == case.resolved
    assert before["result"]["sink_mm"] == pytest.approx(after["result"]["sink_mm"], rel=2e-3)
    assert "±" not in before["answers"][1]["numbers"]
    assert "±" in after["answers"][1]["numbers"]
