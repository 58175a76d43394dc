"""The first equilibrium: near the solution, wherever it begins, and never in its place."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import read_case
from labrum.cases.exploring.halfway import Start, mixed
from labrum.cases.exploring.jobs import AtOnce, PressJob
from labrum.cases.exploring.tables import case_from_page, tables_of
from labrum.reports.pages.content import NoSolution
from labrum.simulate import solve
from labrum.simulate.accuracy.refinement import ANSWER
from labrum.simulate.load_path.press import HOME, press_near


def changed(**rim: float) -> Case:
    tables = copy.deepcopy(tables_of(read_case("demo")))
    tables["rim"] |= rim
    return case_from_page(tables)


class Heard(BaseException):
    """Ends a press where its first equilibrium is told, as a page does that thinks better of it."""


def first(case: Case, start: Start | None = None) -> AtOnce:
    told: list[AtOnce] = []

    def hear(news: Any) -> None:
        if isinstance(news, AtOnce):
            told.append(news)
            raise Heard

    with pytest.raises(Heard):
        PressJob(case, start).run(hear)
    return told[0]


def begun_at(case: Case) -> Start:
    return Start(case.resolved, first(case).pressed)


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
    told = json.loads(first(case, Start(changed().resolved, start.pressed)).text)["result"]
    truth = solve(case.problem).measures
    assert told["sink_mm"] == pytest.approx(truth.sink_mm, rel=5e-3)
    assert told["felt_diameter_mm"] == pytest.approx(truth.felt_diameter_mm, rel=5e-3)
    assert told["bearing_area_mm2"] == pytest.approx(truth.bearing_area_mm2, rel=0.02)
    assert told["peak_pressure_kpa"] == pytest.approx(truth.peak_pressure_kpa, rel=0.05)


def test_another_kind_of_lip_is_pressed_from_rest(start: AtOnce) -> None:
    """The ring of wire presses one layer on sliding ground: nothing of the start can be kept."""
    case = read_case("round-ring")
    told = json.loads(first(case, Start(changed().resolved, start.pressed)).text)
    carried = told["result"]["mean_pressure_kpa"] * told["result"]["contact_area_mm2"] / 1e3
    assert carried == pytest.approx(5.0, rel=1e-4)
    assert [layer["name"] for layer in told["picture"]["layers"]] == ["tissue"]


def test_what_finds_no_equilibrium_gives_none() -> None:
    tables = tables_of(read_case("demo"))
    tables["lip"] = {"layer": [{"thickness_mm": 3.0, "shear_modulus_kpa": 0.2}]}
    tables["load"] = {"force_n": 400.0}
    told: list[Any] = []
    assert isinstance(PressJob(case_from_page(tables)).run(told.append), NoSolution)
    assert not [news for news in told if isinstance(news, AtOnce)]


def test_a_press_tells_its_first_equilibrium_and_then_the_solution(start: AtOnce) -> None:
    told: list[Any] = []
    case = changed(bite_radius_mm=0.2)
    found = PressJob(case, Start(changed().resolved, start.pressed)).run(told.append)
    (early,) = [news for news in told if isinstance(news, AtOnce)]
    before, after = json.loads(early.text), json.loads(found.text)  # type: ignore[union-attr]
    assert before["inputs"] == after["inputs"] == case.resolved
    assert before["result"]["sink_mm"] == pytest.approx(after["result"]["sink_mm"], rel=2e-3)
    assert "±" not in before["answers"][1]["numbers"]
    assert "±" in after["answers"][1]["numbers"]


def test_with_friction_it_is_where_the_solution_s_own_first_way_ends() -> None:
    tables = copy.deepcopy(tables_of(read_case("demo")))
    tables["load"] |= {"friction": 0.2}
    case, told = case_from_page(tables), list[Any]()
    found = PressJob(case).run(told.append)
    (early,) = [news for news in told if isinstance(news, AtOnce)]
    before, after = json.loads(early.text)["result"], json.loads(found.text)["result"]  # type: ignore[union-attr]
    assert before["sink_mm"] == pytest.approx(after["sink_mm"], rel=5e-3)
    later = [news["words"] for news in told[told.index(early) + 1 :]]
    assert later  # told while what it rests on is still looked at: the steps of the way, and finer grids
    assert all(text.startswith("checking") for text in later)


def test_halves_of_the_way_lead_where_one_step_does_not() -> None:
    """A sharp bite moved far: in one step the tissue does not find its way around it."""
    near, far = (changed(bite_radius_mm=0.2, inner_diameter_mm=diameter) for diameter in (16.0, 18.0))
    start = begun_at(near)
    whole = press_near(far.problem, start.pressed, ANSWER, lambda news: None, HOME)
    halves = start.towards(far).press(far.problem, ANSWER, lambda news: None, HOME)
    assert whole is None
    assert halves is not None
    assert halves.equilibrium.force == pytest.approx(20.0)


def test_a_number_halfway_is_the_mean_and_a_word_is_the_other_s() -> None:
    here = {"rim": {"width_mm": 4.0, "crown": "flat", "flag": True}, "lip": {"layer": [{"a": 1.0}, {"a": 2.0}]}}
    there = {"rim": {"width_mm": 5.0, "crown": 7.0, "flag": False, "more": 1.0}, "lip": {"layer": [{"a": 3.0}]}}
    assert mixed(here, there, 0.25) == {**there, "rim": {**there["rim"], "width_mm": 4.25}}
    assert mixed(here, here, 0.25) == here
