"""The job of a sweep from plan to table, with solvers that take no time in real worker processes."""

from __future__ import annotations

import csv
import io
import multiprocessing
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pyarrow import parquet
from typer.testing import CliRunner

from labrum.cases.command import app
from labrum.cases.exits import DONE, INTERRUPTED, INVALID, OUR_FAULT, PARTLY_FAILED, USAGE, CannotDo
from labrum.cases.manner import USUAL, Manner
from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping.guard import guarded
from labrum.cases.sweeping.job import Means, SweepOrder, run_sweep
from labrum.cases.sweeping.progress import Pace, closing_line, duration
from labrum.cases.workers.store import Store
from tests.cases.stand_ins import stand_in_solver as stand_in

PlanFile = Callable[[str], Path]
THREE = "[vary]\nrim.width_mm = [4.5, 5.0, 5.5]\n"


def run(order: SweepOrder) -> tuple[int, str]:
    out = io.StringIO()
    return run_sweep(order, Narrator(out)), out.getvalue()


def read_csv(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def test_a_sweep_solves_once_and_resumes_with_nothing_to_do(
    plan_file: PlanFile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv(stand_in.SOLVES, str(tmp_path / "solves"))
    order = SweepOrder(plan_file(THREE), means=Means(2, solver=stand_in.noted), exports=(tmp_path / "t.csv",))
    assert run(order)[0] == DONE
    assert "3/3 cases" in capsys.readouterr().err
    with pytest.raises(CannotDo, match="--force"):
        run(order)
    assert run(replace(order, manner=Manner(force=True)))[0] == DONE
    assert len((tmp_path / "solves").read_text().splitlines()) == 3
    rows = read_csv(tmp_path / "t.csv")
    for row, width in zip(rows, (4.5, 5.0, 5.5), strict=True):
        assert row["status"] == "converged"
        assert float(row["rim.width_mm"]) == width
        assert float(row["peak_pressure_kpa"]) == pytest.approx(stand_in.made_up_peak(width, 0.6, 20.0))


def test_a_longer_plan_solves_only_what_is_new(
    plan_file: PlanFile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(stand_in.SOLVES, str(tmp_path / "solves"))
    means = Means(1, solver=stand_in.noted)
    run(SweepOrder(plan_file(THREE), means=means, manner=stand_in.SILENT))
    longer = plan_file("[vary]\nrim.width_mm = [4.5, 5.0, 5.5, 6.0]\nload.force_n = [20]\n")
    run(SweepOrder(longer, means=means, manner=stand_in.SILENT))
    begun = (tmp_path / "solves").read_text().split()[0::2]
    assert begun == ["4.5", "5", "5.5", "6"]


def test_failures_are_rows_with_reasons_and_the_rest_goes_on(
    plan_file: PlanFile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = plan_file("[vary]\nrim.width_mm = [8.0, 7.0, 6.0, 5.0, 4.5]\nrim.inner_crown_radius_mm = [7.0, 1.0]\n")
    target = tmp_path / "t.csv"
    order = SweepOrder(path, means=Means(2, solver=stand_in.troubled), exports=(target,), manner=stand_in.SILENT)
    assert run(order)[0] == PARTLY_FAILED
    rows = {(float(r["rim.width_mm"]), float(r["rim.inner_crown_radius_mm"])): r
            for r in read_csv(target)}  # fmt: skip
    assert len(rows) == 10
    for width in (4.5, 5.0, 6.0, 7.0, 8.0):
        assert rows[width, 1.0]["status"] == "invalid"
        assert "rim.inner_crown_radius_mm" in rows[width, 1.0]["reason"]
    assert [rows[w, 7.0]["status"] for w in (4.5, 5.0, 6.0, 7.0, 8.0)] == [
        "converged", "converged", "not converged", "our fault", "lost"]  # fmt: skip
    assert "stopped at 10.00 N: it stopped" in rows[6.0, 7.0]["reason"]
    assert rows[7.0, 7.0]["reason"] == "ZeroDivisionError: somebody's slip"
    assert "signal 9" in rows[8.0, 7.0]["reason"]
    assert rows[6.0, 7.0]["peak_pressure_kpa"] == ""
    assert "stopped at 10.00 N" in capsys.readouterr().out


def test_on_resuming_a_lost_case_is_tried_again_and_others_if_asked(
    plan_file: PlanFile, capsys: pytest.CaptureFixture[str]
) -> None:
    path = plan_file("[vary]\nrim.width_mm = [8.0, 6.0]\n")
    run(SweepOrder(path, means=Means(1, solver=stand_in.troubled), manner=stand_in.SILENT))
    healthy = Means(1, solver=stand_in.at_once)
    assert run(SweepOrder(path, means=healthy, manner=stand_in.SILENT))[0] == PARTLY_FAILED
    assert "1 converged, 1 not converged" in capsys.readouterr().out
    assert run(SweepOrder(path, means=healthy, again=True, manner=stand_in.SILENT))[0] == DONE


def test_another_solvers_results_are_not_mixed_in(plan_file: PlanFile, tmp_path: Path) -> None:
    path = plan_file(THREE)
    order = SweepOrder(path, means=Means(1, solver=stand_in.at_once), manner=stand_in.SILENT)
    run(order)
    store = Store.at(tmp_path / "plan.sqlite")
    with sqlite3.connect(store.path) as base:  # as if an older version had solved them
        base.execute("UPDATE solved SET solver = 'older', key = key || 'older'")
    base.close()
    code, said = run(replace(order, manner=USUAL))
    assert code == DONE
    assert "3 cases kept from solver older stay as they are and are not used" in said
    assert "3 to solve" in said


def test_a_dry_run_counts_and_estimates_and_touches_nothing(
    plan_file: PlanFile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = plan_file(THREE + "rim.inner_crown_radius_mm = [6.0, 1.0]\n")
    assert run(SweepOrder(path, means=Means(2), dry_run=True))[0] == DONE
    said = capsys.readouterr().out
    assert "6 cases: 3 missing, 3 invalid" in said
    assert "3 to solve, about 6 s on 2 workers at 4.0 s a case (a guess" in said
    assert [p.name for p in tmp_path.iterdir()] == ["plan.toml"]
    run(SweepOrder(path, means=Means(1, solver=stand_in.at_once), manner=stand_in.SILENT))
    capsys.readouterr()
    run(SweepOrder(path, means=Means(2), dry_run=True))
    assert "0 to solve" in capsys.readouterr().out


def test_parquet_holds_the_same_table_with_nothing_where_nothing_applies(plan_file: PlanFile, tmp_path: Path) -> None:
    path = plan_file('[vary]\nrim.width_mm = [5.0, 6.0]\nrim.inner_crown_radius_mm = [7.0, "flat"]\n')
    target = tmp_path / "t.parquet"
    run(SweepOrder(path, means=Means(1, solver=stand_in.troubled), exports=(target,), manner=stand_in.SILENT))
    table = parquet.read_table(target).to_pydict()
    assert table["rim.inner_crown_radius_mm"] == ["7.0", "flat", "7.0", "flat"]
    assert table["peak_pressure_kpa"][0] == pytest.approx(stand_in.made_up_peak(5.0, 0.6, 20.0))
    assert table["peak_pressure_kpa"][2] is None
    assert table["past_bite"][0] is True


def test_ctrl_c_stops_the_workers_and_keeps_what_is_finished(
    plan_file: PlanFile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(stand_in.SOLVES, str(tmp_path / "solves"))
    path = plan_file("[vary]\nrim.width_mm = { from = 4.5, to = 6.5, count = 200 }\n")

    def interrupt(pace: Pace, converged: bool) -> None:
        pace.done += 1
        if pace.done == 5:
            raise KeyboardInterrupt

    monkeypatch.setattr(Pace, "finished", interrupt)
    order = SweepOrder(path, means=Means(2, solver=stand_in.noted), manner=stand_in.SILENT)
    assert guarded(lambda narrator: run_sweep(order, narrator), stand_in.SILENT) == INTERRUPTED
    assert not multiprocessing.active_children()
    kept = Store.at(tmp_path / "plan.sqlite").find(_keys(path))
    assert 5 <= len(kept) < 200


def _keys(path: Path) -> list[str]:
    from labrum.cases.solving.fingerprint import solver_identity
    from labrum.cases.sweeping.expansion import members
    from labrum.cases.sweeping.plan import read_plan

    return [member.key for member in members(read_plan(path), solver_identity())]


def test_exit_codes_of_the_command(tmp_path: Path, plan_file: PlanFile, monkeypatch: pytest.MonkeyPatch) -> None:
    def code(*words: str) -> int:
        return CliRunner().invoke(app, ["sweep", *words]).exit_code

    good = str(plan_file(THREE))
    (tmp_path / "text.sqlite").write_text("no database " * 100)
    assert code(str(tmp_path / "none.toml")) == INVALID
    assert code(good, "--store", str(tmp_path / "text.sqlite")) == USAGE
    assert code(good, "--dry-run") == DONE
    assert code(good, "--no-such-option") == USAGE
    monkeypatch.setattr("labrum.cases.sweeping.job.read_plan", lambda place: 1 / 0)
    assert code(good) == OUR_FAULT


class Ticking:
    """A clock that a test sets."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


def test_the_time_left_follows_from_the_pace_so_far() -> None:
    clock, out = Ticking(), io.StringIO()
    pace = Pace(out, 10, clock)
    clock.now = 30.0
    pace.finished(True)
    clock.now = 60.0
    pace.finished(False)
    assert out.getvalue().splitlines() == [
        "1/10 cases, 120 an hour, 4 min left",
        "2/10 cases, 1 failed, 120 an hour, 4 min left",
    ]


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_on_a_terminal_the_line_is_written_over_and_left_when_cut_short() -> None:
    clock, out = Ticking(), Terminal()
    pace = Pace(out, 3, clock)

    def cut_short() -> None:
        with closing_line(pace):
            clock.now = 30.0
            pace.finished(True)
            pace.finished(True)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        cut_short()
    assert out.getvalue().count("\r") == 2
    assert out.getvalue().endswith("left\n")


@pytest.mark.parametrize(
    ("seconds", "words"), [(5.2, "5 s"), (89, "89 s"), (400, "7 min"), (12_000, "3 h 20 min")]
)
def test_times_are_told_as_people_do(seconds: float, words: str) -> None:
    assert duration(seconds) == words
