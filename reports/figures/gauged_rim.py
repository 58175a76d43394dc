"""A gauged rim on paper: its profile with every reading on it, rims laid over each other, and readers' scatter."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite, isinf
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.gauges.gauge import Gauged, Reading
from labrum.meshes.gauges.reader_scatter import Scatter
from labrum.meshes.gauges.readings import BAND_MM, CONVENTIONS, MM_PER_THOU
from labrum.meshes.rims.rim import Rim
from labrum.reports.house_style.figure_data import Table, labelled, table
from labrum.reports.house_style.style import (
    INK,
    METAL,
    PAST_BITE,
    QUIET,
    SERIES,
    WIDTH_IN,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.reports.house_style.words import short

MOST_OVERLAID = len(SERIES)
GAUGED_CHORD_MM = 0.0002
PROFILE_AXIS, HEIGHT_AXIS = "radius r, mm", "height above the high point s, mm"
PAGE_IN = 7.0
# The stretch of height that an overlay shows, and how tall its lower panel is for its width.
BOTTOM_MM, TOP_MM, LOWER = -0.3, 3.0, 0.24


@house_style()
def gauge_figure(gauged: Gauged, title: str = "", note: str = "") -> Figure:
    """Draw one rim: the whole profile with its dimensions, the inner edge with five diameters, and their spread."""
    figure = sheet(7.4, title, note, PAGE_IN)
    cells = figure.subplots(3, 2, height_ratios=[2.5, 2.7, 1.5], width_ratios=[1.75, 1.0])
    _whole(cells[0, 0], gauged)
    _words(cells[0, 1], _outside_words(gauged))
    _edge(cells[1, 0], gauged)
    _words(cells[1, 1], _edge_words(gauged))
    marks = cells[1, 0].get_legend_handles_labels()
    cells[1, 1].legend(*marks, loc="upper left", title="inner diameter, mm, read by", title_fontsize=8,
                       alignment="left", borderaxespad=0.0)
    _five(cells[2, 0], gauged)
    _words(cells[2, 1], ["Drawn, not measured."] if gauged.measured is None else [
        "Each bar holds 95 % of what the", "trace's noise would make of it;", "± is twice the standard uncertainty."])
    return finish(figure, title, note)


def _words(axes: Axes, lines: list[str]) -> None:
    """Give a panel to words alone."""
    axes.set_axis_off()
    axes.text(0.0, 0.02, "\n".join(lines), transform=axes.transAxes, size=8.0, va="bottom", linespacing=1.5)


def _outside_words(gauged: Gauged) -> list[str]:
    say = gauged.reading
    return [f"width {_say(say('width_mm'), 3)} mm", f"outer diameter {_say(say('outer_diameter_mm'), 3)} mm",
            f"high point at r = {_say(say('high_point_radius_mm'))} mm",
            f"inner crown {_radius(say('inner_crown_radius_mm'))}",
            f"outer crown {_radius(say('outer_crown_radius_mm'))}",
            f"shoulder {_radius(say('shoulder_radius_mm'))}",
            f"within {BAND_MM:g} mm of the high point:", f"  a band of {_say(say('flat_band_mm'))} mm"]


def _edge_words(gauged: Gauged) -> list[str]:
    say = gauged.reading
    return [f"bite radius {_radius(say('bite_radius_mm'))}", f"bite plane {_say(say('bite_depth_mm'))} mm deep",
            f"cup wall {_say(say('cup_wall_angle_deg'))}°"]


def gauge_table(gauged: Gauged) -> Table:
    """Every reading: name, value, unit, uncertainty and interval; empty where it does not apply."""
    rows = (*gauged.diameters, gauged.spread, *gauged.dimensions)
    return Table(
        ("reading", "value", "unit", "standard_uncertainty", "low_95", "high_95", "definition"),
        tuple((r.name, *(_cell(v) if i != 1 else r.unit for i, v in
                         enumerate((r.value, 0.0, r.uncertainty, r.low, r.high))), r.definition) for r in rows),
    )


def _cell(value: float) -> float | str:
    return "flat" if isinf(value) else value if isfinite(value) else ""


def _outline(axes: Axes, curve: Curve, top: float) -> None:
    """Fill the metal up to the edge of the picture and draw its outline."""
    points = curve.sample(GAUGED_CHORD_MM)
    closed = np.vstack([points, [[points[-1, 0], top]], [[points[0, 0], top]]])
    axes.fill(*closed.T, color=METAL, linewidth=0, zorder=1)
    axes.plot(*points.T, color=INK, linewidth=1.3, zorder=3)


def _whole(axes: Axes, gauged: Gauged) -> None:
    """Draw the rim's cross-section with its dimensions."""
    rim = gauged.rim
    left, right = rim.bite[0] - 1.6, rim.outer_radius + 1.0
    top = max(3.0, 1.25 * rim.bite[1] + 0.6)
    _outline(axes, rim.curve, top + 1.0)
    if gauged.measured is not None:
        axes.plot(*gauged.measured.points[::7].T, ".", color=PAST_BITE, markersize=1.2, zorder=4)
    axes.set(xlim=(left, right), ylim=(-1.35, top), aspect="equal")
    label_axes(axes, PROFILE_AXIS, "s, mm", grid=False)
    _span(axes, rim.bite[0], rim.outer_radius, -0.95, f"width {_say(gauged.reading('width_mm'), 3)} mm")
    share = f"{_say(gauged.reading('high_point'), 3)} of the width"
    _span(axes, rim.bite[0], rim.high_point_radius, -0.42, share, beside=True)
    axes.plot([rim.bite[0]] * 2, [rim.bite[1], -1.05], color=QUIET, linewidth=0.6, linestyle=(0, (2, 2)), zorder=2)
    axes.plot([rim.outer_radius] * 2, [rim.curve.end[-1, 1], -1.05], color=QUIET, linewidth=0.6,
              linestyle=(0, (2, 2)), zorder=0)
    axes.plot(rim.high_point_radius, 0.0, "v", color=SERIES[2].colour, markersize=5, zorder=6)


