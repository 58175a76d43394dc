"""How wide is wide enough: what each width gives, and the band between too narrow and too wide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, isinf

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from labrum.meshes.arrays import Floats
from labrum.reports.house_style.figure_data import Table, table
from labrum.reports.house_style.paper import sheet_width
from labrum.reports.house_style.style import (
    INK,
    METAL,
    QUIET,
    SERIES,
    WIDE_IN,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.reports.house_style.words import short
from labrum.reports.sweeps.findings import BandCurve, BandEnd

WIDTH_AXIS = "width of the rim w (mm)"
ENOUGH_COLOUR = "#7fc8b8"
MOST_LINES = len(SERIES)
ROW_IN = 0.42
PART_WORDS_IN = 0.95  # a part of a bar that is shorter on paper has no room for its words


@dataclass(frozen=True)
class BandWords:
    """What the drawing says: the benefit's axis and unit, and the thresholds of the gain of 0.1 mm.

    ``narrow`` is None where too narrow is told by where the peak stands.
    """

    benefit: str
    unit: str
    narrow: float | None
    wide: float


@house_style()
def band_figure(curves: Sequence[BandCurve], words: BandWords, title: str = "", note: str = "") -> Figure:
    """Draw the benefit against width, what a further 0.1 mm is worth, and below both the band of each group.

    Beyond six groups the lines would not be told apart, and only the bands are drawn.
    """
    lines = len(curves) <= MOST_LINES
    bars = 0.55 + ROW_IN * len(curves)
    figure = sheet((2.7 if lines else 0.0) + bars, title, note, WIDE_IN)
    if lines:
        grid = figure.add_gridspec(2, 2, height_ratios=(2.5, bars))
        _draw_benefit(figure.add_subplot(grid[0, 0]), curves, words)
        _draw_gain(figure.add_subplot(grid[0, 1]), curves, words)
        below = figure.add_subplot(grid[1, :])
    else:
        below = figure.add_subplot()
    _draw_bars(below, curves, lines)
    legend_below(figure, [*_handles(), *([_pays(words)] if lines else [])], columns=3)
    return finish(figure, title, note)


def band_table(curves: Sequence[BandCurve]) -> Table:
    """Both ends of each band as text a person reads, with their doubt, and one width where they cannot be told apart;
    and the widths tried.
    """
    return table(
        group=[curve.label or "all" for curve in curves],
        too_narrow_below_mm=[written_end(curve.narrow, curve) for curve in curves],
        too_wide_above_mm=[written_end(curve.wide, curve) for curve in curves],
        wide_enough_about_mm=[written_end(curve.about, curve) if curve.about else "" for curve in curves],
        least_width_tried_mm=[float(curve.widths[0]) for curve in curves],
        greatest_width_tried_mm=[float(curve.widths[-1]) for curve in curves],
    )


def curve_table(curves: Sequence[BandCurve]) -> Table:
    """The lines drawn: what each width gave, and what a further 0.1 mm is worth where that can be told."""
    gains = [np.interp(c.widths, c.where, c.gain, left=np.nan, right=np.nan) for c in curves]
    return table(
        group=[curve.label or "all" for curve in curves for _ in curve.widths],
        width_mm=[width for curve in curves for width in curve.widths],
        benefit=[value for curve in curves for value in curve.benefit],
        muscle_shortening_ratio=[_or_empty(c.shortening, i) for c in curves for i in range(len(c.widths))],
        edge_to_crown_pressure=[_or_empty(c.edge, i) for c in curves for i in range(len(c.widths))],
        worth_of_a_tenth_more=["" if np.isnan(g) else float(g) for gain in gains for g in gain],
    )


def _or_empty(values: Floats | None, place: int) -> float | str:
    return "" if values is None else float(values[place])


def written_end(end: BandEnd, curve: BandCurve) -> str:
    """Write an end with its doubt, or on which side of the widths tried it lies."""
    if isinf(end.best):
        side, width = ("less than", curve.where[0]) if end.best < 0 else ("more than", curve.where[-1])
        return f"{side} {width:.2f}"
    doubt = " to ".join(f"{v:.2f}" for v in (end.low, end.high) if isfinite(v))
    return f"{end.best:.2f} ({doubt})" if isfinite(end.low) and isfinite(end.high) else f"{end.best:.2f}"


def band_words(curve: BandCurve) -> str:
    """Say where a rim is too narrow, wide enough and too wide, of the widths that can be told."""
    narrow, wide = curve.narrow.best, max(curve.wide.best, curve.narrow.best)
    low, high = float(curve.widths[0]), float(curve.widths[-1])
    tried = f"of the widths tried, {low:g} to {high:g} mm"
    if narrow == np.inf:
        return f"too narrow everywhere {tried}"
    if curve.wide.best == -np.inf:
        return f"too wide everywhere {tried}"
    if curve.about is not None:
        return f"wide enough at about {written_end(curve.about, curve)} mm: its two ends are too near to tell a band"
    start = f"too narrow below {narrow:.2f} mm, " if isfinite(narrow) else ""
    if curve.wide.best < narrow:
        return f"{start}and nowhere wide enough: above {curve.wide.best:.2f} mm a wider rim no longer pays"
    if wide == np.inf:
        return f"{start}wide enough {'above' if start else 'everywhere'}; too wide nowhere {tried}"
    enough = f"wide enough from {narrow:.2f} to {wide:.2f} mm" if start else f"wide enough up to {wide:.2f} mm"
    return f"{start}{enough}, too wide above"


def _draw_benefit(axes: Axes, curves: Sequence[BandCurve], words: BandWords) -> None:
    for curve, look in zip(curves, SERIES, strict=False):
        axes.plot(
            curve.widths, curve.benefit, color=look.colour, linestyle=look.dashes, marker=look.marker, markersize=4
        )
    label_axes(axes, WIDTH_AXIS, words.benefit)


def _draw_gain(axes: Axes, curves: Sequence[BandCurve], words: BandWords) -> None:
    for curve, look in zip(curves, SERIES, strict=False):
        axes.plot(curve.where, curve.gain, color=look.colour, linestyle=look.dashes)
    if words.narrow is None:
        axes.axhline(words.wide, color=ENOUGH_COLOUR, linewidth=1.6, zorder=0)
    else:
        axes.axhspan(words.wide, words.narrow, color=ENOUGH_COLOUR, alpha=0.45, zorder=0, linewidth=0)
    axes.axhline(0.0, color=QUIET, linewidth=0.8, zorder=0)
    label_axes(axes, WIDTH_AXIS, f"worth of 0.1 mm more ({words.unit})")


def _draw_bars(axes: Axes, curves: Sequence[BandCurve], lines: bool) -> None:
    low = min(float(curve.widths[0]) for curve in curves)
    high = max(float(curve.widths[-1]) for curve in curves)
    for row, curve in enumerate(curves):
        ends = np.clip([end.best for end in _both_ends(curve)], low, high)
        axes.barh(row, high - low, left=low, height=0.62, color=METAL, zorder=1)
        axes.barh(row, max(0.0, ends[1] - ends[0]), left=ends[0], height=0.62, color=ENOUGH_COLOUR, zorder=2)
        _draw_ends(axes, row, curve, low, high)
        _write_parts(axes, row, (low, *ends, high))
    axes.set_yticks(range(len(curves)), [short(curve.label or "all", 2.2, 8.0) for curve in curves])
    label_axes(axes, WIDTH_AXIS, "", grid=False)
    axes.set_yticks(range(len(curves)))
    if lines:
        for row, (tick, look) in enumerate(zip(axes.get_yticklabels(), SERIES, strict=False)):
            tick.set_color(look.colour)
            axes.plot(low + 0.02 * (high - low), row, color=look.colour, marker=look.marker, zorder=5)
    axes.set_xlim(low, high)
    axes.set_ylim(len(curves) - 0.5, -0.72)


def _both_ends(curve: BandCurve) -> tuple[BandEnd, BandEnd]:
    return (curve.narrow, curve.wide) if curve.about is None else (curve.about, curve.about)


def _draw_ends(axes: Axes, row: int, curve: BandCurve, low: float, high: float) -> None:
    for end in _both_ends(curve):
        if isinf(end.best):
            continue
        reach = np.clip([end.low, end.high], low, high)
        axes.plot(reach, [row, row], color=INK, linewidth=1.0, zorder=3)
        axes.plot([end.best] * 2, [row - 0.31, row + 0.31], color=INK, linewidth=1.6, zorder=3)
    if isinf(curve.wide.best) and curve.wide.best > 0:
        axes.plot(high, row, marker=">", color=INK, markersize=5, zorder=4, clip_on=False)
    if isinf(curve.narrow.best) and curve.narrow.best < 0:
        axes.plot(low, row, marker="<", color=INK, markersize=5, zorder=4, clip_on=False)


def _write_parts(axes: Axes, row: int, cuts: Sequence[float]) -> None:
    """Write on each part of a bar what it means, and at the ends between them how wide that is."""
    low, narrow, wide, high = cuts
    whole = high - low
    parts = (("too narrow", low, narrow), ("wide enough", narrow, wide), ("too wide", max(narrow, wide), high))
    for words, start, stop in parts:
        if stop - start > PART_WORDS_IN / sheet_width(WIDE_IN) * whole:
            axes.text((start + stop) / 2, row, words, ha="center", va="center", size=7.5, zorder=6)
    for end in {narrow, wide} - {low, high}:
        axes.text(end, row - 0.34, f"{end:.2f}", ha="center", va="bottom", size=7.0, zorder=6)


def _handles() -> list[Patch | Line2D]:
    return [
        Patch(color=ENOUGH_COLOUR, label="wide enough"),
        Patch(color=METAL, label="too narrow (left of it), too wide (right)"),
        Line2D([], [], color=INK, linewidth=1.0, label="doubt of an end"),
        Line2D([], [], color=INK, marker=">", linestyle="none", markersize=5, label="beyond the widths tried"),
    ]


def _pays(words: BandWords) -> Patch | Line2D:
    """What is ruled or shaded among the lines of what a further 0.1 mm is worth."""
    unit = words.unit
    if words.narrow is None:
        label = f"below {words.wide:g} {unit}, more width no longer pays"
        return Line2D([], [], color=ENOUGH_COLOUR, linewidth=1.6, label=label)
    return Patch(color=ENOUGH_COLOUR, alpha=0.45, label=f"worth {words.wide:g} to {words.narrow:g} {unit}: wide enough")
