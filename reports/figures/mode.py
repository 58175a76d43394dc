"""The lip's vibration inside the rim: the mode that air in the cup drives best, both ends of its swing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch

from labrum.meshes.arrays import Floats
from labrum.reports.figures.section import (
    HEIGHT_AXIS,
    RADIUS_AXIS,
    Window,
    draw_metal,
    draw_tissue,
    name_layers,
)
from labrum.reports.house_style.figure_data import Table, table
from labrum.reports.house_style.shapes import compound, outlines
from labrum.reports.house_style.style import (
    DASHED,
    INK,
    PRESSURE,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.simulate.outcome import Mode, Outcome, Section

DRAWN_MM = 1.0
"""How far the drawing lets the fastest place of the tissue swing to either side."""
ARROW_STEP_MM = 1.1
LEAST_SHOWN = 0.06  # of the largest movement


def vibrates(outcome: Outcome) -> bool:
    """Is there a mode to draw?"""
    return outcome.mode is not None


@house_style()
def mode_figure(outcome: Outcome, title: str = "", note: str = "") -> Figure:
    """Draw the pressed lip with both ends of its swing, and arrows for the way and size of the movement.

    Parameters
    ----------
    outcome
        A converged press whose vibration was asked for.
    title, note
        People's words above and below the drawing; either may be empty.

    Raises
    ------
    ValueError
        Where the outcome has no mode.
    """
    mode = _mode(outcome)
    window = Window.around([outcome])
    right = min(window.right, outcome.rim.outer_radius + 1.0)
    window = Window(right, window.bottom - DRAWN_MM, window.top + DRAWN_MM)
    figure = sheet(window.height_in + 1.4, title, note)
    axes = figure.add_subplot()
    window.apply(axes)
    draw_tissue(axes, outcome.section)
    name_layers(axes, outcome.section, window)
    handles = [
        draw_metal(axes, outcome.rim, outcome.measures.sink_mm, window.top),
        *(_swing(axes, outcome.section, mode, way) for way in (1.0, -1.0)),
    ]
    _arrows(axes, outcome.section, mode, window)
    axes.set_title(_words(mode), weight="normal", size=8.0)
    label_axes(axes, RADIUS_AXIS, HEIGHT_AXIS, grid=False)
    legend_below(figure, handles)
    return finish(figure, title, note)


def _words(mode: Mode) -> str:
    told = f"{mode.frequency_hz:.0f} Hz, {100 * mode.share:.0f} % of the answer to an even pressure on the lip's front"
    return f"{told}\nlargest swing drawn as {DRAWN_MM:g} mm to either side"


def _mode(outcome: Outcome) -> Mode:
    if outcome.mode is None:
        raise ValueError("this outcome has no mode: its vibration was not asked for, or no mode stands out")
    return outcome.mode


def _outwards(section: Section, mode: Mode) -> Floats:
    """The shape (n, 2) with the sign that moves the lip's front into the cup."""
    way: float = np.sign(mode.shape[np.abs(mode.shape[:, 1]).argmax(), 1])
    return mode.shape * (way or 1.0)


def _swing(axes: Axes, section: Section, mode: Mode, way: float) -> Line2D:
    """Rule the outline at one end of the swing."""
    there = replace(section, deformed=section.deformed + way * DRAWN_MM * _outwards(section, mode))
    look: dict[str, Any] = {"linestyle": "solid" if way > 0.0 else DASHED, "linewidth": 1.0}
    words = "swing into the cup" if way > 0.0 else "swing towards the teeth"
    axes.add_patch(PathPatch(compound(outlines(there)), fill=False, edgecolor=INK, zorder=5, label=words, **look))
    return Line2D([], [], color=INK, label=words, **look)


def _arrows(axes: Axes, section: Section, mode: Mode, window: Window) -> None:
    """Draw the movement at places about evenly apart, in the drawing's own scale."""
    place, move = section.deformed, DRAWN_MM * _outwards(section, mode)
    inside = (place[:, 0] <= window.right) & (np.hypot(*move.T) >= LEAST_SHOWN * DRAWN_MM)
    at, by = place[inside], move[inside]
    cells = np.round(at / ARROW_STEP_MM)
    nearest = np.argsort(np.hypot(*(at / ARROW_STEP_MM - cells).T))
    chosen = nearest[np.unique(cells[nearest], axis=0, return_index=True)[1]]  # the node nearest each cell's middle
    at, by = at[chosen], by[chosen]
    axes.quiver(*at.T, *by.T, angles="xy", scale_units="xy", scale=1.0, color=PRESSURE, width=0.0035, zorder=4.5)


def mode_table(outcome: Outcome) -> Table:
    """Return where every node stands and how it moves; the largest component of the movement is 1."""
    place, move = outcome.section.deformed, _outwards(outcome.section, _mode(outcome))
    return table(r_mm=place[:, 0], z_mm=place[:, 1], move_r=move[:, 0], move_z=move[:, 1])
