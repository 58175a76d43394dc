"""Places on the disk that people name: looked at without an exception, whatever the name or the disk is like."""

from __future__ import annotations

import stat
from pathlib import Path

from labrum.cases.exits import BadInput

NO_NAME = "no name that a file can have"


class ImpossibleName(BadInput):
    """A place that nothing can ever stand at, such as one with a zero character in its name."""

    def __init__(self, place: Path) -> None:
        super().__init__(f"labrum: {str(place)!r}: {NO_NAME}")


def trouble_with(path: Path) -> str:
    """Say why no file can be read at a path; empty where reading one can be tried."""
    try:
        mode = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return "no such file"
    except OSError as error:
        return reason_of(error)
    except ValueError:  # what no file can be called: a zero character, half a character
        return NO_NAME
    return "a directory" if stat.S_ISDIR(mode) else ""


def reason_of(error: OSError) -> str:
    """Put an error of the disk in a few words."""
    return (error.strerror or str(error)).lower()


def is_file(path: Path) -> bool:
    """Tell whether something that reads like a file stands at a path; none is at a place that cannot be seen."""
    return not trouble_with(path)


def is_taken(path: Path) -> bool:
    """Tell whether a place holds anything but an empty folder.

    Raises
    ------
    OSError
        If that cannot be seen.
    """
    if path.is_symlink() and not path.exists():  # it leads nowhere, and a new folder cannot stand there
        return True
    return path.exists() and (not path.is_dir() or any(path.iterdir()))
