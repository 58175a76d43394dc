"""The whole mouth for teaching: the section turned as a mouth is seen from its side, both lips, teeth, rim and cup."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import PolyCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import Patch, PathPatch, Rectangle

from labrum.meshes.arrays import Floats
from labrum.reports.figures.section import (
    BAND_AXIS,
    BAND_MM,
    METAL_LOOK,
    PAST_BITE_LOOK,
    draw_tissue,
    pressure_scale,
)
from labrum.reports.house_style.figure_data import Table, labelled, table
from labrum.reports.house_style.paper import sheet_width
from labrum.reports.house_style.shapes import compound, metal, outlines, past_bite, rim_line
from labrum.reports.house_style.style import (
    INK,
    PAPER,
    QUIET,
    SEQUENTIAL,
    WIDTH_IN,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.simulate.outcome import Outcome
from labrum.simulate.readings.pressure_line import pressure_lines

TEETH_MM = 3.5
BESIDE_MM = 3.0
FLOOR_MM = 0.8  # of metal shown behind the cup's floor
TEETH_LOOK: dict[str, Any] = {"facecolor": "#f4f4ee", "edgecolor": QUIET, "hatch": "....", "linewidth": 0.8}
SIDES = (1.0, -1.0)


@house_style()
def mouth_figure(
    outcome: Outcome, title: str = "", note: str = "", pressure_to_kpa: float | None = None
) -> Figure:
    """Draw the pressed lip, mirrored about the axis and turned upright: the player looks to the right.

    Parameters
    ----------
    outcome
        A converged press. It is round, so both lips are alike.
    title, note
        People's words above and below the drawing; either may be empty.
    pressure_to_kpa
        Where the colours of pressure end; by default at the peak.
    """
    thickness, reach = -float(outcome.section.rest[:, 1].min()), outcome.rim.outer_radius + BESIDE_MM
    right = _front(outcome)
    left = -thickness - TEETH_MM
    scale = pressure_scale([outcome], pressure_to_kpa)
    figure = sheet((sheet_width(WIDTH_IN) - 0.8) * 2.0 * reach / (right - left) + 1.3, title, note)
    axes = figure.add_subplot()
    axes.set(xlim=(left, right), ylim=(-reach, reach), aspect="equal")
    for side in SIDES:
        _draw_half(axes, outcome, side, right, scale)
    _draw_teeth(axes, outcome, thickness, reach)
    _name_parts(axes, outcome, thickness, reach)
    axes.set_title("one round section, mirrored: the model has one lip all round", weight="normal", size=8.0)
    label_axes(axes, "from the teeth to the cup, z (mm)", "up from the axis, y (mm)", grid=False)
    if past_bite(outcome):
        legend_below(figure, [Patch(label="past the bite", **PAST_BITE_LOOK)])
    bar = figure.colorbar(ScalarMappable(scale, SEQUENTIAL), ax=axes, location="bottom", aspect=40, pad=0.02)
    bar.set_label(BAND_AXIS)
    return finish(figure, title, note)


def _front(outcome: Outcome) -> float:
    """How far the drawing goes, mm: a little past the cup's floor, and never past the end of an outline."""
    line = rim_line(outcome.rim, outcome.measures.sink_mm)
    closed = line[0, 0] < 1e-6
    return float(min(line[0, 1] + FLOOR_MM * closed, line[-1, 1]))


def turned(places: Floats, side: float) -> Floats:
    """(r, z) as seen from the side: z to the right, the radius up or, for ``side`` -1, down."""
    return np.column_stack([places[:, 1], side * places[:, 0]])


def _draw_half(axes: Axes, outcome: Outcome, side: float, right: float, scale: Normalize) -> None:
    sink = outcome.measures.sink_mm
    draw_tissue(axes, replace(outcome.section, deformed=turned(outcome.section.deformed, side)))
    if past := past_bite(outcome):
        axes.add_patch(PathPatch(compound([turned(p, side) for p in past]), zorder=1.5, **PAST_BITE_LOOK))
    body = compound([turned(metal(outcome.rim, sink, right + 1.0), side)])
    axes.add_patch(PathPatch(body, zorder=2, label="rim, cut", **METAL_LOOK))
    axes.plot(*turned(rim_line(outcome.rim, sink), side).T, color=INK, linewidth=1.3, zorder=4)
    for line in pressure_lines(outcome.contact.place, outcome.contact.pressure_kpa, outcome.contact.pressure_kpa > 0.0):
        foot = turned(line.place, side)
        back = turned(line.place - BAND_MM * line.nodal(outcome.contact.normal), side)
        strip = np.stack([foot[:-1], foot[1:], back[1:], back[:-1]], axis=1)
        colours = colormaps[SEQUENTIAL](scale(0.5 * (line.pressure[1:] + line.pressure[:-1])))
        band = PolyCollection(list(strip), facecolors=colours, edgecolors=colours, linewidths=0.2, zorder=3)
        axes.add_collection(band)


def _draw_teeth(axes: Axes, outcome: Outcome, thickness: float, reach: float) -> None:
    gap = outcome.tooth_gap_mm
    for side in SIDES:
        low = gap if side > 0 else -reach
        axes.add_patch(Rectangle((-thickness - TEETH_MM, low), TEETH_MM, reach - gap, zorder=1, **TEETH_LOOK))


def _name_parts(axes: Axes, outcome: Outcome, thickness: float, reach: float) -> None:
    """Write every part's name on it."""
    rim, sink = outcome.rim, outcome.measures.sink_mm
    opening, gap = float(outcome.section.rest[:, 0].min()), outcome.tooth_gap_mm
    where = [
        ("upper lip", -0.55 * thickness, 0.55 * reach), ("lower lip", -0.55 * thickness, -0.55 * reach),
        ("teeth", -thickness - 0.5 * TEETH_MM, 0.6 * reach), ("teeth", -thickness - 0.5 * TEETH_MM, -0.6 * reach),
        ("cup", 0.55 * _front(outcome), 0.0), ("rim", 0.6 - 0.5 * sink, rim.high_point_radius),
    ]  # fmt: skip
    if opening > 0.0:
        where.append(("opening", -0.5 * thickness, 0.0))
    if gap > 0.0:
        where.append(("mouth", -thickness - 0.5 * TEETH_MM, 0.0))
    box = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 1.0}
    for name, x, y in where:
        turn = 90.0 if name in ("teeth", "mouth") else 0.0
        axes.text(x, y, name, ha="center", va="center", rotation=turn, size=8.5, zorder=7, bbox=box)


def mouth_table(outcome: Outcome) -> Table:
    """Return the outlines as drawn, upper half: the lip's layers, then the rim; z to the right, y up."""
    section = outcome.section
    parts = []
    for number, name in enumerate(section.layer_names):
        for line in outlines(section, section.layer == number):
            parts.append((name, turned(line, 1.0)))
    parts.append(("rim", turned(rim_line(outcome.rim, outcome.measures.sink_mm), 1.0)))
    return labelled("part", [(name, table(z_mm=p[:, 0], y_mm=p[:, 1])) for name, p in parts])
