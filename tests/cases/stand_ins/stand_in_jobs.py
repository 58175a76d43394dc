"""Jobs for the page's worker processes that do not solve anything."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Double:
    number: int

    def run(self, tell: Callable[[Any], None]) -> int:
        tell({"share": 0.5})
        return 2 * self.number


@dataclass(frozen=True)
class Forever:
    """Works on until it is told to stop."""

    def run(self, tell: Callable[[Any], None]) -> None:
        while True:
            tell({"pid": os.getpid()})
            time.sleep(0.01)


@dataclass(frozen=True)
class Deaf:
    """Does not listen for a stop."""

    def run(self, tell: Callable[[Any], None]) -> None:
        tell({"pid": os.getpid()})
        time.sleep(600)


@dataclass(frozen=True)
class Broken:
    def run(self, tell: Callable[[Any], None]) -> None:
        raise ValueError("no good")


@dataclass(frozen=True)
class Killed:
    def run(self, tell: Callable[[Any], None]) -> None:
        os.kill(os.getpid(), signal.SIGKILL)
