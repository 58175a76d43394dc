"""Solves tasks on this machine: worker processes with one thread each, nothing to install or start.

A worker keeps each case itself before it reports, so that not even the death of the process that called loses one. A
worker that dies takes only its own case with it and is replaced.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Generator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from labrum.cases.workers.store import KeptCase, Store
from labrum.cases.workers.task import THREADS, Solver, Task, lost, solved
from labrum.simulate.conclusions.solve_each import environment

FRESH = multiprocessing.get_context("spawn")  # a forked child would inherit threads that no longer run


@dataclass
class Worker:
    """A process, the line to it, and the task it is at."""

    process: BaseProcess
    line: Connection
    task: Task | None = None


def solve_here(tasks: Sequence[Task], store: Store, solver: Solver, workers: int) -> Generator[KeptCase, None, None]:
    """Solve the tasks on ``workers`` processes and yield each when it is kept, in the order they finish.

    Closing the iterator stops the workers; the cases they are at are not finished and not kept.
    """
    waiting = deque(tasks)
    crew: list[Worker] = []
    try:
        crew += [_hired(store, solver) for _ in range(min(workers, len(waiting)))]
        for worker in crew:
            _hand(worker, waiting)
        while busy := {worker.line: worker for worker in crew if worker.task is not None}:
            for line in wait(list(busy)):
                assert isinstance(line, Connection)
                worker = busy[line]
                yield _report(worker, store)
                if not worker.process.is_alive() and waiting:
                    crew.remove(worker)
                    worker = _hired(store, solver)
                    crew.append(worker)
                _hand(worker, waiting)
    finally:
        _dismiss(crew)


def processors() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _hand(worker: Worker, waiting: deque[Task]) -> None:
    worker.task = None
    if waiting:
        worker.task = waiting.popleft()
        try:
            worker.line.send(worker.task)
        except OSError:  # it died idle; the empty line tells when it is read
            return


def _report(worker: Worker, store: Store) -> KeptCase:
    """Read what a worker has to say; silence means it died, which is kept in its stead."""
    task = worker.task
    assert task is not None
    try:
        result: KeptCase = worker.line.recv()
        return result
    except (EOFError, OSError):
        worker.process.join()
        gone = lost(task, f"the worker process ended with {_how(worker.process.exitcode)}")
    # It may have kept the case and died before it could say so.
    kept = store.find([task.key]).get(task.key)
    if kept is None:
        store.keep(gone)
    return kept or gone


def _how(code: int | None) -> str:
    if code is not None and code < 0:
        return f"signal {-code}" + (" (out of memory?)" if -code == signal.SIGKILL else "")
    return f"exit code {code}"


def _hired(store: Store, solver: Solver) -> Worker:
    ours, theirs = FRESH.Pipe()
    process = FRESH.Process(target=_work, args=(theirs, store, solver), daemon=True)
    with environment(THREADS):
        process.start()
    theirs.close()
    return Worker(process, ours)


def _work(line: Connection, store: Store, solver: Solver) -> None:
    """Solve what comes down the line until it closes, also because whoever held the other end was killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the parent decides
    with suppress(EOFError, OSError), store.keeper() as keep:
        while True:
            task: Task = line.recv()
            result = solved(task, solver)
            keep(result)
            line.send(result)


def _dismiss(crew: list[Worker]) -> None:
    for worker in crew:
        worker.line.close()
        if worker.task is not None:
            worker.process.terminate()
    for worker in crew:
        worker.process.join()
        worker.process.close()
