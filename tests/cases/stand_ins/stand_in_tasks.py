"""Functions that worker processes can import by name, and that tell of the process they run in."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any


def about_the_process(task: str) -> dict[str, Any]:
    threads = {name: value for name, value in os.environ.items() if name.endswith("_NUM_THREADS")}
    return {"pid": os.getpid(), "deaf": signal.getsignal(signal.SIGINT) is signal.SIG_IGN, "threads": threads}


def as_told(task: str) -> str:
    """Die by signal 9, or by an exception that nobody turned into a value, or be fine."""
    if task == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if task == "fault":
        raise ValueError("nobody caught this")
    return task


@contextmanager
def opened(log: Path) -> Iterator[Callable[[str], str]]:
    """Write down when something is opened, used and closed."""
    with log.open("w") as stream:
        stream.write("opened")

        def use(task: str) -> str:
            stream.write(f" {task}")
            return task

        yield use
        stream.write(" closed")
