"""Where a result came from: versions, machine, command, times and the inputs' hashes."""

from __future__ import annotations

import hashlib
import os
import platform
import subprocess
from datetime import datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from labrum.simulate.compiled import described

LIBRARIES = ("numpy", "scipy", "matplotlib", "meshio", "scikit-fem", "typer")
THREAD_VARIABLES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")


def provenance(
    command: tuple[str, ...], started: datetime, ended: datetime, inputs: dict[str, bytes]
) -> dict[str, Any]:
    """Everything needed to tell two runs apart; ``inputs`` are the contents of the files used, by name."""
    return {
        "labrum": own_version(),
        "git": checkout_state(Path(__file__).parent),
        "python": platform.python_version(),
        "libraries": {name: library_version(name) for name in LIBRARIES},
        "kernels": described(),
        "platform": platform.platform(),
        "processors": os.cpu_count(),
        "threads": {name: os.environ[name] for name in THREAD_VARIABLES if name in os.environ},
        "command": list(command),
        "started_utc": started.isoformat(timespec="seconds"),
        "ended_utc": ended.isoformat(timespec="seconds"),
        "sha256": {name: hashlib.sha256(data).hexdigest() for name, data in inputs.items()},
    }


def own_version() -> str:
    """Version of the installed distribution, or ``"not installed"`` when run from a bare checkout."""
    return library_version("labrum") or "not installed"


def checkout_state(folder: Path) -> dict[str, Any] | None:
    """Commit of the checkout that tracks ``folder``'s files and whether it has changes; None outside any.

    A virtual environment may stand inside somebody else's checkout, so ask git whether it knows the file.
    """
    if _git(folder, "ls-files", "--error-unmatch", "__init__.py") is None:
        return None
    commit, changes = _git(folder, "rev-parse", "HEAD"), _git(folder, "status", "--porcelain")
    return None if commit is None else {"commit": commit, "changed": bool(changes)}


def _git(folder: Path, *words: str) -> str | None:
    try:
        done = subprocess.run(["git", "-C", str(folder), *words], capture_output=True, text=True, timeout=10)
    except (OSError, subprocess.TimeoutExpired):
        return None
    return done.stdout.strip() if done.returncode == 0 else None


def library_version(name: str) -> str | None:
    """Version of an installed distribution; None where it is not installed."""
    try:
        return version(name)
    except PackageNotFoundError:
        return None
