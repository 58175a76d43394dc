"""The command that writes a report: what goes in, what comes out, and every way to fail."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from labrum.cases.case_file.reading import case_from_text, read_case
from labrum.cases.manner import Manner
from labrum.cases.reporting.job import PressedCase, ReportOrder, paper_of, provenance_of, run_report
from labrum.cases.workers.each import outcome_or_stop
from labrum.reports.pages.content import NoSolution, Paper
from labrum.simulate.conclusions.robustness import Result
from labrum.simulate.conclusions.varied_lips import softened
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged, Problem


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Paper]:
    """Papers that would have been drawn; drawing them is tested with the page."""
    papers: list[Paper] = []
    monkeypatch.chdir(tmp_path)

    def note(paper: Paper) -> str:
        papers.append(paper)
        return "<!doctype html>"

    monkeypatch.setattr("labrum.reports.pages.report.report_page", note)
    return papers


def run(solver: Callable[[Problem], Outcome], *places: str, **more: Any) -> int:
    """Run the command with a solver that stays in this process."""

    def each(problems: Sequence[Problem]) -> Iterator[tuple[int, Result]]:
        yield from ((number, outcome_or_stop(solver, problem)) for number, problem in enumerate(problems))

    return run_report(ReportOrder(places, **more), ("/usr/bin/labrum", "report", *places), each)


def test_each_rim_is_pressed_in_nine_lips(
    written: list[Paper], outcome_of: Callable[[Problem], Outcome], capsys: pytest.CaptureFixture[str]
) -> None:
    pressed: list[Problem] = []

    def solver(problem: Problem) -> Outcome:
        pressed.append(problem)
        return outcome_of(problem)

    assert run(solver, "thin-narrow", "thin-wide") == 0
    stiffness = [p.lip.layers[0].shear_modulus for p in pressed]
    assert [s / stiffness[3] for s in stiffness] == pytest.approx([0.5] * 3 + [1.0] * 3 + [2.0] * 3 + [0.5] * 3 +
                                                                 [1.0] * 3 + [2.0] * 3)
    frictions = [0.0, 0.05, 0.5]
    assert [p.load.friction for p in pressed] == frictions * 6
    lips = [(factor, friction or None) for factor in (0.5, 1.0, 2.0) for friction in frictions]
    assert [[(s.factor, s.friction) for s in sheet.softened] for sheet in written[0].sheets] == [lips] * 2
    told = capsys.readouterr()
    assert told.out == "thin-narrow-report.html\n"
    assert "pressed 18 of 18" in told.err
    assert Path("thin-narrow-report.html").read_text() == "<!doctype html>"


def test_softening_scales_stiffness_and_nothing_else() -> None:
    problem = read_case("demo").problem
    soft = softened(problem, 0.5)
    for before, after in zip(problem.lip.layers, soft.lip.layers, strict=True):
        assert after.shear_modulus == 0.5 * before.shear_modulus
        assert after.stiffening == pytest.approx([0.5 * c for c in before.stiffening])
        assert replace(after, shear_modulus=0, stiffening=(0, 0)) == replace(before, shear_modulus=0, stiffening=(0, 0))
    assert replace(soft, lip=problem.lip) == problem


def test_without_other_lips_one_press_each(written: list[Paper], outcome_of: Callable[[Problem], Outcome]) -> None:
    assert run(outcome_of, "demo", robust=False, manner=Manner(quiet=True), out=Path("a.html")) == 0
    assert written[0].sheets[0].softened == ()


def test_faults_of_all_cases_come_at_once(
    written: list[Paper], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("one", "two"):
        (tmp_path / f"{name}.toml").write_text("schema = 1\n[rim]\nwidht_mm = 5\n")
    assert run(lambda problem: pytest.fail("solved"), "one.toml", "demo", "two.toml") == 3
    told = capsys.readouterr().err
    assert "one.toml:3" in told
    assert "two.toml:3" in told
    assert not written


def stop(problem: Problem) -> Outcome:
    raise NotConverged(3.0, "a cause", "an advice")


def test_nothing_is_written_where_nothing_converged(written: list[Paper], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(stop, "demo") == 4
    told = capsys.readouterr()
    assert told.out == ""
    assert "stopped at 3.00 N of 20 N" in told.err
    assert not written
    assert not list(Path.cwd().iterdir())


def test_one_stop_leaves_the_others_and_is_told(
    written: list[Paper], outcome_of: Callable[[Problem], Outcome], capsys: pytest.CaptureFixture[str]
) -> None:
    def solver(problem: Problem) -> Outcome:
        return stop(problem) if "narrow" in problem.title else outcome_of(problem)

    assert run(solver, "thin-narrow", "thin-wide", robust=False) == 4
    assert [sheet.name for sheet in written[0].sheets] == [read_case("thin-wide").problem.title]
    assert written[0].unsolved[0].stopped == NoSolution(3.0, "a cause", "an advice")
    assert "not converged" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("places", "more", "said"),
    [
        (("demo",) * 7, {}, "got 7, allowed 1 to 6"),
        (("demo",), {"out": Path("nowhere/a.html")}, "there is no folder nowhere"),
        (("demo",), {"out": Path()}, "it is a folder"),
    ],
)
def test_usage_is_refused_before_anything_is_solved(
    written: list[Paper], capsys: pytest.CaptureFixture[str], places: tuple[str, ...], more: dict[str, Any], said: str
) -> None:
    assert run(lambda problem: pytest.fail("solved"), *places, **more) == 2
    assert said in capsys.readouterr().err


def test_a_fault_of_ours_is_a_sentence(written: list[Paper], capsys: pytest.CaptureFixture[str]) -> None:
    def broken(problem: Problem) -> Outcome:
        raise ZeroDivisionError("oh")

    assert run(broken, "demo") == 1
    assert "a fault of our own: ZeroDivisionError: oh" in capsys.readouterr().err


def test_interrupted_writes_nothing(written: list[Paper]) -> None:
    def interrupted(problem: Problem) -> Outcome:
        raise KeyboardInterrupt

    assert run(interrupted, "demo") == 130
    assert not list(Path.cwd().iterdir())


def test_equal_titles_are_told_apart_and_own_layers_named(
    outcome_of: Callable[[Problem], Outcome], case_text: str
) -> None:
    own = case_text.replace('type = "average"', "") + "[[lip.layer]]\nthickness_mm = 9.0\nshear_modulus_kpa = 30.0\n"
    cases = [case_from_text(case_text), case_from_text(own)]
    found = [PressedCase(outcome_of(case.problem)) for case in cases]
    paper = paper_of(cases, found, provenance_of(cases, ("/a/place/labrum", "report"), datetime.now(UTC)))
    assert paper is not None
    assert [sheet.name for sheet in paper.sheets] == ["A trial (1)", "A trial (2)"]
    assert "calibration for the contracted lip" in paper.calibration
    assert "Layers given by the case itself: A trial." in paper.calibration
    assert paper.provenance is not None
    assert paper.provenance["command"] == ["labrum", "report"]
    assert len(paper.provenance["sha256"]) == 2
