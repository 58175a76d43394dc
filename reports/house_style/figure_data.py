"""The numbers behind a figure, as a table that goes beside it."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

Cell = float | int | str


@dataclass(frozen=True)
class Table:
    """Rows under named columns; a name carries its unit (``radius_mm``)."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def column(self, name: str) -> list[Cell]:
        """Return one column; an unknown name is a ValueError."""
        place = self.columns.index(name)
        return [row[place] for row in self.rows]


def table(**columns: Iterable[Any]) -> Table:
    """Set columns of equal length (arrays or lists) side by side; unequal lengths are a ValueError."""
    cells = [[_cell(value) for value in values] for values in columns.values()]
    return Table(tuple(columns), tuple(zip(*cells, strict=True)))


def labelled(name: str, parts: Sequence[tuple[str, Table]]) -> Table:
    """Stack tables with the same columns, each row led by its part's label in a column called ``name``."""
    columns = parts[0][1].columns
    if any(part.columns != columns for _, part in parts):
        raise ValueError("tables to be stacked must have the same columns")
    rows = chain.from_iterable(((label, *row) for row in part.rows) for label, part in parts)
    return Table((name, *columns), tuple(rows))


def write_csv(data: Table, path: Path) -> Path:
    """Write a table as CSV (UTF-8, a header line); numbers read back to the last bit."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(data.columns)
        writer.writerows(data.rows)
    return path


def _cell(value: Any) -> Cell:
    plain = value.item() if hasattr(value, "item") else value
    return int(plain) if isinstance(plain, bool) else plain
