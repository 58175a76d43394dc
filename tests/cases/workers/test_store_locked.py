"""A store that somebody else holds, or that has no room: what is solved is kept beside it and goes in later."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping.job import Means, SweepOrder, run_sweep
from labrum.cases.workers import locking
from labrum.cases.workers import store as store_module
from labrum.cases.workers.store import CONVERGED, LOST, KeptCase, Store, UnusableStore
from tests.cases.stand_ins import stand_in_solver as stand_in

ROOT = Path(__file__).parents[3]
ROW = KeptCase("k1", "s1", CONVERGED, "", {"rim": {"width_mm": 5.0}}, {"peak_pressure_kpa": 80.125}, 2.0)


@contextmanager
def held(path: Path, how: str = "BEGIN IMMEDIATE") -> Iterator[None]:
    """Hold a store as another program would."""
    base = sqlite3.connect(path, isolation_level=None)
    base.execute(how)
    try:
        yield
    finally:
        base.close()


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (locking, store_module):
        monkeypatch.setattr(module, "LOCK_PATIENCE_S", 0.0)
    monkeypatch.setattr(store_module, "WHEN_LOCKED_BEFORE_S", 0.0)
    monkeypatch.setattr(locking, "STEP_S", 0.01)


@pytest.mark.usefixtures("impatient")
def test_a_case_that_cannot_go_in_waits_beside_and_goes_in_later(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    with held(store.path):
        store.keep(ROW)
        assert store.waiting() == 1
        assert store.find(["k1", "k2"]) == {"k1": ROW}
    assert Store.at(store.path).find(["k1"]) == {"k1": ROW}
    assert store.waiting() == 0
    assert [path.name for path in tmp_path.iterdir()] == ["cases.sqlite"]


@pytest.mark.usefixtures("impatient")
def test_a_case_that_converged_is_not_replaced_by_one_that_waited(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    lost = replace(ROW, status=LOST, reason="gone", measures=None)
    with held(store.path):
        store.keep(lost)
    store.keep(ROW)
    assert store.find(["k1"]) == {"k1": ROW}
    store.merge()
    assert (store.find(["k1"]), store.waiting()) == ({"k1": ROW}, 0)


@pytest.mark.usefixtures("impatient")
def test_files_beside_that_are_not_ours_are_left_alone(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    with held(store.path):
        store.keep(ROW)
    for name, text in (("x.json", "{"), ("y.json", "[1]"), ("z.json", json.dumps(["q"] * 8)), ("note.txt", "mine")):
        (store.beside.folder / name).write_text(text)
    store.merge()
    assert sorted(path.name for path in store.beside.folder.iterdir()) == ["note.txt", "x.json", "y.json", "z.json"]
    assert store.find(["k1", "q"]) == {"k1": ROW}


@pytest.mark.usefixtures("impatient")
def test_where_nothing_can_be_kept_the_numbers_are_told(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    store.beside.folder.write_text("a file in the way")
    with held(store.path), pytest.raises(UnusableStore, match=r"kept nowhere.*80\.125"):
        store.keep(ROW)


def test_a_full_disk_sends_cases_beside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Store.at(tmp_path / "cases.sqlite")

    def full(*words: object, **more: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(store_module, "transaction", full)
    store.keep(ROW)
    monkeypatch.undo()
    assert Store.at(store.path).find(["k1"]) == {"k1": ROW}


def test_whoever_meets_a_lock_waits_for_its_end(tmp_path: Path) -> None:
    """Another process holds the store until its stdin ends; the writer comes home once it has."""
    store = Store.at(tmp_path / "cases.sqlite")
    holder = subprocess.Popen(
        [sys.executable, "-c", f"import sqlite3, sys\nb = sqlite3.connect({str(store.path)!r}, isolation_level=None)\n"
         "b.execute('BEGIN IMMEDIATE')\nprint('held', flush=True)\nsys.stdin.read()"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    assert holder.stdin is not None
    assert holder.stdout is not None
    holder.stdout.readline()
    script = f"from pathlib import Path\nfrom tests.cases.workers.test_store_locked import *\n" \
        f"print('at it', flush=True)\nStore.at(Path({str(store.path)!r})).keep(ROW)"
    writer = subprocess.Popen([sys.executable, "-c", script], cwd=ROOT, stdout=subprocess.PIPE)
    assert writer.stdout is not None
    writer.stdout.readline()
    holder.communicate()
    assert writer.wait() == 0
    writer.stdout.close()
    assert (store.find(["k1"]), store.waiting()) == ({"k1": ROW}, 0)


@pytest.mark.skipif(sys.platform == "win32", reason="interrupts by POSIX signals")
def test_ctrl_c_is_heard_while_waiting(tmp_path: Path) -> None:
    store = Store.at(tmp_path / "cases.sqlite")
    script = (
        "import sys; from labrum.cases.exits import leave, ended, Ending\n"
        "from tests.cases.workers.test_store_locked import *\n"
        "print('ready', flush=True)\n"
        f"leave(lambda: ended(lambda n: Store(Path({str(store.path)!r})).keep(ROW), Narrator(sys.stderr), Ending()))"
    )
    with held(store.path):
        words = [sys.executable, "-c", script]
        waiting = subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        assert waiting.stdout is not None
        waiting.stdout.readline()
        time.sleep(0.3)
        os.kill(waiting.pid, signal.SIGINT)
        _, said = waiting.communicate(timeout=30)  # s, half of what a lock is waited for
    assert (waiting.returncode, said) == (130, b"labrum: interrupted\n")


def test_a_sweep_of_a_locked_store_loses_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The lock comes once the sweep has begun: its workers wait for a while, then keep what they solved beside."""
    plan = tmp_path / "plan.toml"
    plan.write_text('schema = 1\ncase = "demo"\n[vary]\nrim.width_mm = [4.5, 5.0, 5.5]\n')
    monkeypatch.setenv(stand_in.SOLVES, str(tmp_path / "solves"))
    monkeypatch.setattr("labrum.cases.sweeping.job.solve_here", locked_while_solving)
    order = SweepOrder(plan, means=Means(1, solver=stand_in.at_once), manner=stand_in.SILENT)
    assert run_sweep(order, Narrator(sys.stderr, True)) == 0
    said = capsys.readouterr()
    assert "3 converged" in said.out
    assert "3 finished cases are kept in" in said.err
    monkeypatch.undo()
    monkeypatch.setenv(stand_in.SOLVES, str(tmp_path / "solves"))
    assert run_sweep(replace(order, means=Means(1, solver=stand_in.noted)), Narrator(sys.stderr, True)) == 0
    assert not (tmp_path / "solves").exists()  # nothing had to be solved again
    assert Store(tmp_path / "plan.sqlite").waiting() == 0


def locked_while_solving(tasks, store, solver, workers):  # type: ignore[no-untyped-def]
    """As on this machine, but in this process, with the store held."""
    from labrum.cases.workers.task import solved

    with held(store.path), pytest.MonkeyPatch.context() as patch:
        patch.setattr(store_module, "LOCK_PATIENCE_S", 0.0)
        patch.setattr(store_module, "WHEN_LOCKED_BEFORE_S", 0.0)
        for task in tasks:
            result = solved(task, solver)
            store.keep(result)
            yield result
