"""On what, and with what, a measurement was made."""

from __future__ import annotations

import os
import platform
import subprocess
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from labrum import simulate
from labrum.cases.solving.provenance import checkout_state, library_version

from .solvers import available

FOLDERS = ("meshes", "simulate", "reports", "cases")
LIBRARIES = ("numpy", "scipy", "pypardiso", "cvxopt", "kvxopt", "qdldl")


def facts() -> dict[str, Any]:
    """Machine, versions, commit and time."""
    return {
        "processor": _processor(),
        "cores": os.cpu_count(),
        "memory_mb": os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**20,
        "load_average": os.getloadavg()[0],
        "platform": platform.platform(),
        "python": platform.python_version(),
        "libraries": {name: library_version(name) for name in LIBRARIES},
        "blas": _blas(),
        "solvers": [solver.name for solver in available()],
        "git": _checkout(Path(str(simulate.__file__)).parents[1]),
        "started_utc": datetime.now(UTC).isoformat(timespec="seconds"),
    }


def _checkout(root: Path) -> dict[str, Any] | None:
    """The commit, and whether what is measured has changed since; the suite itself may be newer."""
    state = checkout_state(root / "simulate")
    if state is None:
        return None
    words = ["git", "-C", str(root), "status", "--porcelain", "--", *FOLDERS]
    return {**state, "changed": bool(subprocess.run(words, capture_output=True, check=True).stdout)}


def _processor() -> str:
    """The processor's name as Linux tells it, else as Python does."""
    cpuinfo = Path("/proc/cpuinfo")
    lines = cpuinfo.read_text().splitlines() if cpuinfo.exists() else []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return (names or [platform.processor() or platform.machine()])[0]


def _blas() -> str:
    built: Any = np.show_config(mode="dicts")
    blas = built["Build Dependencies"]["blas"]
    return f"{blas['name']} {blas['version']}"
