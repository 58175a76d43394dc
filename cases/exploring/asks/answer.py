"""An answer as the page shows it: sentences, tables and files to keep."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

Tell = Callable[[Any], None]
Files = Mapping[str, str]
"""Texts of files that the page sent along, by name."""


@dataclass(frozen=True)
class PageTable:
    """A table: its caption, its column heads, and rows of cells as text."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class PageFile:
    """A file to keep: name, media type, and its bytes in base 64."""

    name: str
    type: str
    base64: str

    @classmethod
    def of(cls, name: str, kind: str, content: bytes) -> PageFile:
        """Pack a file's content."""
        return cls(name, kind, base64.b64encode(content).decode())


@dataclass(frozen=True)
class FurtherAnswer:
    """What came of a question: the answer in ``words`` first, then what it rests on."""

    words: tuple[str, ...]
    tables: tuple[PageTable, ...] = ()
    files: tuple[PageFile, ...] = ()
    kept: dict[str, Any] | None = None
    """What the page sends back to have one of several things found made into files."""

    @property
    def plain(self) -> dict[str, Any]:
        """The answer as it is sent."""
        return asdict(self)


def counted(tell: Tell, done: int, of: int, words: str) -> None:
    """Tell how far a question is."""
    tell({"share": round(done / of, 3), "words": f"{words}: {done} of {of}"})


def cells(*values: object) -> tuple[str, ...]:
    """A row of text, numbers to four digits."""
    return tuple(f"{value:.4g}" if isinstance(value, float) else str(value) for value in values)


def rows_of_cells(rows: Sequence[Sequence[object]]) -> tuple[tuple[str, ...], ...]:
    """Rows of text."""
    return tuple(cells(*row) for row in rows)
