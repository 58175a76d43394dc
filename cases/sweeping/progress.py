"""How far a sweep is and how long it will take: on stderr, one line."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TextIO

StopWatch = Callable[[], float]
SELDOM_S = 10.0


@dataclass
class Pace:
    """Counts finished cases and tells the time left, by ``clock`` in seconds; on a terminal in place."""

    stream: TextIO
    total: int
    clock: StopWatch
    quiet: bool = False
    done: int = 0
    failed: int = 0
    told: float = field(default=float("-inf"))
    started: float = field(default=0.0)

    def __post_init__(self) -> None:
        self.started = self.clock()

    def finished(self, converged: bool) -> None:
        """Count a case and tell how far the sweep is, not too often where lines pile up."""
        self.done += 1
        self.failed += not converged
        now = self.clock()
        terminal = self.stream.isatty()
        if self.quiet or (not terminal and now - self.told < SELDOM_S and self.done < self.total):
            return
        self.told = now
        start, end = ("\r\x1b[K", "") if terminal and self.done < self.total else ("\r\x1b[K" if terminal else "", "\n")
        print(f"{start}{self.line(now)}", end=end, file=self.stream, flush=True)

    def line(self, now: float) -> str:
        """Write where the sweep stands ``now``."""
        spent = now - self.started
        left = spent / self.done * (self.total - self.done)
        failed = f", {self.failed} failed" if self.failed else ""
        rate = 3600 * self.done / spent if spent > 0 else 0.0
        return f"{self.done}/{self.total} cases{failed}, {rate:.0f} an hour, {duration(left)} left"


@contextmanager
def closing_line(pace: Pace) -> Iterator[None]:
    """Leave the line of a sweep that ends before its last case: what is told next should stand on its own."""
    try:
        yield
    finally:
        if pace.stream.isatty() and not pace.quiet and 0 < pace.done < pace.total:
            print(file=pace.stream, flush=True)


def duration(seconds: float) -> str:
    """Write a time as a person would say it: ``42 s``, ``7 min``, ``3 h 20 min``."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"
