"""Rims side by side, and what survives other lips: exit codes, the table, the JSON, the folder."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from typer.testing import Result

from labrum.cases.case_file.reading import case_from_text, read_case
from labrum.cases.case_file.toml_writer import case_text
from labrum.cases.comparing.result import unlike
from labrum.simulate.conclusions.robustness import Stopped
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Aim, Problem

Labrum = Callable[..., Result]
SOFT = 0.5 * 0.0501672  # shear modulus of the average lip's skin, MPa, halved


def width_of(problem: Problem) -> float:
    return problem.rim.outer_radius - problem.rim.bite[0]


@pytest.fixture
def solvers(monkeypatch: pytest.MonkeyPatch, outcome_of: Callable[[Problem], Outcome]) -> list[Problem]:
    """Pretend to solve many problems: a wider rim peaks lower, a soft lip with much friction is lost, and so is
    any rim wider than 8 mm."""
    seen: list[Problem] = []

    def result(problem: Problem) -> Outcome | Stopped:
        soft = problem.lip.layers[0].shear_modulus < 1.01 * SOFT
        if (soft and problem.load.friction == 0.5) or width_of(problem) > 8.0:
            return Stopped("stopped at 3.00 N: the mesh folded; press less", "not converged")
        made = outcome_of(problem)
        peak = 600.0 / width_of(problem)
        return replace(made, measures=replace(made.measures, peak_pressure_kpa=peak, edge_concentration=peak / 60.0))

    def each(problems: Sequence[Problem], workers: int, solver: object) -> Iterator[tuple[int, Outcome | Stopped]]:
        seen.extend(problems)
        yield from ((number, result(problem)) for number, problem in enumerate(problems))

    monkeypatch.setattr("labrum.cases.comparing.job.solve_each", each)  # first: it is loaded with the real one
    monkeypatch.setattr("labrum.cases.workers.each.solve_each", each)
    return seen


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Any, ...]]:
    """Pretend to draw comparisons; returns names, title and note of each figure."""
    pictures: list[tuple[Any, ...]] = []

    def draw(outcomes: Sequence[Outcome], names: Sequence[str], title: str, note: str, top: float | None) -> None:
        pictures.append((tuple(names), title, note))

    def save(figure: None, table: object, folder: Path, name: str, formats: Sequence[str], size: object) -> None:
        folder.mkdir(exist_ok=True)
        (folder / f"{name}.png").touch()

    fake = SimpleNamespace(compare_figure=draw, overlay_figure=draw, compare_table=lambda outcomes, names: None)
    monkeypatch.setitem(sys.modules, "labrum.reports.figures.side_by_side", fake)
    monkeypatch.setitem(sys.modules, "labrum.reports.house_style.saving", SimpleNamespace(save=save))
    return pictures


@pytest.fixture
def files(tmp_path: Path, case_text: str) -> Path:
    """Two rims on one lip, a third under another load, a fourth that is lost."""
    for name, old, new in (
        ("narrow", "5.2", "4.8"),
        ("wide", "5.2", "6.0"),
        ("loud", "20.0", "40.0"),
        ("vast", "5.2", "9.0"),
    ):
        (tmp_path / f"{name}.toml").write_text(case_text.replace(old, new))
    return tmp_path


def row(text: str, label: str) -> str:
    return next(line for line in text.splitlines() if line.startswith(f"  {label}"))


# --- solve --robust ----------------------------------------------------------------------------------------------


def test_robust_adds_a_section_and_counts_the_lost_lip(labrum: Labrum, solvers: list[Problem]) -> None:
    done = labrum("solve", "demo", "--robust", "-q")
    assert (done.exit_code, done.stderr) == (0, "")
    assert len(solvers) == 8  # the case's own lip is solved already
    section = done.stdout.partition("Which conclusions survive another lip")[2]
    assert "Tried: 9 lips, stiffness x0.5, x1 and x2 by friction 0, 0.05 and 0.5" in section
    assert "8 of 9  tissue stands past the bite" in section
    assert "intrusion height 0.8 mm, over the lips 0.8 to 0.8 mm; no result in: x0.5/0.5" in section
    assert "no result: stiffness x0.5, friction 0.5: stopped at 3.00 N: the mesh folded" in section


def test_robust_stands_in_json_and_in_the_folder(labrum: Labrum, solvers: list[Problem], tmp_path: Path) -> None:
    done = labrum("solve", "demo", "--robust", "--json", "--out", "here")
    found = json.loads(done.stdout)
    assert found == json.loads((tmp_path / "here" / "result.json").read_text())
    robustness = found["robustness"]
    assert robustness["own_lip"] == "stiffness x1, friction 0"
    assert [lip["status"] for lip in robustness["lips"]].count("not converged") == 1
    assert len(robustness["lips"]) == 9
    first = robustness["conclusions"][0]
    assert (first["name"], first["holds_in"], first["of"], first["survives"]) == ("peak_place", 8, 9, False)
    assert first["without_result"] == ["stiffness x0.5, friction 0.5"]
    assert "robustness" not in json.loads(labrum("solve", "demo", "--json").stdout)


def test_progress_names_every_lip(labrum: Labrum, solvers: list[Problem]) -> None:
    done = labrum("solve", "demo", "--robust")
    assert "lip 8/8  stiffness x2, friction 0.5: peak" in done.stderr
    assert "stiffness x0.5, friction 0.5: not converged: stopped at 3.00 N" in done.stderr


def test_an_interrupt_among_the_varied_lips_keeps_the_result(
    labrum: Labrum, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def interrupted(problems: Sequence[Problem], workers: int, solver: object) -> Iterator[tuple[int, Outcome]]:
        raise KeyboardInterrupt

    monkeypatch.setattr("labrum.cases.workers.each.solve_each", interrupted)
    done = labrum("solve", "demo", "--robust", "--out", "here")
    assert (done.exit_code, done.stdout) == (130, "")
    kept = json.loads((tmp_path / "here" / "result.json").read_text())
    assert kept["status"] == "converged"
    assert "robustness" not in kept


def test_a_figure_says_what_its_lip_rests_on(labrum: Labrum, tmp_path: Path) -> None:
    labrum("solve", "demo", "--out", "library")
    labrum("solve", "round-ring", "--out", "own")
    library, own = ((tmp_path / name / "figures" / "pressure.svg").read_text() for name in ("library", "own"))
    assert "its stiffness is a calibration, assumed and not measured" in library
    assert "its layers the case's own" in own


# --- compare -----------------------------------------------------------------------------------------------------


def test_rims_stand_side_by_side_with_marks(
    labrum: Labrum, solvers: list[Problem], drawn: list[Any], files: Path
) -> None:
    done = labrum("compare", "narrow.toml", "wide.toml", "-q")
    assert (done.exit_code, done.stderr) == (0, "")
    assert row(done.stdout, "peak pressure").split() == ["peak", "pressure", "125", "100", "v", "kPa"]
    assert row(done.stdout, "bearing area").split() == ["bearing", "area", "210", "210", "=", "mm2"]
    assert row(done.stdout, "touches the cup").split()[-3:] == ["no", "no", "="]
    assert row(done.stdout, "closing travel").split() == ["closing", "travel", "-", "-"]
    assert "not rim against rim" not in done.stdout
    assert "survive" not in done.stdout
    (kept,) = (files / "runs").iterdir()
    assert {path.name for path in kept.iterdir()} == {
        "comparison.json", "table.txt", "provenance.json", "narrow", "wide", "figures",
    }  # fmt: skip
    assert (kept / "narrow" / "case.toml").read_text() == (files / "narrow.toml").read_text()
    assert (kept / "table.txt").read_text() == done.stdout
    assert [(names, title) for names, title, _ in drawn] == [(("narrow", "wide"), "Rims compared")] * 2
    assert len(solvers) == 2


def test_json_is_one_object_with_every_pair(labrum: Labrum, solvers: list[Problem], files: Path) -> None:
    done = labrum("compare", "narrow.toml", "wide.toml", "demo", "--json")
    assert done.exit_code == 0
    found = json.loads(done.stdout)
    assert (found["schema"], found["status"]) == (1, "converged")
    assert [rim["name"] for rim in found["rims"]] == ["narrow", "wide", "demo"]
    assert found["rims"][1]["peak_pressure_kpa"] == pytest.approx(100.0)
    assert [(p["first"], p["second"]) for p in found["pairs"]] == [
        ("narrow", "wide"), ("narrow", "demo"), ("wide", "demo"),
    ]  # fmt: skip
    assert found["pairs"][0]["conclusions"][0]["words"] == "narrow peaks higher than wide"
    assert not (files / "runs").exists()


def test_robust_counts_the_lips_in_which_a_difference_holds(
    labrum: Labrum, solvers: list[Problem], files: Path
) -> None:
    done = labrum("compare", "narrow.toml", "wide.toml", "--robust", "--json")
    pair = json.loads(done.stdout)["pairs"][0]
    peak = pair["conclusions"][0]
    assert (peak["words"], peak["holds_in"], peak["of"]) == ("narrow peaks higher than wide", 8, 9)
    assert (peak["number"], peak["without_result"]) == (pytest.approx(25.0), ["stiffness x0.5, friction 0.5"])
    assert len(solvers) == 18
    text = labrum("compare", "narrow.toml", "wide.toml", "--robust", "--out", "here").stdout
    assert "8 of 9  narrow peaks higher than wide" in text
    assert "0 of 9  narrow and wide cannot be told apart: difference of the felt diameters" in text
    assert "wide, no result: stiffness x0.5, friction 0.5" in text


def test_other_loads_and_lips_are_not_rim_against_rim(
    labrum: Labrum, solvers: list[Problem], drawn: list[Any], files: Path
) -> None:
    done = labrum("compare", "narrow.toml", "loud.toml", "thin-wide")
    for text in (
        "not rim against rim: lip.type differs: narrow average, loud average, thin-wide thin",
        "not rim against rim: load.force_n differs: narrow 20, loud 40, thin-wide 20",
    ):
        assert f"warning: {text}" in done.stderr
        assert f"  {text}" in done.stdout
    assert drawn[0][1] == "Cases compared: lips or loads differ"


def test_rims_are_held_at_the_first_ones_mean_pressure(
    labrum: Labrum, solvers: list[Problem], drawn: list[Any], files: Path
) -> None:
    done = labrum("compare", "narrow.toml", "loud.toml", "wide.toml", "--hold", "mean-pressure", "-q")
    assert done.exit_code == 0, done.stderr
    first, *others = solvers
    assert first.load.aim is None
    pressure = json.loads(labrum("compare", "narrow.toml", "wide.toml", "--json", "-q").stdout)["rims"][0][
        "mean_pressure_kpa"
    ]
    assert [problem.load.aim for problem in others[:2]] == 2 * [Aim("mean_pressure_kpa", pressure)]
    assert f"held: one mean pressure, the first rim's: {pressure:.4g} kPa (forces" in done.stdout
    assert "load.force_n differs" not in done.stdout


@pytest.mark.parametrize(("hold", "measure"), [("force", None), ("sink", "sink_mm")])
def test_force_or_sink_may_be_held_in_every_varied_lip(
    labrum: Labrum, solvers: list[Problem], files: Path, hold: str, measure: str | None
) -> None:
    """A varied lip in which the first rim is lost holds no other."""
    done = labrum("compare", "loud.toml", "wide.toml", "--hold", hold, "--robust", "--json", "-q")
    found = json.loads(done.stdout)
    assert found["hold"] == hold
    assert len(solvers) == 9 + 8
    assert all((problem.load.aim and problem.load.aim.measure) == measure for problem in solvers[9:])
    assert {problem.load.force for problem in solvers} == {40.0}
    assert [lip["status"] for lip in found["rims"][1]["lips"]].count("not converged") == 1


def test_an_unknown_thing_to_hold_is_refused(labrum: Labrum, files: Path) -> None:
    done = labrum("compare", "narrow.toml", "wide.toml", "--hold", "area")
    assert done.exit_code == 2
    assert "mean-pressure" in done.stderr


def test_a_rim_without_result_is_named_and_the_others_shown(
    labrum: Labrum, solvers: list[Problem], drawn: list[Any], files: Path
) -> None:
    done = labrum("compare", "vast.toml", "wide.toml", "-q")
    assert done.exit_code == 4
    assert "labrum: vast: not converged: stopped at 3.00 N" in done.stderr
    assert row(done.stdout, "peak pressure").split() == ["peak", "pressure", "-", "100", "kPa"]
    assert "A  vast  A trial  (no result)" in done.stdout
    assert drawn[0][0] == ("wide",)
    found = json.loads(labrum("compare", "vast.toml", "wide.toml", "--json", "-q").stdout)
    assert (found["status"], found["rims"][0]["status"]) == ("not converged", "not converged")


def test_every_fault_of_every_case_is_told_at_once(labrum: Labrum, files: Path, case_text: str) -> None:
    (files / "bad.toml").write_text(case_text.replace("5.2", "-5.2"))
    (files / "worse.toml").write_text(case_text.replace("20.0", "0"))
    done = labrum("compare", "bad.toml", "worse.toml")
    assert (done.exit_code, done.stdout) == (3, "")
    assert [line.partition(": got")[0] for line in done.stderr.splitlines()] == [
        "bad.toml:6: rim.width_mm", "worse.toml:12: load.force_n",
    ]  # fmt: skip


@pytest.mark.parametrize("count", [1, 7])
def test_two_to_six_cases_are_wanted(labrum: Labrum, count: int) -> None:
    done = labrum("compare", *["demo"] * count)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "allowed 2 to 6 cases" in done.stderr


def test_a_taken_folder_is_left_alone(labrum: Labrum, solvers: list[Problem], files: Path) -> None:
    done = labrum("compare", "narrow.toml", "wide.toml", "--out", ".")
    assert done.exit_code == 2
    assert "exists and is not empty" in done.stderr
    assert solvers == []


def test_cases_of_one_name_are_numbered(labrum: Labrum, solvers: list[Problem]) -> None:
    found = json.loads(labrum("compare", "demo", "demo", "--json", "-q").stdout)
    assert [rim["name"] for rim in found["rims"]] == ["demo-1", "demo-2"]


def test_a_rim_in_earnest_is_not_told_from_itself(labrum: Labrum, tmp_path: Path) -> None:
    """Nothing is pretended here: the solver solves in its processes, and the figures are drawn."""
    done = labrum("compare", "round-ring", "round-ring", "--out", "kept", "-q")
    assert done.exit_code == 0, done.stderr
    assert row(done.stdout, "peak pressure").split()[-3:-1] == ["=", "kPa"]  # and the error
    table = done.stdout.partition("How hard")[2].partition("^ v higher")[0]
    assert not {"^", "v", "!"} & set(table.split())
    assert {path.name for path in (tmp_path / "kept" / "figures").iterdir()} == {
        f"{name}.{ending}" for name in ("side-by-side", "pressures") for ending in ("svg", "png", "csv")
    }


def test_a_case_written_out_is_like_the_one_it_came_from() -> None:
    """What a search writes has its base's lip by its layers, where the base names it."""
    base = read_case("demo")
    written = case_from_text(case_text(base.resolved, "the rim found"))
    assert "lip" not in written.presets
    assert unlike(["base", "found"], [base, written]) == []
    other = unlike(["base", "thin"], [written, read_case("thin-wide")])
    assert all("lip.layer[" in text for text in other)
    assert "not rim against rim: lip.layer[0].thickness_mm differs: base 1.2, thin 1" in other
