"""The demo as a user asks for it: a whole process, the start of Python and all imports with it."""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
from typing import Any

START = "from labrum.cases.entry import begin; begin()"


def process(repeats: int) -> dict[str, Any]:
    """Median CPU s of ``labrum solve demo --json``, and of a Python that does nothing but load numpy and typer."""
    solve = [sys.executable, "-c", START, "solve", "demo", "--json"]
    bare = [sys.executable, "-c", "import numpy, typer"]
    _cpu_seconds(solve)  # the first may write bytecode
    return {
        "cpu_seconds": statistics.median(_cpu_seconds(solve) for _ in range(repeats)),
        "bare_cpu_seconds": statistics.median(_cpu_seconds(bare) for _ in range(repeats)),
    }


def _cpu_seconds(words: list[str]) -> float:
    before = _children()
    subprocess.run(words, check=True, capture_output=True)
    return _children() - before


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
