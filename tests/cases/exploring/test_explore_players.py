"""A player's sheet on the page: read like any sheet, its faults at their keys, no file of this machine within reach."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table, read_case
from labrum.cases.exploring.players.answers import PlayerJob
from labrum.cases.exploring.players.form import sheet_form
from labrum.cases.exploring.players.sent import sheet_from_page, sheet_toml
from labrum.cases.exploring.tables import tables_of
from labrum.cases.library.shelf import sheet_names, sheet_text
from labrum.cases.player.sheet import sheet_from_text

BENCH = "this-rim.toml"


def on_bench() -> dict[str, Any]:
    return {BENCH: tables_of(read_case("thin-wide"))}


def faults(sheet: Any, rims: Any = None) -> list[str]:
    with pytest.raises(InvalidCase) as caught:
        sheet_from_page(sheet, on_bench() if rims is None else rims)
    return [one.fault.key for one in caught.value.faults]


def test_the_rim_on_the_bench_may_be_pressed_and_be_the_present_one() -> None:
    press = {"rim": BENCH, "force_n": 10, "sink_mm": 1.5}
    sheet = sheet_from_page({"instrument": "horn", "press": [press], "present": {"rim": BENCH}}, on_bench())
    wide = read_case("thin-wide").problem.rim
    assert sheet.present is not None
    assert sheet.present.rim.outer_radius == pytest.approx(wide.outer_radius)
    assert sheet.presses[0].rim.rim.bite == pytest.approx(wide.bite)


def test_every_fault_comes_at_its_own_key() -> None:
    sheet = {
        "instrument": "flute", "lips": {"thickness_mm": 99, "thickness_by": "eye"},
        "press": [{"rim": "demo", "force_n": 10, "sink_mm": 40}, {"rim": "demo", "force_n": 5}],
    }  # fmt: skip
    assert set(faults(sheet)) == {"instrument", "lips.thickness_mm", "press[0].sink_mm", "press[1]"}


@pytest.mark.parametrize("name", ["/etc/passwd", "../secret.toml", "secret.csv", "no-such-demo"])
def test_no_file_of_this_machine_is_within_reach(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("secret.csv").write_text("r_mm,s_mm\n", encoding="utf-8")
    assert faults({"instrument": "horn", "present": {"rim": name}}) == ["present.rim"]
    assert faults({"instrument": "horn", "press": [{"rim": name, "force_n": 1}]}) == ["press[0].rim"]


@pytest.mark.parametrize("nonsense", [None, 3, [], "instrument"])
def test_nonsense_is_a_fault(nonsense: Any) -> None:
    assert faults(nonsense) == ["sheet"]


def test_a_saved_sheet_reads_back_as_the_same() -> None:
    text = next(sheet_text(name) for name in sheet_names() if "[[press]]\nrim" in sheet_text(name))
    tables = tomllib.loads(text)
    assert tomllib.loads(sheet_toml(tables)) == tables
    again, first = sheet_from_text(sheet_toml(tables)), sheet_from_text(text)
    assert [press.lengths for press in again.presses] == [press.lengths for press in first.presses]


def test_the_form_has_every_number_of_a_sheet() -> None:
    form = sheet_form()
    keys = {one["key"] for group in ("lips", "forces", "press") for one in form[group]}
    assert {"thickness_mm", "red_upper_mm", "soft_n", "loud_n", "force_n", "sink_mm", "print_outer_diameter_mm"} <= keys
    assert all(one["low"] < one["high"] for group in ("lips", "forces", "press") for one in form[group])


def test_the_lip_comes_with_its_uncertainty_and_can_be_laid_on_the_bench() -> None:
    sheet = sheet_from_page({"instrument": "trumpet", "forces": {"loud_n": 33.0}}, {})
    told = PlayerJob("lip", sheet, read_case("demo")).run(lambda news: None)
    assert "±" in told["words"][0]
    lip = told["lip"]
    assert "±" in lip["words"]
    for kind in ("still", "playing"):
        made = {**tables_of(read_case("demo")), **lip[kind]}
        del made["lip"], made["load"]
        case = case_from_table({**made, "lip": lip[kind]["lip"], "load": lip[kind]["load"]})
        assert case.problem.load.force == pytest.approx(33.0)
    assert lip["still"]["load"]["muscle_activation"] == 0.0 < lip["playing"]["load"]["muscle_activation"]


def test_without_a_present_rim_there_is_no_answer_and_it_says_why() -> None:
    told = PlayerJob("present", sheet_from_page({"instrument": "tuba"}, {}), read_case("demo")).run(lambda news: None)
    assert "no present rim" in told["words"][0]
