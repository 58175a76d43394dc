"""What was solved is delivered whatever the disk does, and the folder of a run runs again."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import Result

from labrum.cases.exits import CannotDo
from labrum.cases.library.shelf import demo_place
from labrum.cases.solving.run_folder import RunFolder, UnusableFolder, free_name, try_target

Labrum = Callable[..., Result]
TIMED = ("log.txt", "provenance.json")


def full_disk(*words: Any, **more: Any) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def unsolved(problem: Any, progress: Any) -> None:
    raise AssertionError("nothing should be solved")


@pytest.mark.parametrize("words", [(), ("--json",)])
def test_on_a_full_disk_the_number_is_shown_and_the_part_named(labrum: Labrum, tmp_path: Path, words: Any) -> None:
    done = labrum("solve", "demo", "--out", "run", *words, draw=full_disk)
    assert done.exit_code == 2
    assert ("123.456" if words else "123.5           kPa") in done.stdout
    assert "solved, but not all of it could be written (no space left on device)" in done.stderr
    (part,) = tmp_path.iterdir()
    assert str(part.name) in done.stderr
    assert json.loads((part / "result.json").read_text())["peak_pressure_kpa"] == 123.456


def test_a_folder_that_dies_on_the_way_costs_no_number(labrum: Labrum, tmp_path: Path) -> None:
    def draw(*words: Any, **more: Any) -> None:
        for part in tmp_path.glob(".run.part-*"):
            shutil.rmtree(part)

    done = labrum("solve", "demo", "--out", "run", "--json", draw=draw)
    assert done.exit_code == 2
    assert json.loads(done.stdout)["peak_pressure_kpa"] == 123.456
    assert "solved, but not all of it could be written" in done.stderr


def test_a_link_that_leads_nowhere_is_refused_before_anything_is_solved(labrum: Labrum, tmp_path: Path) -> None:
    (tmp_path / "run").symlink_to(tmp_path / "gone")
    done = labrum("solve", "demo", "--out", "run", solver=unsolved)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "run exists and is not empty" in done.stderr


@pytest.mark.parametrize("name", ["a" * 300, "file/run"])
def test_a_place_that_cannot_be_is_refused_before_anything_is_solved(labrum: Labrum, tmp_path: Path, name: str) -> None:
    (tmp_path / "file").write_text("in the way")
    done = labrum("solve", "demo", "--out", name, solver=unsolved)
    assert done.exit_code == 2
    assert "traceback" not in done.stderr.lower()


PLAN = 'schema = 1\ncase = "demo"\n[vary]\nrim.width_mm = [4.5, 5.0]\n'
SEARCH = (
    'schema = 1\ncase = "demo"\nminimise = "peak_pressure_kpa"\n'
    "[vary]\nrim.width_mm = { from = 4.5, to = 6.5 }\n[effort]\nsolves = 8\n"
)
WITH_TARGETS = {
    "solve": ("solve", "demo", "--out"),
    "cut": ("cut", "demo", "--out"),
    "compare": ("compare", "demo", "thin-wide", "--out"),
    "gauge": ("gauge", "demo-trace", "--out"),
    "report": ("report", "demo", "--no-robust", "--out"),
    "animate": ("animate", "demo", "--out"),
    "lessons": ("lessons", "--forget", "--out"),
    "tolerance": ("tolerance", "demo", "--out"),
    "search": ("search", "search.toml", "--out"),
    "sweep": ("sweep", "plan.toml", "--export"),
    "sweep's store": ("sweep", "plan.toml", "--store"),
}


@pytest.mark.parametrize("command", WITH_TARGETS)
@pytest.mark.parametrize(("name", "code"), [("a\0b.csv", 3), ("file/run.csv", 2)])
def test_every_target_is_tried_before_anything_is_solved(
    labrum: Labrum, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str, name: str, code: int
) -> None:
    """A name that nothing can have is bad input whichever way an option is parsed; a place that refuses is usage."""
    def refusing(*words: Any) -> None:
        raise AssertionError("nothing should be solved")

    monkeypatch.setattr("labrum.cases.sweeping.warm_start.NearSolver.__call__", refusing)
    monkeypatch.setattr("labrum.cases.sweeping.job.solve_here", refusing)
    (tmp_path / "file").write_text("in the way")
    (tmp_path / "plan.toml").write_text(PLAN)
    (tmp_path / "search.toml").write_text(SEARCH)
    before = sorted(tmp_path.iterdir())
    done = labrum(*WITH_TARGETS[command], name, solver=unsolved)
    assert done.exit_code == code, (done.stderr, done.exception)
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert sorted(tmp_path.iterdir()) == before


def test_a_disk_that_refuses_is_not_called_a_fault_of_ours(labrum: Labrum) -> None:
    def refusing(problem: Any, progress: Any) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS), "somewhere")

    done = labrum("solve", "demo", "--json", solver=refusing)
    assert (done.exit_code, done.stderr.splitlines()[-1]) == (2, "labrum: somewhere: read-only file system")


def test_the_part_of_a_dead_process_with_our_number_stays_as_it_is(tmp_path: Path) -> None:
    left = tmp_path / f".run.part-{os.getpid()}"
    left.mkdir()
    (left / "result.json").write_text("{}")
    folder = RunFolder.begin(tmp_path / "run")
    assert folder.place.name == f".run.part-{os.getpid()}-2"
    assert (left / "result.json").read_text() == "{}"
    folder.finish()
    assert (tmp_path / "run" / "README.txt").is_file()


def test_a_link_taken_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    folder = RunFolder.begin(tmp_path / "run")
    (tmp_path / "run").symlink_to(tmp_path / "gone")
    assert folder.finish() == tmp_path / "run-2"
    assert free_name(tmp_path / "run") == tmp_path / "run-3"


def test_a_target_is_tried_and_nothing_left_of_the_trial(tmp_path: Path) -> None:
    try_target(tmp_path / "page.html")
    assert list(tmp_path.iterdir()) == []
    for bad in (tmp_path / "no" / "page.html", tmp_path / ("a" * 300)):
        with pytest.raises(CannotDo, match="cannot write"):
            try_target(bad)
    with pytest.raises(UnusableFolder):
        RunFolder.begin(tmp_path / ("a" * 300))


def contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*")) if path.is_file() and path.name not in TIMED
    }


@pytest.mark.parametrize("name", ["demo", "demo-trace.toml", "mine.toml"])
@pytest.mark.parametrize("again", ["first", "first/case.resolved.json"])
def test_a_run_runs_again_to_the_same_bytes(labrum: Labrum, tmp_path: Path, name: str, again: str) -> None:
    shutil.copy(demo_place() / "demo-trace.toml", tmp_path)
    shutil.copy(demo_place() / "demo-trace.csv", tmp_path)
    untitled = "".join(row for row in (demo_place() / "demo.toml").read_text().splitlines(True) if "title" not in row)
    (tmp_path / "mine.toml").write_text(untitled)
    assert labrum("solve", name, "--out", "first").exit_code == 0
    for original in tmp_path.glob("*.toml"):
        original.unlink()
    (tmp_path / "demo-trace.csv").unlink()
    done = labrum("solve", again, "--out", "second")
    assert done.exit_code == 0, done.stderr
    assert contents(tmp_path / "first") == contents(tmp_path / "second")
    library = [json.loads((tmp_path / run / "provenance.json").read_text()) for run in ("first", "second")]
    assert library[0]["from_library"] == library[1]["from_library"]
    assert library[0]["sha256"] == library[1]["sha256"]


@pytest.mark.parametrize(("text", "got"), [
    ("{", "no JSON"), ("[1]", "a list of 1"), ("[" * 5000, "no JSON"), ("{}", "the key is missing"), ("nul", "no JSON"),
    ('{"load": {"force_n": NaN}}', "load.force_n: got nan"),
])
def test_a_damaged_resolved_case_is_invalid(labrum: Labrum, tmp_path: Path, text: str, got: str) -> None:
    (tmp_path / "case.resolved.json").write_text(text)
    done = labrum("solve", "case.resolved.json", solver=unsolved)
    assert done.exit_code == 3
    assert got in done.stderr


TITLE = "\\u001b[31mred\\u0007\\u009b\\u202e"


@pytest.mark.parametrize("words", [(), ("--json",), ("--quiet",)])
def test_no_title_steers_a_terminal(labrum: Labrum, tmp_path: Path, case_text: str, words: Any) -> None:
    (tmp_path / "a.toml").write_text(case_text.replace("A trial", TITLE + "\\u007f"))
    done = labrum("solve", "a.toml", "--out", "run", *words)
    assert done.exit_code == 0
    assert all(c == "\n" or c.isprintable() for c in done.stdout + done.stderr)
    assert "red" in done.stdout


@pytest.mark.parametrize("name", ["\x1b[31m.toml", "caf\udce9.toml", "a" * 255 + ".toml", "a\nb.toml"])
@pytest.mark.parametrize("command", ["solve", "sweep", "gauge", "cut", "show", "compare", "report", "tolerance"])
def test_no_name_steers_a_terminal_or_is_called_our_fault(labrum: Labrum, command: str, name: str) -> None:
    more = (name,) if command == "compare" else ()
    done = labrum(command, name, *more, solver=unsolved)
    assert done.exit_code in (2, 3), done.stderr
    assert all(c == "\n" or c.isprintable() for c in done.stdout + done.stderr)


def test_a_case_with_an_undecodable_name_is_solved(labrum: Labrum, tmp_path: Path, case_text: str) -> None:
    (tmp_path / "caf\udce9.toml").write_text(case_text.replace('title = "A trial"\n', ""))
    done = labrum("solve", "caf\udce9.toml")
    assert done.exit_code == 0, done.stderr
    (kept,) = (tmp_path / "runs").iterdir()
    assert json.loads((kept / "result.json").read_text())["title"] == "caf\\udce9"


def test_a_case_with_a_long_name_gets_a_folder(labrum: Labrum, tmp_path: Path, case_text: str) -> None:
    name = "a" * 250 + ".toml"
    (tmp_path / name).write_text(case_text)
    assert labrum("solve", name).exit_code == 0
    assert [len(path.name) for path in (tmp_path / "runs").iterdir()] == [100 + len("-20260101-000000")]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full device here")
@pytest.mark.parametrize("words", [("show", "demo"), ("--version",), ("gauge", "demo-trace", "--json")])
def test_a_full_stdout_is_told_in_a_sentence(words: tuple[str, ...]) -> None:
    with open("/dev/full", "w") as full:
        command = [sys.executable, "-m", "labrum.cases.command", *words]
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert done.stderr.decode().splitlines()[-1].endswith("no space left on device")
    assert b"Traceback" not in done.stderr
