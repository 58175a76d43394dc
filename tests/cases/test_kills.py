"""A command that keeps what it solves loses nothing to signal 9, and what it leaves is swept at the next start."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cases.stand_ins import stand_in_solver as stand_in

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="kills by POSIX signals")
ROOT = Path(__file__).parents[2]
LONGEST_S = "3"  # after which a kill comes; worker processes take a second to start
PLAN = 'schema = 1\ncase = "demo"\n[vary]\nrim.width_mm = { from = 4.5, to = 6.5, count = 300 }\n'
SEARCH = (
    'schema = 1\ncase = "demo"\nminimise = "peak_pressure_kpa"\n[vary]\nrim.width_mm = { from = 4.5, to = 6.5 }\n'
    "rim.bite_radius_mm = { from = 0.4, to = 1.2 }\n[effort]\nsolves = 60\n"
)
COMMANDS = {
    "sweep": (("sweep", "plan.toml", "--workers", "2", "--export", "out/table.csv", "--force"), "plan.sqlite"),
    "search": (("search", "search.toml", "--workers", "1", "--out", "out", "--force"), "search.sqlite"),
    "tolerance": (
        ("tolerance", "demo", "--points", "64", "--workers", "2", "--out", "out", "--force"), "demo-tolerance.sqlite"
    ),
}


def kept(store: Path) -> dict[str, str]:
    """Keys and states of what a store holds, and that it is whole."""
    if not store.exists():
        return {}
    with sqlite3.connect(store) as base:
        assert base.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        tables = {name for (name,) in base.execute("SELECT name FROM sqlite_master")}
        rows = dict(base.execute("SELECT key, status FROM solved").fetchall()) if "solved" in tables else {}
    base.close()
    return rows


def kill_and_look(folder: Path, command: str, kills: int) -> None:
    words, store = COMMANDS[command]
    (folder / "plan.toml").write_text(PLAN)
    (folder / "search.toml").write_text(SEARCH)
    environment = {**os.environ, stand_in.SOLVES: str(folder / "solves")}
    before: dict[str, str] = {}
    for seed in range(kills + 1):
        times = "1" if seed < kills else "0"  # in the end it may finish
        call = ["-m", "tests.cases.stand_ins.command_killed", str(folder), str(seed), times, LONGEST_S, *words]
        subprocess.run([sys.executable, *call], cwd=ROOT, env=environment, check=True)
        now = kept(folder / store)
        assert before.items() <= now.items()  # what was kept is kept
        before = now
    begun = len((folder / "solves").read_text().splitlines())
    assert len(before) <= begun <= len(before) + 2 * kills  # a kill costs at most what two workers were at
    assert {path.name for path in folder.iterdir()} <= {"plan.toml", "search.toml", "solves", "out", store}
    assert all(not path.name.startswith(".") for path in (folder / "out").iterdir())


@pytest.mark.parametrize(
    "command", [pytest.param(name, marks=() if name == "search" else pytest.mark.slow) for name in COMMANDS]
)
def test_two_kills_lose_nothing(tmp_path: Path, command: str) -> None:
    kill_and_look(tmp_path, command, 2)


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_twenty_kills_lose_nothing(tmp_path: Path, command: str) -> None:
    kill_and_look(tmp_path, command, 20)


def test_what_the_dead_left_is_swept_and_what_holds_a_result_stays(tmp_path: Path) -> None:
    """A process fills three folders and is killed; another that lives fills one with the same number in its name."""
    script = (
        "import os, sys; from pathlib import Path; from labrum.cases.solving.run_folder import RunFolder\n"
        f"a, b = (RunFolder.begin(Path({str(tmp_path)!r}, name)) for name in 'ab')\n"
        "b.write('result.json', '{}'); print(os.getpid(), flush=True); sys.stdin.read()"
    )
    dying = subprocess.Popen([sys.executable, "-c", script], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert dying.stdout is not None
    assert dying.stdin is not None
    number = int(dying.stdout.readline())
    from labrum.cases.solving.run_folder import RunFolder

    living = RunFolder.begin(tmp_path / "c")
    assert {path.name for path in tmp_path.iterdir()} == {
        f".a.part-{number}", f".b.part-{number}", living.place.name}  # fmt: skip
    same_number = tmp_path / f".d.part-{number}"
    living.place.rename(same_number)  # as the part of a process that has got the dead one's number
    dying.kill()
    dying.wait()
    dying.stdin.close()
    dying.stdout.close()
    RunFolder.begin(tmp_path / "e").named()
    assert {path.name for path in tmp_path.iterdir()} == {f".b.part-{number}", same_number.name, "e"}
    os.close(living.claim.handle)


def test_files_left_half_written_are_swept(tmp_path: Path) -> None:
    from labrum.cases.solving.leftovers import sweep_files, written_whole

    target = tmp_path / "page[1].html"
    (tmp_path / ".page[1].html.part-1").write_text("half")
    (tmp_path / ".page1.html.part-1").write_text("somebody else's")
    sweep_files(target)
    written_whole(target, b"whole")
    assert sorted(path.name for path in tmp_path.iterdir()) == [".page1.html.part-1", "page[1].html"]
    assert target.read_bytes() == b"whole"


@pytest.mark.slow
@pytest.mark.parametrize("commands", [("report",), ("lip",), ("present",), ("shortlist", "handover"), ("cut",)])
def test_a_kill_at_any_step_of_the_writing_loses_nothing(tmp_path: Path, commands: tuple[str, ...]) -> None:
    """These keep nothing before they are done: so each is killed before every change that it makes on the disk."""
    call = [sys.executable, "-m", "tests.cases.stand_ins.killed_at_writing", str(tmp_path), *commands]
    done = subprocess.run(call, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_what_was_set_aside_comes_back_or_goes(tmp_path: Path) -> None:
    from labrum.cases.solving.leftovers import settle_set_aside
    from labrum.cases.solving.run_folder import RunFolder

    def left(name: str, file: str) -> Path:
        (tmp_path / name).mkdir()
        (tmp_path / name / file).write_text("x")
        return tmp_path / name

    left(".here.old-7", "result.json"), left(".here.old-8", "photo.jpg")
    settle_set_aside(tmp_path / "here")
    assert {path.name for path in tmp_path.iterdir()} == {"here", ".here.old-8"}
    left(".here.old-9", "result.json")
    part = RunFolder.begin(tmp_path / "here", force=True)
    assert {path.name for path in tmp_path.iterdir()} == {"here", ".here.old-8", part.place.name}
    left(".here.old-9", "result.json")
    settle_set_aside(tmp_path / "here")  # somebody is at work there
    assert (tmp_path / ".here.old-9").exists()
    part.named()


def test_a_part_that_nobody_claimed_is_swept_if_it_is_empty(tmp_path: Path) -> None:
    from labrum.cases.solving.leftovers import sweep_folders

    for name in ("empty", "marked", "full"):
        (tmp_path / f".{name}.part-7").mkdir()
    (tmp_path / ".marked.part-7" / ".being-filled-7").touch()
    (tmp_path / ".full.part-7" / "precious").touch()
    sweep_folders(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [".full.part-7"]
