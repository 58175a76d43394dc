"""Many problems solved at once, each in a process of its own with one thread."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Literal

from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged, Problem

WORKERS = 2
FRESH = multiprocessing.get_context("spawn")  # a forked child would inherit threads that no longer run
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"), "1")

Solver = Callable[[Problem], Outcome]


@dataclass(frozen=True)
class Stopped:
    """A problem that has no outcome: ``reason`` in words; ``kind`` tells no equilibrium from a fault of ours."""

    reason: str
    kind: Literal["not converged", "failed"]


Result = Outcome | Stopped


def solved(problem: Problem) -> Outcome:
    """Solve, silently."""
    from labrum.simulate.solving import solve

    return solve(problem)


def solve_each(
    problems: Sequence[Problem], workers: int = WORKERS, solver: Solver = solved
) -> Generator[tuple[int, Result], None, None]:
    """Solve problems ``workers`` at a time; yield each one's number and result in the order they finish.

    A process per problem costs a third of a second and keeps what befalls one, be it memory, from the others.
    Closing the generator, or an interrupt, ends the processes at work. A script of one's own that calls this needs
    the usual ``if __name__ == "__main__"``, for the processes import it; ``solver`` must be importable by name.
    """
    waiting = deque(enumerate(problems))
    running: dict[Connection, tuple[int, BaseProcess]] = {}
    try:
        while waiting or running:
            while waiting and len(running) < workers:
                number, problem = waiting.popleft()
                line, process = _started(problem, solver)
                running[line] = number, process
            ready = wait(list(running))
            for line in [line for line in running if line in ready]:
                number, process = running.pop(line)
                yield number, _heard(line, process)
    finally:
        for line, (_, process) in running.items():
            process.terminate()
            process.join()
            line.close()


def _started(problem: Problem, solver: Solver) -> tuple[Connection, BaseProcess]:
    ours, theirs = FRESH.Pipe(duplex=False)
    process = FRESH.Process(target=_work, args=(theirs, problem, solver), daemon=True)
    with environment(ONE_THREAD), _deaf_to_interrupts():
        process.start()
    theirs.close()
    return ours, process


def _work(line: Connection, problem: Problem, solver: Solver) -> None:
    try:
        result: Result = solver(problem)
    except NotConverged as stop:
        result = Stopped(str(stop), "not converged")
    except Exception as error:  # one bad problem must not end the others
        result = Stopped(f"{type(error).__name__}: {error}", "failed")
    try:
        line.send(result)
    except OSError:  # whoever asked is gone
        return


def _heard(line: Connection, process: BaseProcess) -> Result:
    """Read what a process found; silence means it died."""
    try:
        result: Result = line.recv()
    except (EOFError, OSError):
        process.join()
        result = Stopped(f"its process ended with exit code {process.exitcode}", "failed")
    line.close()
    process.join()
    return result


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Let a child about to start inherit that it ignores Ctrl-C, which reaches the whole group: the parent decides.

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
def environment(extra: dict[str, str]) -> Iterator[None]:
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
