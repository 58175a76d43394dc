"""What processes that were killed have left half done: told from what living ones are at, and swept away.

A process that fills something holds a lock on it, which the system takes from it however it ends. A process's number
would not do: another may have it by now. Where the system has no such locks nothing is swept.
"""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

try:
    import fcntl
except ImportError:  # not on Windows
    fcntl = None  # type: ignore[assignment]

MARK = ".being-filled"
PARTS = ".*.part-*"
FINISHED = "result.json"
"""What a run's folder holds once there is a result: such a folder is never swept away, whoever left it."""


@dataclass(frozen=True)
class Claim:
    """A lock on ``mark``, held open as ``handle`` by the process that fills what the mark stands in.

    Where the system has no locks nothing is held open: an open file there keeps its folder from being renamed.
    """

    mark: Path
    handle: int | None

    @classmethod
    def on(cls, folder: Path) -> Claim:
        """Claim a folder that this process has just made."""
        mark = folder / MARK
        early = mark.with_name(f"{MARK}-{os.getpid()}")  # locked before it is the mark: nobody sees it unlocked
        handle = os.open(early, os.O_CREAT | os.O_RDWR, 0o600)
        with suppress(OSError):  # some network disks have no locks
            _lock(handle)
        early.rename(mark)
        if fcntl is None:
            os.close(handle)
        return cls(mark, None if fcntl is None else handle)

    def release(self, folder: Path) -> None:
        """Give it up, and take the mark away from where the ``folder`` now stands."""
        (folder / self.mark.name).unlink(missing_ok=True)
        if self.handle is not None:
            os.close(self.handle)


def sweep_folders(around: Path) -> None:
    """Remove the unfinished folders in ``around`` that dead processes left without a result; see `Claim`."""
    for part in around.glob(PARTS):
        if not (part / FINISHED).exists() and _left_by_the_dead(part / MARK):
            shutil.rmtree(part, ignore_errors=True)


def sweep_files(target: Path) -> None:
    """Remove the unfinished files that dead processes left while they wrote ``target``; see `written_whole`."""
    for part in target.parent.glob(f"{_escaped(target.name)}"):
        if _left_by_the_dead(part):
            part.unlink(missing_ok=True)


def written_whole(target: Path, content: bytes) -> None:
    """Write a file beside its place, locked, and put it there when it is whole; raises `OSError`."""
    part = target.with_name(f".{target.name}.part-{os.getpid()}")
    handle = os.open(part, os.O_CREAT | os.O_RDWR | os.O_TRUNC, 0o666)
    try:
        with os.fdopen(handle, "wb") as stream:
            with suppress(OSError):
                _lock(handle)
            stream.write(content)
            stream.flush()
            part.replace(target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _escaped(name: str) -> str:
    plain = "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)
    return f".{plain}.part-*"


def _left_by_the_dead(mark: Path) -> bool:
    """Tell whether nobody holds a lock on a file any more; not where that cannot be told."""
    try:
        handle = os.open(mark, os.O_RDWR)
    except OSError:
        return False
    try:
        return _lock(handle)
    except OSError:
        return False
    finally:
        os.close(handle)


def _lock(handle: int) -> bool:
    if fcntl is None:
        return False
    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    return True
