"""What processes that were killed have left half done: told from what living ones are at, and swept away.

A process that fills something holds a lock on it, which the system takes from it however it ends. A process's number
would not do: another may have it by now. Where the system has no such locks nothing is swept.
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from labrum.cases.overwriting import OURS, clear_away, written_by_us
from labrum.cases.places import is_taken

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
        """Claim a folder that this process has just made; raises `FileNotFoundError` where it was swept meanwhile."""
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
    """Remove the unfinished folders in ``around`` that dead processes left without a result; see `Claim`.

    One that nobody has claimed yet goes only if it is empty: whoever is about to claim it makes another.
    """
    for part in around.glob(PARTS):
        if not part.is_dir() or (part / FINISHED).exists():
            continue
        if _left_by_the_dead(part / MARK):
            clear_away(part, (MARK,))
        elif not (part / MARK).exists():
            for early in part.glob(f"{MARK}-*"):
                if _left_by_the_dead(early):
                    early.unlink(missing_ok=True)
            _remove_empty(part)


def _remove_empty(folder: Path) -> None:
    if fcntl is not None:
        with suppress(OSError):  # it is not empty
            folder.rmdir()


def settle_set_aside(target: Path) -> None:
    """Put back what a process set aside to write over it and was killed before it could; else remove it.

    It is removed where something stands at the target again. Nothing is done while anybody fills a part for that
    target, nor to a folder that no command of ours wrote, whatever it is called.
    """
    old = [*target.parent.glob(_escaped(target.name, "old"))]
    filled = (target, *target.parent.glob(_escaped(target.name, "part")))
    if not old or any((place / MARK).exists() and not _left_by_the_dead(place / MARK) for place in filled):
        return
    for place in old:
        if not written_by_us(place):
            _remove_empty(place)  # no more of it was left to remove
        elif is_taken(target):
            clear_away(place, OURS)
        else:
            place.rename(target)


def sweep_files(target: Path) -> None:
    """Remove the unfinished files that dead processes left while they wrote ``target``; see `written_whole`."""
    for part in target.parent.glob(_escaped(target.name, "part")):
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


def _escaped(name: str, what: str) -> str:
    plain = "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)
    return f".{plain}.{what}-*"


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
