"""Measured profiles as text: rows of two numbers, with what the file says of its unit and of its first column."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.traces.raw_trace import (
    FEWEST_POINTS,
    UNITS_MM,
    CountsFrom,
    RawTrace,
    TraceError,
    agreed_unit,
    fault,
    refuse,
)

_UNIT_WORDS = {"mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
               "in": "inch", "inch": "inch", "inches": "inch", '"': "inch", "um": "um", "µm": "um", "μm": "um",
               "micron": "um", "microns": "um", "cm": "cm", "m": "m"}
_ACROSS = {"r": "axis", "radius": "axis", "x": "anywhere"}
_HEIGHT = ("s", "z", "h", "height", "y", "depth")
MOST_FAULTS = 12
LINE_ENDS = "\n\r\v\f\x1c\x1d\x1e\x85\u2028\u2029"  # all that str.splitlines knows
MOST_ROWS, MOST_COLUMNS = 100_000, 100
LARGEST_NUMBER = 1e9


def read_csv(data: bytes, unit: str | None = None) -> RawTrace:
    """Read rows of two numbers under an optional header; commas, semicolons, tabs or blanks between them."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    if "\0" in text:
        raise refuse("a file with zero bytes in it", "a text of numbers, or a file ending in .dxf")
    if sum(map(text.count, LINE_ENDS)) > 2 * MOST_ROWS:  # a line may end in two of them
        raise refuse(f"more than {MOST_ROWS} rows", f"at most {MOST_ROWS} rows", "leave out every second point")
    rows = [(number, line.strip()) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    comments = " ".join(line for _, line in rows if line.startswith("#"))
    rows = [row for row in rows if not row[1].startswith("#")]
    if len(rows) > MOST_ROWS:
        raise refuse(f"{len(rows)} rows", f"at most {MOST_ROWS} rows", "leave out every second point")
    if not rows:
        raise refuse("no rows", "rows of two numbers")
    split, number = _manner(rows)
    if len(first := split(rows[0][1])) > MOST_COLUMNS:
        raise TraceError((fault(f"{len(first)} columns", f"at most {MOST_COLUMNS}"),), (rows[0][0],))
    header = None if all(number(cell) is not None for cell in split(rows[0][1])) else split(rows[0][1])
    columns = _Columns.of(header, rows[0][0], _unit_in_comment(comments))
    points = _numbers(rows[1:] if header else rows, split, number, columns)
    return RawTrace(points * UNITS_MM[(name := _agreed(columns.unit, unit, points))], columns.counts_from, name)


Split = Callable[[str], list[str]]
ReadNumber = Callable[[str], float | None]


def _manner(rows: list[tuple[int, str]]) -> tuple[Split, ReadNumber]:
    """How the file separates its numbers, and whether it writes them with a decimal comma."""
    sample = [line for _, line in rows[1:21]] or [rows[0][1]]
    for mark, number in ((";", _number_with_comma), ("\t", _number_with_comma), (",", _number)):
        if sum(mark in line for line in sample) > 0.5 * len(sample):
            return partial(_cells, mark=mark), number
    return str.split, _number


def _cells(line: str, mark: str) -> list[str]:
    return [cell.strip() for cell in line.strip(mark).split(mark)]


def _number(cell: str) -> float | None:
    try:
        value = float(cell)
    except ValueError:
        return None
    return value if np.isfinite(value) else None


def _number_with_comma(cell: str) -> float | None:
    return _number(cell.replace(",", ".") if cell.count(",") == 1 and "." not in cell else cell)


@dataclass(frozen=True)
class _Columns:
    """Which columns to take, what the first counts from, and the unit as far as the file says it."""

    across: int
    height: int
    counts_from: CountsFrom
    unit: str | None
    width: int | None

    @classmethod
    def of(cls, header: list[str] | None, line: int, said: str | None) -> _Columns:
        if header is None:
            return cls(0, 1, "unsaid", said, 2)
        names = [_name_and_unit(cell) for cell in header]
        across = [i for i, (name, _) in enumerate(names) if name in _ACROSS]
        height = [i for i, (name, _) in enumerate(names) if name in _HEIGHT]
        if not across or not height:
            wanted = "a header such as r_mm,s_mm (r counts from the axis) or x_in,z_in (x across the diameter)"
            raise TraceError((fault(f"the header {','.join(header)!r}", wanted),), (line,))
        units = {names[i][1] for i in (across[0], height[0])} - {None}
        if said is not None:
            units.add(said)
        if len(units) > 1:
            both = " and ".join(sorted(str(u) for u in units))
            raise TraceError((fault(f"units {both} in one file", "one unit"),), (line,))
        counts: CountsFrom = "axis" if _ACROSS[names[across[0]][0]] == "axis" else "anywhere"
        return cls(across[0], height[0], counts, units.pop() if units else None, None)


def _name_and_unit(cell: str) -> tuple[str, str | None]:
    """Split ``r_mm``, ``r [mm]``, ``r (in)`` or ``r mm`` into name and unit."""
    words = [w for w in re.split(r"[\s_\[\](),/]+", cell.strip().strip("'").lower()) if w]
    if not words:
        return "", None
    return words[0].strip('"'), _UNIT_WORDS.get(words[-1]) if len(words) > 1 else None


def _unit_in_comment(text: str) -> str | None:
    found = re.search(r"\bunits?\s*[:=]\s*(\"|[\wµμ]+)", text, re.IGNORECASE)
    return _UNIT_WORDS.get(found[1].lower()) if found else None


def _numbers(rows: list[tuple[int, str]], split: Split, number: ReadNumber, columns: _Columns) -> Floats:
    """(n, 2) across and height; every row that is not two numbers is a fault, the first dozen are told."""
    points, faults, lines = [], [], []
    for line, text in rows:
        cells = split(text)
        need = max(columns.across, columns.height) + 1
        if len(cells) < need or (columns.width is not None and len(cells) != columns.width):
            got, pair = f"{len(cells)} column{'s' * (len(cells) != 1)}: {text[:40]}", None
        else:
            pair = (number(cells[columns.across]), number(cells[columns.height]))
            got = text[:40]
        if pair is None or any(v is None or abs(v) > LARGEST_NUMBER for v in pair):
            faults.append(fault(got, f"two finite numbers up to {LARGEST_NUMBER:g}"))
            lines.append(line)
        else:
            points.append(pair)
    if len(faults) > MOST_FAULTS:
        more = fault(f"{len(faults) - MOST_FAULTS} more such rows", "two finite numbers in each")
        faults, lines = [*faults[:MOST_FAULTS], more], lines[: MOST_FAULTS + 1]
    if faults:
        raise TraceError(tuple(faults), tuple(lines))
    if len(points) < FEWEST_POINTS:
        raise refuse(f"{len(points)} points", f"at least {FEWEST_POINTS} points")
    return np.array(points, dtype=np.float64)


def _agreed(said: str | None, asked: str | None, points: Floats) -> str:
    """Return the unit that file and user agree on, or refuse."""
    return agreed_unit(said, asked, float(np.abs(points[:, 0]).max()))
