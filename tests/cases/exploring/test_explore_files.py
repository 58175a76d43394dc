"""Cases in the page: tables to and fro, saved as TOML, opened with the files beside them and no others."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_text, read_case
from labrum.cases.exploring.tables import case_from_page, case_toml, opened, tables_of
from labrum.cases.library.shelf import demo_names, demo_place, demo_text

TRACED = 'schema = 1\n[rim]\ntrace = "{}"\n[lip]\ntype = "average"\n[load]\nforce_n = 20.0\n'


@pytest.mark.parametrize("name", demo_names())
def test_shipped_cases_survive_the_page_and_the_file(name: str) -> None:
    case = read_case(name)
    for again in (case_from_page(tables_of(case)), case_from_text(case_toml(case))):
        assert again.problem.title == case.problem.title
        assert again.problem.lip == case.problem.lip
        assert again.problem.load == case.problem.load
        assert np.allclose(again.problem.rim.curve.vertices, case.problem.rim.curve.vertices, atol=1e-9)
        assert again.presets.get("lip") == case.presets.get("lip")


@given(st.text(min_size=1).filter(lambda t: t.strip() and not any("\ud800" <= c <= "\udfff" for c in t)))
def test_any_title_and_layer_name_survives_a_file(words: str) -> None:
    layer = {"name": words, "thickness_mm": 9.0, "shear_modulus_kpa": 30.0, "muscle": True, "active_stress_kpa": 1.0}
    demo = tables_of(read_case("demo"))
    case = case_from_page({**demo, "title": words, "lip": {"layer": [layer]}})
    again = case_from_text(case_toml(case))
    assert again.problem.title == words
    assert again.problem.lip.layers[0].name == words


def test_flat_crowns_survive_a_file() -> None:
    tables = tables_of(read_case("demo"))
    tables["rim"]["outer_crown_radius_mm"] = "flat"
    assert 'outer_crown_radius_mm = "flat"' in case_toml(case_from_page(tables))


def test_a_trace_opened_with_its_case_becomes_an_outline(tmp_path: Path) -> None:
    text = (demo_place() / "demo-trace.csv").read_text()
    case = opened("c.toml", TRACED.format("points/demo-trace.csv"), {"demo-trace.csv": text}, tmp_path)
    tables = tables_of(case)
    assert set(tables["rim"]) == {"outline_mm"}
    assert case_from_page(tables).problem.rim.bite == pytest.approx(case.problem.rim.bite, abs=1e-6)


def test_a_case_whose_force_is_to_be_found_is_not_for_the_page(case_text: str) -> None:
    case = case_from_text(case_text.replace("force_n = 20.0", "sink_mm = 2.0"))
    with pytest.raises(InvalidCase, match=r"load\.sink_mm: got 2, allowed force_n, which the page turns"):
        tables_of(case)


@pytest.mark.parametrize("place", ["demo-trace.csv", "/etc/hostname", "../demo-trace.csv", "a/../../demo-trace.csv"])
def test_a_case_cannot_reach_for_files_that_were_not_opened(tmp_path: Path, place: str) -> None:
    beside = {} if place == "demo-trace.csv" else {"demo-trace.csv": "x", "hostname": "x"}
    with pytest.raises(InvalidCase) as caught:
        opened("c.toml", TRACED.format(place), beside, tmp_path)
    (fault,) = caught.value.faults
    assert fault.fault.key == "rim.trace"
    assert "which was not opened" in fault.fault.got
    assert "together" in fault.fault.hint


def test_the_page_cannot_name_a_trace() -> None:
    with pytest.raises(InvalidCase, match="an outline, which loading a trace gives"):
        case_from_page({**tables_of(read_case("demo")), "rim": {"trace": "/etc/hostname"}})


@pytest.mark.parametrize("tables", [None, [], "x", 3, {}, {"rim": 3}, {"rim": {"outline_mm": [[1]]}}])
def test_tables_that_are_none_are_faults(tables: object) -> None:
    with pytest.raises(InvalidCase):
        case_from_page(tables)


def test_faults_of_an_opened_file_have_its_name_and_lines(tmp_path: Path) -> None:
    with pytest.raises(InvalidCase, match=r"mine\.toml:7: rim\.widht_mm.*width_mm"):
        opened("mine.toml", demo_text("demo").replace("width_mm", "widht_mm"), {}, tmp_path)


@pytest.mark.parametrize("text", ["", "= 3", "[[[", "schema = 1\nrim = 3"])
def test_files_that_are_no_cases_are_faults(tmp_path: Path, text: str) -> None:
    with pytest.raises(InvalidCase):
        opened("mine.toml", text, {}, tmp_path)


