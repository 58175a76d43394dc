"""What is wrong with an input, said so that a person can mend it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong with one value.

    Parameters
    ----------
    key
        Dotted name of the value, as in the case file (``rim.width_mm``).
    got
        What was read, as text.
    allowed
        What would be accepted, with its unit.
    hint
        One suggested action; may be empty.
    """

    key: str
    got: str
    allowed: str
    hint: str = ""


def printable(text: str) -> str:
    """Write out what a terminal would obey or swallow: a file may hold any character."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def printable_lines(text: str) -> str:
    """Like `printable`, but for text of several lines, perhaps in columns."""
    return "".join(c if c in "\n\t" else printable(c) for c in text)


class GeometryError(ValueError):
    """A shape that cannot be: carries every fault found, not only the first."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("; ".join(f"{f.key}: got {f.got}, allowed {f.allowed}" for f in faults))

    def __reduce__(self) -> tuple[type[GeometryError], tuple[tuple[Fault, ...]]]:
        """Let the exception cross a process border, as it must in a sweep."""
        return type(self), (self.faults,)
