"""The marks of a workshop drawing, in mm of paper: views at a scale, dimension lines, leaders, texts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import ArrayLike

from labrum.meshes.arrays import Floats
from labrum.meshes.machining.dimensions import Band, Dimension
from labrum.meshes.machining.lathe_view import Unit
from labrum.reports.house_style.style import INK, QUIET

THIN, THICK = 0.5, 1.3
SMALL, LETTERS = 6.5, 7.5
SCALES = (100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1)
"""Steps of ISO 5455, from memory."""
_SIGNS = {"diameter": "Ø", "radius": "R", "length": "", "angle": ""}


@dataclass(frozen=True)
class View:
    """Lathe coordinates (Z, X as a radius) in mm, put on paper at a scale with Z = X = 0 at ``origin``."""

    scale: float
    origin: tuple[float, float]

    def on_paper(self, places: ArrayLike) -> Floats:
        """(k, 2) places on paper, mm, of (k, 2) places in lathe coordinates."""
        return np.asarray(self.origin) + self.scale * np.asarray(places, dtype=np.float64)


def largest_scale(wide_mm: float, tall_mm: float, room: tuple[float, float]) -> float:
    """Return the largest usual scale at which a thing fits the room."""
    fits = [s for s in SCALES if s * wide_mm <= room[0] and s * tall_mm <= room[1]]
    return fits[0] if fits else SCALES[-1]


def scale_words(scale: float) -> str:
    """Write a scale as on a drawing: 5:1 or 1:2."""
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"


def dimension_text(dimension: Dimension, band: Band | None, unit: Unit) -> str:
    """Write a dimension with its tolerance: R6.000 ±0.020; three decimals in mm, four in inch, two in degrees."""
    if dimension.kind == "angle":
        return f"{dimension.value:.2f}°{_band_text(band, 1.0, 2, '°')}"
    decimals = 3 if unit.name == "mm" else 4
    nominal = f"{_SIGNS[dimension.kind]}{dimension.value / unit.mm:.{decimals}f}"
    return nominal + _band_text(band, unit.mm, decimals, "")


def _band_text(band: Band | None, mm: float, decimals: int, sign: str) -> str:
    if band is None:
        return ""
    upper, lower = band.upper / mm, band.lower / mm
    if upper == -lower:
        return f" ±{upper:.{decimals}f}{sign}"
    ends = (f"{v:+.{decimals}f}{sign}" if v else "0" for v in (upper, lower))
    return f" {'/'.join(ends)}".replace("-", "\N{MINUS SIGN}")


def text(axes: Axes, place: ArrayLike, words: str, **look: Any) -> None:
    """Write words with their lower left corner at a place on paper, mm, unless the look says otherwise."""
    x, y = np.asarray(place, dtype=np.float64)
    axes.text(x, y, words, **{"size": LETTERS, "color": INK, "va": "bottom", **look})


def line(axes: Axes, places: ArrayLike, width: float = THIN, colour: str = QUIET, dashes: Any = "solid") -> Line2D:
    """Draw a line through (k, 2) places on paper, mm."""
    x, y = np.asarray(places, dtype=np.float64).T
    (drawn,) = axes.plot(x, y, color=colour, linewidth=width, linestyle=dashes, solid_capstyle="butt")
    return drawn


def arrow(axes: Axes, start: ArrayLike, tip: ArrayLike, both: bool = False) -> None:
    """Draw a thin line with an arrow head at its tip, or at both ends."""
    axes.annotate(
        "",
        tuple(np.asarray(tip)),
        tuple(np.asarray(start)),
        arrowprops={
            "arrowstyle": "<|-|>" if both else "-|>",
            "linewidth": THIN,
            "color": INK,
            "shrinkA": 0,
            "shrinkB": 0,
            "mutation_scale": 5.5,
        },
    )


def upright_dimension(axes: Axes, low: ArrayLike, high: ArrayLike, at: float, words: str) -> None:
    """Dimension two places (paper, mm) by their heights, the line standing at ``at`` to their right."""
    ends = [np.asarray(p, dtype=np.float64) for p in (low, high)]
    for end in ends:
        line(axes, [(end[0] + 1.0, end[1]), (at + 1.5, end[1])])
    arrow(axes, (at, ends[0][1]), (at, ends[1][1]), both=True)
    text(axes, (at - 0.6, 0.5 * (ends[0][1] + ends[1][1])), words, rotation=90, ha="right", va="center")


def level_dimension(axes: Axes, left: ArrayLike, right: ArrayLike, at: float, words: str, beside: bool) -> None:
    """Dimension two places (paper, mm) across, the line lying at height ``at``; words above or beside it."""
    ends = [np.asarray(p, dtype=np.float64) for p in (left, right)]
    for end in ends:
        past = 1.5 * np.sign(at - end[1])
        line(axes, [(end[0], end[1] + 0.6 * past), (end[0], at + past)])
    arrow(axes, (ends[0][0], at), (ends[1][0], at), both=True)
    if beside:
        text(axes, (ends[1][0] + 2.0, at), words, va="center")
    else:
        text(axes, (0.5 * (ends[0][0] + ends[1][0]), at + 0.6), words, ha="center")


def spread_within(wanted: list[float], gap: float, low: float, high: float) -> list[float]:
    """Move heights, given in descending order, apart to at least ``gap`` within ``low`` to ``high``."""
    if not wanted:
        return []
    gap = min(gap, (high - low) / max(1, len(wanted) - 1))
    heights: list[float] = []
    for k, height in enumerate(wanted):
        ceiling = high if k == 0 else heights[-1] - gap
        heights.append(max(min(height, ceiling), low + gap * (len(wanted) - 1 - k)))
    return heights
