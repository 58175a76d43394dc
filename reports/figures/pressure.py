"""Contact pressure along the rim, against the radius or along the rim's own curve."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from labrum.meshes.arrays import Floats
from labrum.reports.house_style.figure_data import Table, table
from labrum.reports.house_style.shapes import along_rim, bite_plane
from labrum.reports.house_style.style import (
    DASH_DOT,
    DASHED,
    DOTTED,
    INK,
    PAPER,
    PRESSURE,
    PRESSURE_FILL,
    QUIET,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.simulate.outcome import Outcome

PRESSURE_AXIS = "contact pressure, p (kPa)"
PRESSED_RADIUS_AXIS = "radius, r (mm)"
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
    """Radius, arc length and pressure of the nodes on the rim, with one free neighbour at either end."""
    contact = outcome.contact
    on_rim = contact.on_rim & (contact.pressure_kpa > 0.0)
    held = np.flatnonzero(on_rim)
    span = slice(max(held[0] - 1, 0), held[-1] + 2) if len(held) else slice(0)
    place = contact.place[span]
    arc = along_rim(outcome.rim, outcome.measures.sink_mm, place)
    return place[:, 0], arc, np.where(on_rim, contact.pressure_kpa, 0.0)[span]


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
    "arc length along the rim outwards from its high point, s (mm)",
    "arc_from_high_point_mm",
    lambda outcome: np.column_stack(_arc_contact(outcome)[1:]),
    _arc_place,
    _arc_bite,
)


@house_style()
def pressure_figure(outcome: Outcome, title: str = "", note: str = "", along: Along = AGAINST_RADIUS) -> Figure:
    """Draw the contact pressure with its peak, its mean, the felt diameter, the contact's ends and the bite.

    Parameters
    ----------
    outcome
        A converged press.
    title, note
        People's words above and below the drawing; either may be empty.
    along
        :data:`AGAINST_RADIUS` or :data:`ALONG_RIM`.
    """
    figure = sheet(3.3, title, note)
    axes = figure.add_subplot()
    position, pressure = along.profile(outcome).T
    axes.fill_between(position, pressure, color=PRESSURE_FILL, linewidth=0)
    axes.plot(position, pressure, color=PRESSURE, label="pressure")
    marks = _mark_numbers(axes, outcome, along)
    label_axes(axes, along.label, PRESSURE_AXIS)
    axes.set_ylim(0.0, 1.2 * max(float(pressure.max(initial=0.0)), 1e-9))
    axes.margins(x=0.06)
    legend_below(figure, marks)
    return finish(figure, title, note)


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
