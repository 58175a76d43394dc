"""Contact pressure along the rim, against the radius or along the rim's own curve.

Against the radius it stands over the rim's own profile, so that one sees which part of the rim presses. The line has a
halo for its error; where other lips were tried, bands show how far the pressure moves with what nobody has measured.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch, PathPatch
from matplotlib.ticker import MaxNLocator

from labrum.meshes.arrays import Floats
from labrum.reports.house_style.figure_data import Table, table
from labrum.reports.house_style.paper import sheet_width
from labrum.reports.house_style.shapes import along_rim, bite_plane, compound, metal
from labrum.reports.house_style.style import (
    DASH_DOT,
    DASHED,
    DOTTED,
    INK,
    METAL,
    PAPER,
    PRESSURE,
    PRESSURE_FILL,
    QUIET,
    WIDTH_IN,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.simulate.outcome import Outcome
from labrum.simulate.readings.pressure_line import CURVE_PERCENT, pressure_lines

PRESSURE_AXIS = "contact pressure, p (kPa)"
PRESSED_RADIUS_AXIS = "radius, r (mm)"
PROFILE_TALL = 0.2
"""Height of the rim's profile below its pressure, as a share of its width."""
PROFILE_CHORD_MM = 2e-4
"""A profile drawn so large shows the corners that other drawings of a rim may have."""
ROOM_FOR_PROFILE = 0.33
"""The same with the little below the high point, and room to spare, so that its width is its pressure's."""
BAND_LOOKS: tuple[dict[str, Any], ...] = (
    {"facecolor": "#1fa287", "alpha": 0.28, "edgecolor": "none"},
    {"facecolor": "none", "edgecolor": "#545a6d", "hatch": "\\\\\\\\", "linewidth": 0.6},
)
PEAK_LOOK: dict[str, Any] = {"color": PRESSURE, "markeredgecolor": PAPER, "markersize": 7, "zorder": 5}


@dataclass(frozen=True)
class Along:
    """A way to lay the contact out on a line.

    ``profile`` gives (n, 2) position and pressure; ``place`` turns a radius within the contact into a
    position; ``bite`` is where the bite lies; ``column`` names the position in the table.
    """

    label: str
    column: str
    profile: Callable[[Outcome], Floats]
    place: Callable[[Outcome, float], float]
    bite: Callable[[Outcome], float]


def _arc_contact(outcome: Outcome) -> tuple[Floats, Floats, Floats]:
    """Radius, arc length and pressure along the contact with the rim proper.

    Cut off, not brought to nought, where contact goes on up the cup's wall.
    """
    contact = outcome.contact
    touching = contact.pressure_kpa > 0.0
    on_rim, on_wall = ((touching & where).astype(float) for where in (contact.on_rim, ~contact.on_rim))
    every = pressure_lines(contact.place, contact.pressure_kpa, touching)
    lines = [line for line in every if line.nodal(on_rim).any()]
    if not lines:
        return np.zeros(0), np.zeros(0), np.zeros(0)
    kept = np.concatenate([line.nodal(on_wall) for line in lines]) < 0.5
    place = np.vstack([line.place for line in lines])[kept]
    arc = along_rim(outcome.rim, outcome.measures.sink_mm, place)
    order = np.argsort(arc, kind="stable")
    return place[order, 0], arc[order], np.concatenate([line.pressure for line in lines])[kept][order]


def _arc_place(outcome: Outcome, radius: float) -> float:
    r, arc, _ = _arc_contact(outcome)
    return float(np.interp(radius, r, arc))


def _arc_bite(outcome: Outcome) -> float:
    return float(along_rim(outcome.rim, outcome.measures.sink_mm, np.array([bite_plane(outcome)]))[0])


AGAINST_RADIUS = Along(
    PRESSED_RADIUS_AXIS,
    "radius_mm",
    lambda outcome: outcome.pressure_profile,
    lambda outcome, radius: radius,
    lambda outcome: bite_plane(outcome)[0],
)
ALONG_RIM = Along(
    "arc length along the rim outwards from its high point, ℓ (mm)",
    "arc_from_high_point_mm",
    lambda outcome: np.column_stack(_arc_contact(outcome)[1:]),
    _arc_place,
    _arc_bite,
)


