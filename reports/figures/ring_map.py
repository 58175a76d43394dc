"""Contact pressure as a map of the ring it leaves on the lip, seen from the player's side."""

from __future__ import annotations

import numpy as np
from matplotlib import colormaps
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import PatchCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from labrum.meshes.arrays import Floats
from labrum.reports.figures.pressure import PEAK_LOOK, PRESSURE_AXIS, pressure_table
from labrum.reports.figures.section import pressure_scale
from labrum.reports.house_style.figure_data import Table
from labrum.reports.house_style.shapes import bite_plane
from labrum.reports.house_style.style import (
    DASH_DOT,
    DOTTED,
    INK,
    QUIET,
    SEQUENTIAL,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.simulate.outcome import Outcome

RINGS = 160
"""Rings of even colour that make the map: finer than a screen's dots at the house's width."""

ACROSS_AXIS = "across, to the player's right, x (mm)"
UP_AXIS = "up, y (mm)"


@house_style()
def ring_figure(
    outcome: Outcome, title: str = "", note: str = "", pressure_to_kpa: float | None = None
) -> Figure:
    """Draw the ring of pressure that the player feels, with the bite, the outside and the felt diameter.

    Parameters
    ----------
    outcome
        A converged press. It is axisymmetric, so the ring is even all round.
    title, note
        People's words above and below the drawing; either may be empty.
    pressure_to_kpa
        Where the colours of pressure end; by default at the peak. Rims that are compared share it.
    """
    figure = sheet(4.4, title, note)
    axes = figure.add_subplot()
    scale = pressure_scale([outcome], pressure_to_kpa)
    _paint_rings(axes, outcome.pressure_profile, scale)
    reach = 1.08 * outcome.rim.outer_radius
    axes.set(xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal")
    label_axes(axes, ACROSS_AXIS, UP_AXIS, grid=False)
    axes.set_title("Pressure on the lip, seen from the player's side", weight="normal", size=8.5)
    bar = figure.colorbar(ScalarMappable(scale, SEQUENTIAL), ax=axes, shrink=0.85, pad=0.03)
    bar.set_label(PRESSURE_AXIS)
    legend_below(figure, _rule_circles(axes, outcome))
    return finish(figure, title, note)


def _paint_rings(axes: Axes, profile: Floats, scale: Normalize) -> None:
    """Lay discs of falling radius on each other: rings side by side would leave seams."""
    radius, pressure = profile.T
    edges = np.linspace(radius[0], radius[-1], RINGS + 1)
    middle = np.interp((edges[1:] + edges[:-1]) / 2, radius, pressure)
    discs = [Circle((0.0, 0.0), r) for r in [*edges[:0:-1], edges[0]]]
    colours = [*colormaps[SEQUENTIAL](scale(middle[::-1])), (1.0, 1.0, 1.0, 1.0)]
    axes.add_collection(PatchCollection(discs, facecolors=colours, edgecolors="none", zorder=1))


def _rule_circles(axes: Axes, outcome: Outcome) -> list[Artist]:
    """Rule the circles a maker speaks of, each with its own dashes; returns legend handles."""
    m, rim, bite = outcome.measures, outcome.rim, bite_plane(outcome)[0]
    looks = (
        (m.felt_diameter_mm / 2, INK, DASH_DOT, 1.1, f"felt diameter {m.felt_diameter_mm:.2f} mm"),
        (bite, INK, DOTTED, 1.1, f"bite, {2 * bite:.2f} mm across"),
        (rim.outer_radius, QUIET, "solid", 1.1, f"outside, {2 * rim.outer_radius:.2f} mm across"),
        (m.contact_inner_radius_mm, QUIET, "solid", 0.5, "_"),
        (m.contact_outer_radius_mm, QUIET, "solid", 0.5, "_"),
    )
    turn = np.linspace(0.0, 2 * np.pi, 361)
    circles = []
    for radius, colour, dashes, width, words in looks:
        x, y = radius * np.cos(turn), radius * np.sin(turn)
        circles += axes.plot(x, y, color=colour, linestyle=dashes, linewidth=width, label=words)
    return [_mark_peak(axes, outcome), *circles[:3]]


def _mark_peak(axes: Axes, outcome: Outcome) -> Artist:
    m = outcome.measures
    error = m.peak_pressure_error_percent
    words = f"peak {m.peak_pressure_kpa:.1f} kPa ± {error:.2g} % at r = {m.peak_radius_mm:.2f} mm"
    x, y = m.peak_radius_mm * np.cos(np.pi / 4), m.peak_radius_mm * np.sin(np.pi / 4)
    (dot,) = axes.plot(x, y, "o", label=words, **PEAK_LOOK)
    return dot


def ring_table(outcome: Outcome) -> Table:
    """Return the profile the map is turned from; it is the same all round."""
    return pressure_table(outcome)
