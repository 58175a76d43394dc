"""Solves a sweep's tasks on this machine, nothing to install or start.

A worker keeps each case itself before it reports, so that not even the death of the process that called loses one.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import partial

from labrum.cases.workers.pool import done_in_processes
from labrum.cases.workers.process import WorkerDied
from labrum.cases.workers.store import KeptCase, Store, UnusableStore
from labrum.cases.workers.task import Solver, Task, lost, solved


def solve_here(tasks: Sequence[Task], store: Store, solver: Solver, workers: int) -> Generator[KeptCase, None, None]:
    """Solve the tasks on ``workers`` processes (0: one a processor); yield each when it is kept, as they finish.

    Closing the iterator stops the workers; the cases they are at are not finished and not kept.
    """
    with closing(done_in_processes(partial(_keeping, store, solver), tasks, workers)) as results:
        for number, result in results:
            if isinstance(result, Unkept):
                store.keep(result.case)  # the disk may have room by now; else the sweep ends with the numbers told
                result = result.case
            yield _lost(tasks[number], store, result) if isinstance(result, WorkerDied) else result


@dataclass(frozen=True)
class Unkept:
    """A finished case that a worker found nowhere to keep."""

    case: KeptCase


@contextmanager
def _keeping(store: Store, solver: Solver) -> Iterator[Callable[[Task], KeptCase | Unkept]]:
    """Hold the store open, in a worker, for all the cases it will solve."""
    with store.keeper() as keep:

        def solve_and_keep(task: Task) -> KeptCase | Unkept:
            result = solved(task, solver)
            try:
                keep(result)
            except UnusableStore:
                return Unkept(result)
            return result

        yield solve_and_keep


def _lost(task: Task, store: Store, gone: WorkerDied) -> KeptCase:
    """Keep, in a dead worker's stead, that it died; it may have kept the case and died before it could say so."""
    kept = store.find([task.key]).get(task.key)
    if kept is not None:
        return kept
    result = lost(task, str(gone))
    store.keep(result)
    return result