@dataclass(frozen=True)
class LipBand:
    """How far the pressure moves over some varied lips: ``words`` say what was varied, ``outcomes`` what came of it."""

    words: str
    outcomes: Sequence[Outcome]


@house_style()
def pressure_figure(
    outcome: Outcome, title: str = "", note: str = "", along: Along = AGAINST_RADIUS,
    pressure_to_kpa: float | None = None, bands: Sequence[LipBand] = (),
) -> Figure:
    """Draw the contact pressure with its peak, its mean, the felt diameter, the contact's ends and the bite.

    Parameters
    ----------
    outcome
        A converged press.
    title, note
        People's words above and below the drawing; either may be empty.
    along
        :data:`AGAINST_RADIUS`, with the rim's profile below, or :data:`ALONG_RIM`.
    pressure_to_kpa
        Where the axis of pressure ends; by default somewhat above the peak.
    bands
        At most two, against the radius only: how far the pressure moves on other lips.
    """
    over_rim = along is AGAINST_RADIUS
    under = (sheet_width(WIDTH_IN) - 0.8) * ROOM_FOR_PROFILE if over_rim else 0.0
    figure = sheet(3.7 + under, title, note)
    axes, *below = figure.subplots(1 + over_rim, 1, height_ratios=(2.4, under)[: 1 + over_rim], squeeze=False)[:, 0]
    position, pressure = along.profile(outcome).T
    axes.fill_between(position, pressure, color=PRESSURE_FILL, alpha=0.55, linewidth=0)
    marks: list[Artist] = [_draw_band(axes, band, look) for band, look in zip(bands, BAND_LOOKS, strict=False)]
    halo = _draw_halo(axes, outcome, position, pressure)
    axes.plot(position, pressure, color=PRESSURE, label="pressure")
    marks = [*_mark_numbers(axes, outcome, along), halo, *_mark_wall(axes, outcome, over_rim), *marks]
    label_axes(axes, "" if below else along.label, PRESSURE_AXIS)
    tallest = max([float(pressure.max(initial=0.0)), *(float(o.pressure_profile[:, 1].max()) for o in _all(bands))])
    axes.set_ylim(0.0, pressure_to_kpa or 1.2 * max(tallest, 1e-9))
    axes.margins(x=0.06)
    for profile in below:
        _draw_profile(axes, profile, outcome)
    legend_below(figure, marks)
    return finish(figure, title, note)


def _all(bands: Sequence[LipBand]) -> list[Outcome]:
    return [outcome for band in bands for outcome in band.outcomes]


def _draw_band(axes: Axes, band: LipBand, look: dict[str, Any]) -> Patch:
    """Fill from the least to the largest pressure of the varied lips at every radius."""
    ends = [end for o in band.outcomes for end in o.pressure_profile[[0, -1], 0]]
    place = np.linspace(min(ends), max(ends), 800)
    found = [_at(o.pressure_profile, place) for o in band.outcomes]
    axes.fill_between(place, np.min(found, axis=0), np.max(found, axis=0), zorder=1.5, **look)
    return Patch(label=band.words, **look)


def _at(profile: Floats, place: Floats) -> Floats:
    return np.asarray(np.interp(place, profile[:, 0], profile[:, 1], left=0.0, right=0.0))


def _draw_halo(axes: Axes, outcome: Outcome, position: Floats, pressure: Floats) -> Patch:
    """Fill the curve's error to either side: the peak's estimate, and at least what curves were good for when tried."""
    percent = max(outcome.measures.peak_pressure_error_percent, CURVE_PERCENT)
    off = 0.01 * percent * float(pressure.max(initial=0.0))
    look: dict[str, Any] = {"color": PRESSURE, "alpha": 0.3, "linewidth": 0.0}
    axes.fill_between(position, np.maximum(pressure - off, 0.0), pressure + off, zorder=2, **look)
    return Patch(label=f"error, ± {percent:.2g} % of the peak", **look)


