"""People's words on a figure: made safe for a file, and set to the width there is."""

from __future__ import annotations

import unicodedata
from bisect import bisect_right
from collections.abc import Callable

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath

FAMILY = "DejaVu Sans"
POINTS_PER_INCH = 72.0
_Ruler = Callable[[str], float]


def plain(text: str) -> str:
    """Return text in one line, free of the control characters that an SVG file may not hold."""
    kept = "".join(" " if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") else c for c in text)
    return " ".join(kept.replace("\ufffe", " ").replace("\uffff", " ").split())


def error_in_words(error: float) -> str:
    """Write an estimated error, one digit of it, never as a power of ten: nobody reads 4e+01 as 40."""
    rounded = float(f"{error:.1g}")
    return f"{rounded:.0f}" if rounded >= 1.0 else f"{rounded:.15f}".rstrip("0").rstrip(".")


def fitted(text: str, width_in: float, size: float, lines: int = 1, weight: str = "normal") -> list[str]:
    """Break text into at most ``lines`` that fit a width, with an ellipsis where it is cut.

    Parameters
    ----------
    text
        Anything; made plain first.
    width_in
        What a line may take, inches.
    size, weight
        Of the letters, points.
    lines
        How many there may be; text that is empty has none.
    """
    wide = _measure(size, weight)
    rows: list[str] = []
    rest = plain(text)
    while rest and len(rows) < lines:
        row = _first_row(rest, width_in, wide)
        if row != rest and len(rows) == lines - 1:
            row = rest = rest[: _that_fit(rest, width_in, lambda part: wide(part.rstrip() + "…"))].rstrip() + "…"
        rows.append(row)
        rest = rest[len(row) :].lstrip()
    return rows


def short(text: str, width_in: float, size: float, weight: str = "normal") -> str:
    """Return text in one line that fits a width, cut with an ellipsis if it must be."""
    return "".join(fitted(text, width_in, size, 1, weight))


def _first_row(text: str, width_in: float, wide: _Ruler) -> str:
    """Return as many whole words as fit; of a word that is too long by itself, as many letters."""
    count = _that_fit(text, width_in, wide)
    if count == len(text) or text[count] == " ":
        return text[:count].rstrip()
    return text[: text.rfind(" ", 0, count)] if " " in text[:count] else text[:count]


def _that_fit(text: str, width_in: float, wide: _Ruler) -> int:
    """Count the letters that fit, at least one."""
    return max(1, bisect_right(range(1, len(text) + 1), width_in, key=lambda count: wide(text[:count])))


def _measure(size: float, weight: str) -> _Ruler:
    look = FontProperties(family=FAMILY, size=size, weight=weight)

    def wide(text: str) -> float:
        return float(TextToPath().get_text_width_height_descent(text, look, ismath=False)[0]) / POINTS_PER_INCH

    return wide
