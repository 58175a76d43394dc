"""What a sweep's figures and table say: what they rest on, which rim is least and most, and what to ask next."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from labrum.cases.asking.answers import Request, Steady, answer_steadiness
from labrum.cases.asking.held import held_words
from labrum.cases.drawing import Drawn
from labrum.cases.exits import DONE, CannotDo
from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping.expansion import members
from labrum.cases.sweeping.plan import read_plan
from labrum.cases.sweeping.runner import Row, rows_of, task_of
from labrum.cases.sweeping.summary import next_questions, summary
from labrum.cases.workers.store import Store
from labrum.cases.workers.task import solved
from labrum.reports.house_style.paper import PRINT_SIZES
from tests.cases.stand_ins import stand_in_solver as stand_in

PLAN = """\
[vary]
rim.width_mm = [4.5, 5.0, 5.5, 6.0]
rim.bite_radius_mm = [0.4, 0.8]
lip.type = ["thin", "average"]
"""


def rows_at(path: Path) -> list[Row]:
    solver = solver_identity()
    store = Store.at(path.with_suffix(".sqlite"))
    for member in members(read_plan(path), solver):
        if member.case is not None:
            store.keep(solved(task_of(member.key, member.case, solver), stand_in.at_once))
    return rows_of(members(read_plan(path), solver), store)


@pytest.fixture
def swept(plan_file: Callable[[str], Path]) -> tuple[Path, list[Row]]:
    path = plan_file(PLAN)
    return path, rows_at(path)


def test_a_figure_says_lip_force_and_what_was_held(swept: tuple[Path, list[Row]]) -> None:
    path, rows = swept
    plan = read_plan(path)
    thin = [row for row in rows if row.member.settings["lip.type"] == "thin"]
    words = held_words(plan, thin)
    assert words.startswith("Thin lip, ")
    assert " N" in words.partition(".")[0]
    assert "inner diameter 16.5 mm" in words
    assert "width" not in words, "it varies"
    assert held_words(plan, rows).startswith("Lips as named, ")
    sharp = [row for row in thin if row.member.settings["rim.bite_radius_mm"] == 0.4]
    assert "bite radius 0.4 mm" in held_words(plan, sharp)


def test_the_table_says_which_rim_is_least_and_most(swept: tuple[Path, list[Row]]) -> None:
    _, rows = swept
    lines = summary("A sweep", rows).splitlines()
    assert lines[-1] == "  there: width_mm / bite_radius_mm / type"
    peak = next(line for line in lines if line.startswith("  peak pressure"))
    found: dict[float, dict[str, float | str]] = {}
    for row in rows:
        found.setdefault(float(row.measures["peak_pressure_kpa"]), row.member.settings)  # the first of equal ones
    for value in (min(found), max(found)):
        assert " / ".join(f"{v:g}" if isinstance(v, float) else v for v in found[value].values()) in peak


def test_what_to_ask_next_are_commands_that_answer(swept: tuple[Path, list[Row]]) -> None:
    path, rows = swept
    asked = next_questions(path, read_plan(path), rows)
    assert f"labrum wide-enough {path}" in asked
    assert f'labrum map {path} rim.width_mm rim.bite_radius_mm peak_pressure_kpa --at "lip.type=average"' in asked
    assert f'labrum trade-off {path} --at "lip.type=average"' in asked
    assert "steadiness" not in asked, "nothing off the axis was asked for"
    one = [row for row in rows if row.member.settings["rim.width_mm"] == 5.0][:1]
    assert next_questions(path, read_plan(path), one) == ""


def test_steadiness_needs_what_is_off_the_axis(swept: tuple[Path, list[Row]], tmp_path: Path) -> None:
    path, _ = swept
    with pytest.raises(CannotDo, match="off_axis"):
        answer_steadiness(Request(path, out=tmp_path / "out"), Steady(), Narrator(io.StringIO()))


def test_any_measure_that_is_there_is_drawn_over_a_dimension(swept: tuple[Path, list[Row]], tmp_path: Path) -> None:
    path, _ = swept
    how = Steady("rim.width_mm", "peak_pressure_kpa")
    assert answer_steadiness(Request(path, out=tmp_path / "out"), how, Narrator(io.StringIO())) == DONE
    assert (tmp_path / "out" / "steadiness.csv").read_text().count("width") == 0
    with pytest.raises(CannotDo, match="did you mean"):
        answer_steadiness(Request(path), Steady("rim.widht_mm"), Narrator(io.StringIO()))


def test_a_print_has_a_name_and_may_be_changed() -> None:
    assert Drawn("slide").size() == PRINT_SIZES["slide"]
    assert Drawn("one-column", 6.0, 1200.0).size().letters_pt == 6.0
    with pytest.raises(CannotDo, match="one-column, two-columns, slide"):
        Drawn("poster").size()
