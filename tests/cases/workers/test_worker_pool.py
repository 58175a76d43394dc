"""Worker processes: many problems solved at once, and what becomes of the others when one goes wrong."""

from __future__ import annotations

import multiprocessing
import os
import signal
from functools import partial
from pathlib import Path
from types import ModuleType

import pytest

from labrum.cases.solving.provenance import THREAD_VARIABLES
from labrum.cases.workers.each import solve_each
from labrum.cases.workers.pool import done_in_processes, nothing_opened, processes_for
from labrum.cases.workers.process import WorkerDied, processors
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions
from labrum.simulate import solve
from labrum.simulate.conclusions.robustness import Stopped
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Accuracy, Layer, Lip, Load, Problem
from tests.cases.stand_ins import stand_in_solver as stand_in
from tests.cases.stand_ins import stand_in_tasks

SKIN = Layer("skin", 1.0, 0.05, (0.012, 0.003), 0.495, False)
CORE = Layer("core", 6.0, 0.03, (0.007, 0.0), 0.49, True, 0.1125)


def problem(width: float = 5.2) -> Problem:
    rim = rim_from_dimensions(RimDimensions(16.5, width, 0.45, 0.6, 6.0, 8.0, 1.8, 60.0, 10.0))
    return Problem("a trial", rim, Lip((SKIN, CORE), 25.0, 0.0, "bonded", 0.0), Load(8.0, 0.0, 0.0, 0.0), Accuracy(5.0))


# --- problems ----------------------------------------------------------------------------------------------------


def test_whatever_befalls_one_problem_leaves_the_others() -> None:
    """The stand-in converges at 5 mm, stops at 6, has a bug at 7 and takes its process down at 8."""
    found = dict(solve_each([problem(width=w) for w in (5.0, 6.0, 7.0, 8.0, 5.2)], 2, stand_in.troubled))
    assert sorted(found) == list(range(5))
    assert found[1] == Stopped("stopped at 4.00 N: it stopped; press less", "not converged")
    assert found[2] == Stopped("ZeroDivisionError: somebody's slip", "failed")
    assert found[3] == Stopped("the worker process ended with exit code -9 (signal 9; out of memory?)", "failed")
    assert found[0].measures.contact_area_mm2 == pytest.approx(300.0)
    assert found[4].measures.contact_area_mm2 == pytest.approx(312.0)
    assert found[1].stop.force_reached == 4.0
    assert "stand_in_solver.py" in found[2].trace


def test_a_process_finds_what_solving_here_finds() -> None:
    ((_, there),) = solve_each([problem()])
    assert isinstance(there, Outcome)
    assert there.measures.peak_pressure_kpa == pytest.approx(solve(problem()).measures.peak_pressure_kpa, rel=1e-9)


def test_leaving_early_ends_the_processes() -> None:
    running = solve_each([problem()] * 3, 2, stand_in.troubled)
    next(running)
    running.close()
    with pytest.raises(StopIteration):
        next(running)
    assert not multiprocessing.active_children()


# --- any tasks ---------------------------------------------------------------------------------------------------


def begin_with(module: ModuleType, name: str) -> partial:
    return partial(nothing_opened, getattr(module, name))


def test_a_worker_has_one_thread_and_does_not_hear_ctrl_c(
    monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    (_, found), (_, again) = done_in_processes(begin_with(stand_in_tasks, "about_the_process"), ["x", "y"], 1)
    assert found["threads"] == dict.fromkeys(THREAD_VARIABLES, "1")
    assert found["deaf"]
    assert found["pid"] == again["pid"] != os.getpid()  # one worker does one task after another
    assert os.environ["OMP_NUM_THREADS"] == "3"
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_a_death_is_the_result_of_its_own_task_and_another_worker_takes_over() -> None:
    tasks = ["die", "fault", "fine", "die", "fine"]
    found = dict(done_in_processes(begin_with(stand_in_tasks, "as_told"), tasks, 1))
    assert [found[number] for number in (2, 4)] == ["fine", "fine"]
    assert {number: str(found[number]) for number in (0, 1, 3)} == {
        0: "the worker process ended with exit code -9 (signal 9; out of memory?)",
        1: "the worker process ended with exit code 1",
        3: "the worker process ended with exit code -9 (signal 9; out of memory?)",
    }
    assert all(isinstance(found[number], WorkerDied) for number in (0, 1, 3))


def test_what_a_worker_opened_is_closed_when_it_is_let_go(tmp_path: Path) -> None:
    log = tmp_path / "log"
    assert [done for _, done in done_in_processes(partial(stand_in_tasks.opened, log), ["a", "b"], 1)] == ["a", "b"]
    assert log.read_text() == "opened a b closed"


def test_there_are_no_more_workers_than_tasks_and_none_for_none() -> None:
    assert processes_for(9) == min(9, processors())
    assert (processes_for(9, 3), processes_for(2, 3), processes_for(0, 3)) == (3, 2, 0)
    assert list(solve_each([], 2, stand_in.at_once)) == []
