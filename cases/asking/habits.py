"""Where the trade's habits lie: common practice, shown beside an answer and never part of it."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any

from labrum.cases.exits import CannotDo

NONE = "none"


def habit(kind: str, inner_diameter_mm: float | None) -> tuple[str, dict[str, tuple[float, float]]]:
    """Return a kind of rim and its usual ranges by key (``rim.width_mm``).

    An empty ``kind`` is told from the inner diameter, ``none`` is none; a diameter nobody makes has no habits.

    Raises
    ------
    CannotDo
        For a kind that is not in the library.
    """
    table = _table()
    if kind and kind != NONE and kind not in table:
        raise CannotDo(f"--habits {kind}: one of {', '.join(table)}, {NONE}")
    found = kind or _kind_of(table, inner_diameter_mm)
    if found == NONE:
        return NONE, {}
    return found, {f"rim.{key}": tuple(value) for key, value in table[found].items() if key != "source"}


def _kind_of(table: dict[str, Any], inner_diameter_mm: float | None) -> str:
    for name, ranges in table.items():
        low, high = ranges["inner_diameter_mm"]
        if inner_diameter_mm is not None and low <= inner_diameter_mm <= high:
            return name
    return NONE


def _table() -> dict[str, Any]:
    return tomllib.loads(files("labrum.cases").joinpath("library", "habits.toml").read_text(encoding="utf-8"))
