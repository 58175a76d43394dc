"""Worker processes for a page that must never freeze: each does one job at a time and can be stopped at any.

A job is told to stop between two iterations of its solve, which takes a few hundredths of a second and leaves the
process ready for the next job. A process that does not obey in time is killed and replaced, and so is one that died.
"""

from __future__ import annotations

import asyncio
import importlib
import threading
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Event
from typing import Any, Protocol

from labrum.cases.workers.process import SPAWN, Worker, WorkerDied, serve

OBEYS_WITHIN_S = 5.0


class Halt(BaseException):
    """Raised inside a job that is told to stop; not an Exception, so that no solver takes it for its own."""


class Job(Protocol):
    """Work that can be sent to a process."""

    def run(self, tell: Callable[[Any], None]) -> Any:
        """Do it and return what came of it; ``tell`` passes news on, and raises `Halt` when it is time to stop."""


class JobFailed(RuntimeError):
    """A job that ended with a fault of ours, or whose process died."""


@dataclass
class Hand:
    """A worker, its stop signal, and what it has said that was not yet read."""

    worker: Worker
    stop: Event
    inbox: asyncio.Queue[tuple[str, int, Any]] = field(default_factory=asyncio.Queue)


class Crew:
    """Some processes that take jobs in the order asked; each loads the modules of ``loaded`` while nobody waits."""

    def __init__(self, size: int, loaded: tuple[str, ...] = ()) -> None:
        self._size = size
        self._loaded = loaded
        self._idle: asyncio.Queue[Hand] = asyncio.Queue()
        self._all: list[Hand] = []
        self._settling: set[asyncio.Task[None]] = set()
        self._number = 0
        self._long = asyncio.Semaphore(max(1, size - 1))

    async def start(self) -> None:
        """Hire everybody; needs a running event loop."""
        for _ in range(self._size):
            self._idle.put_nowait(self._hire())

    @property
    def is_busy(self) -> bool:
        """Tell whether somebody is at work."""
        return self._idle.qsize() < self._size

    async def run_long(self, job: Job, tell: Callable[[Any], Any]) -> Any:
        """Like `run`, for a job that takes a while: one process, where there are several, is kept free of such."""
        async with self._long:
            return await self.run(job, tell)

    async def run(self, job: Job, tell: Callable[[Any], Any]) -> Any:
        """Have a job done and return its value; ``tell`` is called here with its news.

        Cancelling the task that waits here stops the job.

        Raises
        ------
        JobFailed
            If the job raised, or its process died.
        """
        hand = await self._idle.get()
        self._number += 1
        number, settled = self._number, False
        try:
            hand.stop.clear()
            hand.worker.give((number, job))
            while True:
                kind, about, value = await hand.inbox.get()
                if kind == "lost":
                    hand.inbox.put_nowait((kind, about, value))  # whoever tidies up must read it too
                    raise JobFailed(value)
                if about != number:
                    continue
                if kind == "news":
                    tell(value)
                    continue
                settled = True
                if kind == "done":
                    return value
                raise JobFailed(value)
        finally:
            self._release(hand, number, settled)

    async def close(self) -> None:
        """End every process."""
        for task in self._settling:
            task.cancel()
        for hand in self._all:
            hand.worker.end()
        self._all.clear()

    def _release(self, hand: Hand, number: int, settled: bool) -> None:
        if settled:
            self._idle.put_nowait(hand)
            return
        hand.stop.set()
        task = asyncio.get_running_loop().create_task(self._settle(hand, number))
        self._settling.add(task)
        task.add_done_callback(self._settling.discard)

    async def _settle(self, hand: Hand, number: int) -> None:
        """Wait until a stopped job has ended; replace a process that does not obey, or is gone."""
        try:
            async with asyncio.timeout(OBEYS_WITHIN_S):
                while True:
                    kind, about, _ = await hand.inbox.get()
                    if kind == "lost":
                        break
                    if about == number and kind != "news":
                        self._idle.put_nowait(hand)
                        return
        except TimeoutError:
            pass
        if hand in self._all:
            self._all.remove(hand)
            hand.worker.end()
            self._idle.put_nowait(self._hire())

    def _hire(self) -> Hand:
        stop = SPAWN.Event()
        hand = Hand(Worker.start(_work, stop, self._loaded), stop)
        listener = threading.Thread(target=_listen, args=(hand, asyncio.get_running_loop()), daemon=True)
        listener.start()
        self._all.append(hand)
        return hand


def _listen(hand: Hand, loop: asyncio.AbstractEventLoop) -> None:
    """Pass on what a process says; runs in a thread of its own until the line breaks."""
    # The loop may have been closed under us; then nobody listens any more.
    with suppress(RuntimeError):
        try:
            while True:
                loop.call_soon_threadsafe(hand.inbox.put_nowait, hand.worker.hear())
        except WorkerDied as gone:
            loop.call_soon_threadsafe(hand.inbox.put_nowait, ("lost", 0, str(gone)))


def _work(line: Connection, stop: Event, loaded: tuple[str, ...]) -> None:
    for name in loaded:
        importlib.import_module(name)
    serve(line, partial(_done, line, stop))


def _done(line: Connection, stop: Event, asked: tuple[int, Job]) -> tuple[str, int, Any]:
    number, job = asked

    def tell(news: Any) -> None:
        if stop.is_set():
            raise Halt
        if news is not None:
            line.send(("news", number, news))

    try:
        return "done", number, job.run(tell)
    except Halt:
        return "stopped", number, None
    except Exception as error:  # a fault of ours must reach the page as a sentence
        return "failed", number, f"{type(error).__name__}: {error}\n{traceback.format_exc(limit=3)}"
