"""A list of tasks done by worker processes, each result handed over as it is finished.

A worker does one task after another. One that dies takes only its own task with it and is replaced.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from typing import Any, TypeVar

from labrum.cases.workers.process import Worker, WorkerDied, processors, serve

SomeTask = TypeVar("SomeTask")
SomeDone = TypeVar("SomeDone")
Begin = Callable[[], AbstractContextManager[Callable[[SomeTask], SomeDone]]]
"""Opens what a worker needs and gives the function that does a task; must be importable by name. See `serve`."""


def done_in_processes(
    begin: Begin[SomeTask, SomeDone], tasks: Sequence[SomeTask], workers: int = 0
) -> Generator[tuple[int, SomeDone | WorkerDied], None, None]:
    """Do the tasks on so many worker processes (0: one a processor); yield each one's number and what came of it.

    They come in the order they finish. Closing the generator, or an interrupt, ends the processes at work.
    """
    team = _Team(begin, processes_for(len(tasks), workers), deque(enumerate(tasks)))
    try:
        team.feed()
        while team.busy:
            for line in wait(list(team.busy)):
                assert isinstance(line, Connection)
                number, done = team.heard(line)
                team.feed()  # nobody should stand idle while the caller looks at this one
                yield number, done
    finally:
        team.dismiss()


def processes_for(tasks: int, workers: int = 0) -> int:
    """How many processes so many tasks are done by where ``workers`` are asked for, 0 being one a processor."""
    return min(workers or processors(), tasks)


@contextmanager
def nothing_opened(do: Callable[[SomeTask], SomeDone]) -> Iterator[Callable[[SomeTask], SomeDone]]:
    """Begin, for a function that needs nothing to be opened."""
    yield do


@dataclass
class _Team:
    """Workers, those idle and those at a task by their lines, and the tasks that wait."""

    begin: Begin[Any, Any]
    size: int
    waiting: deque[tuple[int, Any]]
    idle: list[Worker] = field(default_factory=list)
    busy: dict[Connection, tuple[int, Worker]] = field(default_factory=dict)

    def feed(self) -> None:
        """Give waiting tasks out, and hire where hands are missing."""
        while self.waiting and len(self.busy) < self.size:
            worker = self.idle.pop() if self.idle else Worker.start(_work, self.begin)
            number, task = self.waiting.popleft()
            self.busy[worker.line] = number, worker
            worker.give(task)

    def heard(self, line: Connection) -> tuple[int, Any]:
        """Read what a worker has to say of its task; what it says when it is dead is how it died."""
        number, worker = self.busy.pop(line)
        try:
            done = worker.hear()
        except WorkerDied as gone:
            return number, gone
        self.idle.append(worker)
        return number, done

    def dismiss(self) -> None:
        """End those at work, and let the idle go."""
        for _, worker in self.busy.values():
            worker.end()
        for worker in self.idle:
            worker.release()


def _work(line: Connection, begin: Begin[Any, Any]) -> None:
    with begin() as do:
        serve(line, do)
