"""Solves tasks on a dask.distributed cluster, an optional extra: the same tasks, the same rows.

Workers give their rows back instead of keeping them, for they may not reach the file. What a worker was at when it
died is handed to another, by dask; only a case that brings down several is given up.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from typing import Any

from labrum.cases.exits import CannotDo
from labrum.cases.workers.store import KeptCase, Store
from labrum.cases.workers.task import Solver, Task, lost, solved

SCHEDULER_PATIENCE_S = 30


class NoCluster(CannotDo):
    """A scheduler that cannot be used: the extra is missing, or nobody answers at the address."""


def solve_there(tasks: Sequence[Task], store: Store, solver: Solver, address: str) -> Generator[KeptCase, None, None]:
    """Solve the tasks on the cluster at ``address`` and yield each when it is kept, in the order they finish.

    Closing the iterator takes back what is not finished.

    Raises
    ------
    NoCluster
        If the extra is missing or nobody answers.
    """
    distributed = _library()
    client = _client(distributed, address)
    futures: dict[Any, Task] = {}
    try:
        futures |= {client.submit(solved, task, solver, key=f"labrum-{task.key}", pure=True): task for task in tasks}
        for future in distributed.as_completed(futures, loop=client.loop):
            result = _result(distributed, future, futures[future])
            store.keep(result)
            future.release()
            yield result
    finally:
        client.cancel([future for future in futures if not future.done()])
        client.close()


def _library() -> Any:
    try:
        import distributed
    except ModuleNotFoundError:
        raise NoCluster("--scheduler needs dask: pip install 'labrum[cluster]'") from None
    return distributed


def _client(distributed: Any, address: str) -> Any:
    try:
        return distributed.Client(address, timeout=SCHEDULER_PATIENCE_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise NoCluster(f"no scheduler answers at {address}: {error}") from None


def _result(distributed: Any, future: Any, task: Task) -> KeptCase:
    try:
        result: KeptCase = future.result()
        return result
    except distributed.KilledWorker:
        return lost(task, "several workers of the cluster died at this case")
    except Exception as error:  # whatever else keeps a cluster from answering, such as a worker without labrum
        return lost(task, f"the cluster gave {type(error).__name__}: {error}")
