"""One worker process: started with one thread and deaf to Ctrl-C, given tasks down a line, heard, and ended.

Whoever needs processes stands on this: `labrum.cases.workers.pool` for a list of tasks, and
`labrum.cases.workers.page_crew` for a page that must never wait.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from labrum.cases.solving.provenance import THREAD_VARIABLES

SPAWN = multiprocessing.get_context("spawn")  # a forked child would inherit threads that no longer run
ONE_THREAD = dict.fromkeys(THREAD_VARIABLES, "1")
"""Workers that each start a thread for every core slow one another down."""
OBEYS_END_WITHIN_S = 1.0


class WorkerDied(RuntimeError):
    """A worker process that ended before it answered; its text says how."""


@dataclass(frozen=True, eq=False)
class Worker:
    """A process at work and the line to it."""

    process: BaseProcess
    line: Connection

    @classmethod
    def start(cls, work: Callable[..., None], *arguments: Any) -> Worker:
        """Start ``work(line, *arguments)``; a script that comes here needs ``if __name__ == "__main__"``."""
        ours, theirs = SPAWN.Pipe()
        process = SPAWN.Process(target=work, args=(theirs, *arguments), daemon=True)
        with _environment(ONE_THREAD), _deaf_to_interrupts():
            process.start()
        theirs.close()
        return cls(process, ours)

    def give(self, task: Any) -> None:
        """Hand a task over; that the process is gone already shows when it is to be heard."""
        with suppress(OSError):
            self.line.send(task)

    def hear(self) -> Any:
        """Wait for what the process has to say; raises `WorkerDied`."""
        try:
            return self.line.recv()
        except (EOFError, OSError):
            self.process.join()
            self.line.close()
            raise WorkerDied(self.how_it_ended()) from None

    def how_it_ended(self) -> str:
        """Say how a process that has ended did so."""
        code = self.process.exitcode
        memory = "; out of memory?" if code == -signal.SIGKILL else ""
        by_signal = f" (signal {-code}{memory})" if code is not None and code < 0 else ""
        return f"the worker process ended with exit code {code}{by_signal}"

    def release(self) -> None:
        """Let an idle process end by itself."""
        self.line.close()
        self.process.join()

    def end(self) -> None:
        """End the process whatever it is at."""
        self.process.terminate()
        self.process.join(OBEYS_END_WITHIN_S)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()


def serve(line: Connection, do: Callable[[Any], Any]) -> None:
    """Do what comes down the line, in the worker, until it closes: also because whoever held the other end was killed.

    ``do`` turns whatever befalls a task into a value; an exception of it ends the process.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the parent decides
    while True:
        try:
            task = line.recv()
        except (EOFError, OSError):
            return
        done = do(task)
        try:
            line.send(done)
        except OSError:
            return


def processors() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Let a child about to start inherit that it ignores Ctrl-C.

    It must be deaf from its first instruction, not only once it has loaded what tells it so. Only a main thread may
    change this, and only there does Python hear Ctrl-C.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def _environment(extra: dict[str, str]) -> Iterator[None]:
    """Set variables for a child about to start; libraries read them when they are loaded."""
    before = {name: os.environ.get(name) for name in extra}
    os.environ.update(extra)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