def _mark_wall(axes: Axes, outcome: Outcome, over_rim: bool) -> list[Artist]:
    """Hatch the pressure that the cup's wall and floor bear, which is no part of the rim's."""
    contact = outcome.contact
    if not over_rim or not (wall := (contact.pressure_kpa > 0.0) & ~contact.on_rim).any():
        return []
    look: dict[str, Any] = {"facecolor": "none", "edgecolor": INK, "hatch": "xxxx", "linewidth": 0.0}
    for line in pressure_lines(contact.place, contact.pressure_kpa, contact.pressure_kpa > 0.0):
        order = np.argsort(line.place[:, 0], kind="stable")
        on_wall = line.nodal(wall.astype(float))[order] >= 0.5
        axes.fill_between(line.place[order, 0], line.pressure[order], where=on_wall, zorder=2.5, **look)
    return [Patch(label="on the cup's wall", **look)]


def _draw_profile(above: Axes, axes: Axes, outcome: Outcome) -> None:
    """Draw the rim under its pressure, on the same axis of radius, both directions at one scale."""
    rim = outcome.rim
    left, right = above.get_xlim()
    right = max(right, rim.outer_radius + 0.1)
    above.set_xlim(left, right)
    axes.set(xlim=(left, right), ylim=(-0.25, PROFILE_TALL * (right - left)), aspect="equal", anchor="N")
    body = compound([metal(rim, 0.0, right)])
    axes.add_patch(PathPatch(body, zorder=1, facecolor=METAL, edgecolor=QUIET, hatch="////", linewidth=0.0))
    axes.plot(*rim.curve.sample(PROFILE_CHORD_MM).T, color=INK, linewidth=1.3, zorder=3)
    axes.axvline(rim.bite[0], color=QUIET, linestyle=DOTTED, linewidth=1.1, zorder=2)
    axes.axvline(outcome.measures.felt_diameter_mm / 2, color=INK, linestyle=DASH_DOT, linewidth=1.1, zorder=2)
    label_axes(axes, PRESSED_RADIUS_AXIS, "rim, s (mm)", grid=False)
    axes.yaxis.set_major_locator(MaxNLocator(3, steps=[1, 2, 5, 10]))
    above.tick_params(labelbottom=False)


def _mark_numbers(axes: Axes, outcome: Outcome, along: Along) -> list[Artist]:
    """Mark the measures on the profile, each told by its form too; returns legend handles."""
    m = outcome.measures
    ends = [along.place(outcome, r) for r in (m.contact_inner_radius_mm, m.contact_outer_radius_mm)]
    reach = f"contact from r = {m.contact_inner_radius_mm:.2f} to {m.contact_outer_radius_mm:.2f} mm"
    hollow: dict[str, Any] = {"color": INK, "markerfacecolor": PAPER, "markersize": 6, "clip_on": False, "zorder": 4}
    contact = axes.plot(ends, [0.0, 0.0], "^", label=reach, **hollow)
    level, words = [m.mean_pressure_kpa] * 2, f"mean {m.mean_pressure_kpa:.1f} kPa"
    mean = axes.plot(ends, level, color=INK, linestyle=DASHED, linewidth=1.0, label=words)
    felt, words = along.place(outcome, m.felt_diameter_mm / 2), f"felt diameter {m.felt_diameter_mm:.2f} mm"
    felt_rule = axes.axvline(felt, color=INK, linestyle=DASH_DOT, linewidth=1.1, label=words)
    bite, words = along.bite(outcome), f"bite at r = {bite_plane(outcome)[0]:.2f} mm"
    bite_rule = axes.axvline(bite, color=QUIET, linestyle=DOTTED, linewidth=1.1, label=words)
    return [_mark_peak(axes, outcome, along), *contact, *mean, felt_rule, bite_rule]


def _mark_peak(axes: Axes, outcome: Outcome, along: Along) -> Artist:
    m = outcome.measures
    position, pressure = along.profile(outcome).T
    top = int(np.argmax(pressure))
    error = f"± {m.peak_pressure_error_percent:.1f} %"
    words = f"peak {m.peak_pressure_kpa:.1f} kPa {error} at r = {m.peak_radius_mm:.2f} mm"
    (dot,) = axes.plot(position[top], pressure[top], "o", label=words, **PEAK_LOOK)
    return dot


def pressure_table(outcome: Outcome, along: Along = AGAINST_RADIUS) -> Table:
    """Return the profile as drawn."""
    position, pressure = along.profile(outcome).T
    return table(**{along.column: position, "pressure_kpa": pressure})
