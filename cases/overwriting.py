"""Writing over what stands there: only where that was asked for, and never over what no command of ours wrote."""

from __future__ import annotations

import os
import shutil
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path

from labrum.cases.exits import CannotDo
from labrum.cases.places import is_taken

OURS = (
    "result.json", "provenance.json", "comparison.json", "gauge.json", "lip.json", "present.json", "shortlist.json",
    "pieces.csv", "rim.toml", "wide-enough.csv", "map.csv", "trade-off.csv", "steadiness.csv", "tolerance.csv",
)  # fmt: skip
"""What tells a folder that a command wrote: each leaves one of these."""


class UnusableFolder(CannotDo):
    """A place where no folder can be made."""


def written_by_us(place: Path) -> bool:
    """Tell whether a place is a folder that a command of ours wrote."""
    return place.is_dir() and not place.is_symlink() and any((place / name).is_file() for name in OURS)


def refuse_taken_folder(target: Path, force: bool) -> None:
    """Refuse a folder that holds something, unless it may be written over and a command of ours wrote it.

    Raises
    ------
    UnusableFolder
        Where it is refused.
    OSError
        Where the place cannot be seen.
    """
    if not is_taken(target):
        return
    if not force:
        raise UnusableFolder(f"{target} exists and is not empty: name another folder, or write over it with --force")
    if Path.cwd().is_relative_to(target.resolve()):
        raise UnusableFolder(f"{target} is where this command runs: name another folder")
    if not written_by_us(target):
        raise UnusableFolder(f"{target} was not written by labrum: --force does not write over it; name another folder")


def refuse_taken_file(target: Path, force: bool) -> None:
    """Refuse a file that is there, unless it may be written over; raises `CannotDo`."""
    if target.is_dir():
        raise CannotDo(f"cannot write {target}: it is a folder; name the file to write")
    if not force and (target.exists() or target.is_symlink()):
        raise CannotDo(f"cannot write {target}: it exists; name another file, or write over it with --force")


def put_in_place(whole: Path, target: Path) -> None:
    """Rename a folder to its target; what stood there is set aside first, and comes back if that fails.

    Where a kill comes between the two it is put back when something is next written there.
    """
    if not is_taken(target):
        whole.rename(target)
        return
    old = target.with_name(f".{target.name}.old-{os.getpid()}")
    target.rename(old)
    try:
        whole.rename(target)
    except BaseException:
        old.rename(target)
        raise
    clear_away(old, OURS)


def clear_away(folder: Path, last: Collection[str]) -> None:
    """Remove a folder as far as that can be done, the files named ``last`` after all others.

    By those it is known: so is then what a kill leaves of it.
    """
    with suppress(OSError):
        for path in sorted(folder.iterdir(), key=lambda path: path.name in last):
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            else:
                path.unlink(missing_ok=True)
        folder.rmdir()