def _span(axes: Axes, first: float, last: float, level: float, words: str, beside: bool = False) -> None:
    """Draw a dimension line with its words below, or beside it."""
    axes.annotate("", (first, level), (last, level),
                  arrowprops={"arrowstyle": "<->", "color": QUIET, "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0})
    if beside:
        axes.text(last + 0.1, level, words, ha="left", va="center", size=7.5)
    else:
        axes.text(0.5 * (first + last), level - 0.05, words, ha="center", va="top", size=7.5)


def _edge(axes: Axes, gauged: Gauged) -> None:
    """Draw the inner edge enlarged, with the places at which the diameter is read."""
    rim = gauged.rim
    places = [c.find(rim, gauged.depth) for c in CONVENTIONS]
    found = [p for p in places if isfinite(p.r)]
    middle = 0.5 * (max(p.r for p in found) + min(p.r for p in found))
    low, high = min(p.s for p in found), max(p.s for p in found)
    tall = max(high - low + 0.5, 1.1)
    _outline(axes, rim.curve, high + tall)
    if gauged.measured is not None:
        axes.plot(*gauged.measured.points.T, ".", color=QUIET, markersize=1.6, zorder=2)
    for look, place, convention in zip(SERIES, places, CONVENTIONS, strict=False):
        if isfinite(place.r):
            label = f"{convention.label}: {_say(gauged.reading(convention.name), 3)}"
            axes.plot(place.r, place.s, look.marker, color=look.colour, markersize=6, zorder=6, label=label,
                      markeredgecolor="white", markeredgewidth=0.5)
    wide = 1.9 * tall
    axes.set(xlim=(middle - 0.3 * wide, middle + 0.7 * wide), ylim=(low - 0.25, low - 0.25 + tall), aspect="equal")
    label_axes(axes, PROFILE_AXIS, "s, mm", grid=False)


def _five(axes: Axes, gauged: Gauged) -> None:
    """Draw the five diameters on one line, each with its interval."""
    rows = list(gauged.diameters)
    for k, (look, reading) in enumerate(zip(SERIES, rows, strict=False)):
        if isfinite(reading.value):
            if isfinite(reading.low):
                axes.plot([reading.low, reading.high], [k, k], color=look.colour, linewidth=2.0)
            axes.plot(reading.value, k, look.marker, color=look.colour, markersize=5)
    axes.set(ylim=(len(rows) - 0.4, -0.6))
    spread = gauged.spread.value
    label_axes(axes, f"inner diameter, mm (they differ by {spread:.3f} mm, {spread / MM_PER_THOU:.0f} thou)", "")
    axes.set_yticks(range(len(rows)), [r.label for r in rows])


def _say(reading: Reading, digits: int = 2) -> str:
    if not isfinite(reading.value):
        return "flat" if isinf(reading.value) else "-"
    if isfinite(reading.uncertainty) and 2 * reading.uncertainty < 0.5 * 10.0**-digits:
        digits += 1  # else the doubt would read as nought
    doubt = f" ± {2 * reading.uncertainty:.{digits}f}" if isfinite(reading.uncertainty) else ""
    return f"{reading.value:.{digits}f}{doubt}"


def _radius(reading: Reading) -> str:
    return "flat" if isinf(reading.value) else f"R {_say(reading)} mm"


@house_style()
def gauged_overlay_figure(rims: Sequence[Gauged], names: Sequence[str], title: str = "", note: str = "") -> Figure:
    """Lay up to six rims over each other at their high points; below, how far each stands off the first.

    Raises
    ------
    ValueError
        With fewer than two or more than six rims.
    """
    if not 2 <= len(rims) <= MOST_OVERLAID:
        raise ValueError(f"rims to lay over each other: got {len(rims)}, allowed 2 to {MOST_OVERLAID}")
    inner = min(g.rim.bite[0] - g.rim.high_point_radius for g in rims) - 1.0
    outer = max(g.rim.outer_radius - g.rim.high_point_radius for g in rims) + 0.5
    # Both panels as wide as the sheet, so that one stands above the other to scale.
    tall = (TOP_MM - BOTTOM_MM) / (outer - inner)
    figure = sheet(PAGE_IN * (tall + LOWER) + 1.15, title, note, PAGE_IN)
    above, below = figure.subplots(2, 1, height_ratios=[tall, LOWER])
    above.set_box_aspect(tall)
    below.set_box_aspect(LOWER)
    shifted = [_at_high_point(g.rim) for g in rims]
    for look, curve, gauged in zip(SERIES, shifted, rims, strict=False):
        above.plot(*curve.sample(GAUGED_CHORD_MM).T, color=look.colour, linestyle=look.dashes, linewidth=1.4)
        rim = gauged.rim
        above.plot(rim.bite[0] - rim.high_point_radius, rim.bite[1], look.marker, color=look.colour, markersize=5)
    for look, other in zip(SERIES[1:], shifted[1:], strict=False):
        place, apart = _standing_off(shifted[0], other)
        below.plot(place, apart, color=look.colour, linestyle=look.dashes, linewidth=1.4)
        _mark_most(above, below, place, apart, other)
    above.set(xlim=(inner, outer), ylim=(BOTTOM_MM, TOP_MM))
    below.set(xlim=(inner, outer))
    below.margins(y=0.2)
    below.axhline(0.0, color=QUIET, linewidth=0.6)
    label_axes(above, "", "s, mm")
    label_axes(below, "radius less the high point's, mm", f"off {short(names[0], 0.9, 8.5)}, mm")
    legend_below(figure, [_key(look, gauged, name) for look, gauged, name in zip(SERIES, rims, names, strict=False)], 1)
    return finish(figure, title, note)


def _key(look: object, gauged: Gauged, name: str) -> Line2D:
    words = f"{short(name, 1.8, 8.0)}: 45° tangent {gauged.reading('tangent_45').value:.3f} mm, width " \
            f"{gauged.reading('width_mm').value:.2f} mm, bite R {gauged.reading('bite_radius_mm').value:.2f} mm"
    series = next(s for s in SERIES if s is look)
    return Line2D([], [], color=series.colour, linestyle=series.dashes, marker=series.marker, label=words)


def _at_high_point(rim: Rim) -> Curve:
    return rim.curve.translated(-rim.high_point_radius, 0.0)


def _standing_off(first: Curve, other: Curve, reach: float = TOP_MM) -> tuple[Floats, Floats]:
    """Where on another outline, and how far from the first it stands: positive away from the metal, mm."""
    points = other.sample(GAUGED_CHORD_MM)
    points = points[points[:, 1] < reach]
    near = first.nearest(points)
    inside = (near.arc_length > 0) & (near.arc_length < first.length)
    return points[inside, 0], near.distance[inside]


def _mark_most(above: Axes, below: Axes, place: Floats, apart: Floats, other: Curve) -> None:
    """Mark where two rims differ most on the rim itself."""
    if not len(place):
        return
    k = int(np.argmax(np.abs(apart)))
    away: dict[str, Any] = {"xytext": (-6, 3), "ha": "right"} if apart[k] > 0 else {"xytext": (-6, -9), "ha": "right"}
    words = f"they differ most here, {apart[k]:+.3f} mm".replace("-", "−")
    below.annotate(words, (place[k], apart[k]), textcoords="offset points", size=7.5, **away)
    below.plot(place[k], apart[k], "o", color=PAST_BITE, markersize=4, zorder=6)
    above.axvline(place[k], color=PAST_BITE, linewidth=0.8, linestyle=(0, (2, 2)), zorder=0)


def overlay_table(rims: Sequence[Gauged], names: Sequence[str]) -> Table:
    """Points of every outline, its high point at 0, with the distance from the first rim's."""
    first = _at_high_point(rims[0].rim)
    parts = []
    for gauged, name in zip(rims, names, strict=True):
        points = _at_high_point(gauged.rim).sample(GAUGED_CHORD_MM)
        parts.append((name, table(radius_from_high_point_mm=points[:, 0], s_mm=points[:, 1],
                                  off_first_mm=first.nearest(points).distance)))
    return labelled("rim", parts)


@house_style()
def scatter_figure(scatters: Sequence[Scatter], names: Sequence[str], title: str = "", note: str = "") -> Figure:
    """Draw what people with callipers would read on each of up to six rims."""
    if not 1 <= len(scatters) <= MOST_OVERLAID:
        raise ValueError(f"rims: got {len(scatters)}, allowed 1 to {MOST_OVERLAID}")
    figure = sheet(2.9, title, note, WIDTH_IN)
    axes = figure.subplots()
    low = min(s.readings.min() for s in scatters)
    high = max(s.readings.max() for s in scatters)
    bins = np.linspace(low, high, 41)
    keys = []
    for look, scatter, name in zip(SERIES, scatters, names, strict=False):
        share = np.histogram(scatter.readings, bins)[0] / len(scatter.readings) * 100.0
        axes.stairs(share, bins, color=look.colour, linestyle=look.dashes, linewidth=1.4)
        axes.plot(scatter.mean, 0.0, look.marker, color=look.colour, markersize=6, clip_on=False, zorder=6)
        words = f"{short(name, 1.5, 8.0)}: mean {scatter.mean:.3f} mm, standard deviation {scatter.deviation:.3f} mm"
        keys.append(Line2D([], [], color=look.colour, linestyle=look.dashes, marker=look.marker, label=words))
    label_axes(axes, "inner diameter read, mm", "readers, %")
    axes.set_ylim(bottom=0.0)
    legend_below(figure, keys, 1)
    return finish(figure, title, note)


def scatter_table(scatters: Sequence[Scatter], names: Sequence[str]) -> Table:
    """Every simulated reading of every rim."""
    return labelled("rim", [(name, table(inner_diameter_mm=s.readings))
                            for s, name in zip(scatters, names, strict=True)])
