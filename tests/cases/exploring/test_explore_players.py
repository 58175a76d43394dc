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
from labrum.cases.exploring.players.handed_over import handover_from_page
from labrum.cases.exploring.players.sent import sheet_from_page, sheet_toml
from labrum.cases.exploring.players.working import Working
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


@pytest.mark.parametrize("kept", [None, [], {}, {"told": {"schema": 1}}, {"told": {"schema": 1, "rims": [{}]}}])
def test_what_a_page_sends_back_is_read_before_it_is_handed_over(kept: Any) -> None:
    with pytest.raises(InvalidCase):
        handover_from_page(kept, "balanced")


def test_only_a_rim_that_was_found_is_handed_over() -> None:
    texts: dict[str, Any] = {"instrument": "horn"}
    lists = ("complaints", "wishes", "wanted", "held", "not_met", "holds_back", "cautions", "lips_tried")
    row = {"kind": "boldest", "changes": {}, "summary": "", "effects": [], "measures": {}}
    told = {"schema": 1, **texts, **{name: [] for name in lists}, "present": {}, "rims": [row]}
    tables = tables_of(read_case("thin-wide"))
    with pytest.raises(InvalidCase, match="boldest"):
        handover_from_page({"told": told, "cases": {"present": tables}}, "boldest")
    job = handover_from_page({"told": told, "cases": {"present": tables, "boldest": tables}}, "boldest")
    assert job.cases[1].problem.rim.outer_radius == pytest.approx(read_case("thin-wide").problem.rim.outer_radius)


def test_an_answers_progress_never_goes_back_and_ends_when_it_is_to() -> None:
    told: list[float] = []

    def tell(news: Any) -> None:
        if news is None:
            raise KeyboardInterrupt
        told.append(news["share"])

    work = Working(tell, (0.1, 0.5))
    for words in ("first", "second", "and more"):
        work.say(words)
        with pytest.raises(KeyboardInterrupt):
            list(work.each([read_case("demo").problem]))
    assert told == sorted(told)
    assert told[0] == 0.1
    assert told[-1] == 0.5
