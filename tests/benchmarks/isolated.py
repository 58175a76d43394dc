"""Runs one measurement in a process of its own: its cores and threads set before anything heavy is loaded.

Run as ``python -m tests.benchmarks.isolated JOB OPTIONS OUT``, which is what `measured` does.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
from importlib import import_module
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
JOBS = {
    "machine": "machine.facts",
    "cold": "solves.cold",
    "warm": "solves.warm",
    "history": "solves.history",
    "floor": "floors.floor",
    "sweep": "sweeps.sweep",
    "growth": "growth.growth",
    "hundred-thousand": "growth.hundred_thousand",
    "playing": "playing.playing",
    "living": "solves.living",
    "process": "whole_process.process",
}


def measured(job: str, cores: int, options: dict[str, Any]) -> dict[str, Any]:
    """Run a job on so many cores with as many threads; return what it found, or why it did not.

    A job that fails leaves the other measurements their turn: its record has a key ``failed``.
    """
    environment = {**os.environ, **dict.fromkeys(THREADS, str(cores)), "PYTHONPATH": _path()}
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder, "found.json")
        asked = json.dumps({"cores": cores, **options})
        words = [sys.executable, "-m", f"{__package__}.isolated", job, asked, str(out)]
        done = subprocess.run(words, env=environment, cwd=ROOT, capture_output=True, text=True)
        if done.returncode == 0:
            found: dict[str, Any] = json.loads(out.read_text())
            return found
    print(done.stderr, file=sys.stderr)
    return {"failed": (done.stderr.strip().splitlines() or [f"exit code {done.returncode}"])[-1]}


def _path() -> str:
    return os.pathsep.join([str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])])


def pin(cores: int) -> None:
    """Keep this process, and those it starts, on the first ``cores`` processors it may use, where that can be asked."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, set(sorted(os.sched_getaffinity(0))[:cores]))


def peak_memory_mb() -> float:
    """Most memory this program held at any time.

    Linux is asked for the program's own: the usual figure, ``ru_maxrss``, never falls below that of its parent.
    """
    status = Path("/proc/self/status")
    lines = status.read_text().splitlines() if status.exists() else []
    own = [float(line.split()[1]) for line in lines if line.startswith("VmHWM:")]
    return (own or [float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)])[0] / 1024.0


def run(job: str, options: dict[str, Any]) -> dict[str, Any]:
    """Do a job in this process and add to what it found the memory it took."""
    module, _, name = JOBS[job].partition(".")
    function = getattr(import_module(f".{module}", __package__), name)
    before = peak_memory_mb()
    found: dict[str, Any] = function(**options)
    peak = peak_memory_mb()
    memory = {"memory_after_imports_mb": before, "peak_memory_mb": peak, "own_memory_mb": peak - before}
    return {**memory, **found}


def main(job: str, options: str, out: str) -> None:
    """Pin, do the job, write what it found."""
    asked = json.loads(options)
    pin(asked.pop("cores"))
    Path(out).write_text(json.dumps(run(job, asked)))


if __name__ == "__main__":
    main(*sys.argv[1:])
