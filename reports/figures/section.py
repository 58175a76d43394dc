"""The deformed section: lip in layers, rim, bite plane, tissue past the bite, pressure along the contact.

The pressure is a band of colour on the metal's side of the contact, so that it covers neither the tissue nor the gap at
the bite; the bite has a close-up of its own. Where a lip is much thicker than what is seen of the press, the drawing
ends in its core by a break, as engineers break a long part.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import PolyCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.polygons import half_plane
from labrum.meshes.rims.rim import Rim
from labrum.reports.house_style.figure_data import Table, labelled, table
from labrum.reports.house_style.paper import sheet_width
from labrum.reports.house_style.shapes import bite_plane, compound, metal, outlines, past_bite, rim_line
from labrum.reports.house_style.style import (
    DASHED,
    DOTTED,
    INK,
    LAYERS,
    METAL,
    PAPER,
    PAST_BITE,
    QUIET,
    SEQUENTIAL,
    WIDTH_IN,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.reports.house_style.words import short
from labrum.simulate.outcome import Contact, Outcome, Section
from labrum.simulate.readings.pressure_line import pressure_lines

BAND_AXIS = "contact pressure, p (kPa): the band on the metal"
HEIGHT_AXIS = "height above the resting lip, z (mm)"
RADIUS_AXIS = "radius from the axis, r (mm)"
PAST_BITE_LOOK: dict[str, Any] = {"facecolor": PAST_BITE, "edgecolor": INK, "hatch": "||||", "linewidth": 0.0}
METAL_LOOK: dict[str, Any] = {"facecolor": METAL, "edgecolor": QUIET, "hatch": "////", "linewidth": 0.0}
BAND_MM, CLOSE_BAND_MM = 0.42, 0.16
"""Width of the band of pressure on the metal, in the section and in the close-up."""
CLOSE_UP_MM = (2.7, 1.5)
"""How far the close-up reaches to either side of the bite, and up and down."""
SEEN_BELOW_MM, WORTH_A_BREAK_MM = 3.2, 2.0
"""Tissue shown below the rim's lowest place, and what must be left over for the rest to be left out."""
NAME_GAP_IN = 0.17


@dataclass(frozen=True)
class Window:
    """The part of the section that is shown, from the axis to ``right``, mm."""

    right: float
    bottom: float
    top: float

    @classmethod
    def around(cls, outcomes: Sequence[Outcome]) -> Window:
        """Show all of the lips' thickness, the rims with some room, and whatever stands past the bite."""
        right = max(o.rim.outer_radius for o in outcomes) + 4.0
        right = min(right, max(float(o.section.deformed[:, 0].max()) for o in outcomes))
        bottom = min(float(o.section.deformed[:, 1].min()) for o in outcomes)
        heights = [h for o in outcomes for h in (bite_plane(o)[1] + 3.0, float(o.section.deformed[:, 1].max()) + 1.5)]
        return cls(right, bottom - 0.3, max(heights))

    @classmethod
    def of_the_press(cls, outcomes: Sequence[Outcome]) -> Window:
        """Show as much, but leave the depth of the lips out where nothing of the press is seen."""
        whole = cls.around(outcomes)
        bottom = -max(o.measures.sink_mm for o in outcomes) - SEEN_BELOW_MM
        return replace(whole, bottom=bottom) if bottom - whole.bottom > WORTH_A_BREAK_MM else whole

    @property
    def height_in(self) -> float:
        """Height of a figure whose drawing fills the house's width, without title and legend."""
        return (sheet_width(WIDTH_IN) - 1.35) * (self.top - self.bottom) / self.right

    def apply(self, axes: Axes) -> None:
        """Show this part, both directions at one scale."""
        axes.set_xlim(0.0, self.right)
        axes.set_ylim(self.bottom, self.top)
        axes.set_aspect("equal")


@house_style()
def section_figure(
    outcome: Outcome, title: str = "", note: str = "", pressure_to_kpa: float | None = None
) -> Figure:
    """Draw the half section as it stands under the force, and the bite close up.

    Parameters
    ----------
    outcome
        A converged press.
    title, note
        People's words above and below the drawing; either may be empty.
    pressure_to_kpa
        Where the colours of pressure end; by default at the peak. Rims that are compared share it.
    """
    window, scale = Window.of_the_press([outcome]), pressure_scale([outcome], pressure_to_kpa)
    close = (sheet_width(WIDTH_IN) - 1.0) * CLOSE_UP_MM[1] / CLOSE_UP_MM[0]
    figure = sheet(window.height_in + close + 2.0, title, note)
    axes, bite = figure.subplots(2, 1, height_ratios=(window.height_in, close))
    window.apply(axes)
    handles = _draw_press(axes, outcome, scale, window.top)
    handles.append(draw_resting_surface(axes))
    name_layers(axes, outcome.section, window)
    draw_break(axes, outcome.section, window)
    label_axes(axes, RADIUS_AXIS, "height, z (mm)", grid=False)
    _close_up(bite, outcome, scale)
    bar = figure.colorbar(ScalarMappable(scale, SEQUENTIAL), ax=bite, location="bottom", aspect=40, pad=0.02)
    bar.set_label(BAND_AXIS)
    legend_below(figure, [h for h in handles if h is not None])
    return finish(figure, title, note)


def pressure_scale(outcomes: Sequence[Outcome], pressure_to_kpa: float | None = None) -> Normalize:
    """The colours of pressure, from nought to the largest peak or to what is given, kPa."""
    return Normalize(0.0, pressure_to_kpa or max(1e-9, *(o.measures.peak_pressure_kpa for o in outcomes)))


def _draw_press(axes: Axes, outcome: Outcome, scale: Normalize, top: float, band_mm: float = BAND_MM) -> list[Any]:
    """Tissue, what stands past the bite, metal, plane and pressure; returns legend handles."""
    draw_tissue(axes, outcome.section)
    handles: list[Any] = [draw_metal(axes, outcome.rim, outcome.measures.sink_mm, top)]
    handles += [draw_past_bite(axes, outcome), draw_bite_plane(axes, outcome)]
    draw_pressure(axes, outcome.contact, scale, band_mm)
    return handles


def _close_up(axes: Axes, outcome: Outcome, scale: Normalize) -> None:
    """Draw the bite's neighbourhood, the bite point on it, and the peak where it is in sight."""
    radius, plane = bite_plane(outcome)
    wide, tall = CLOSE_UP_MM
    axes.set(xlim=(radius - wide, radius + wide), ylim=(plane - tall, plane + tall), aspect="equal")
    _draw_press(axes, outcome, scale, plane + tall, CLOSE_BAND_MM)
    axes.plot(radius, plane, "o", color=PAPER, markeredgecolor=INK, markersize=5, zorder=6, label="bite point")
    box = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 1.0}
    look: dict[str, Any] = {"size": 8.0, "zorder": 7, "bbox": box}
    arrow = {"arrowstyle": "-", "color": INK, "linewidth": 0.7}
    axes.annotate("bite point", (radius, plane), (radius - 1.9, plane + 1.1), arrowprops=arrow, va="center", **look)
    m = outcome.measures
    lines = pressure_lines(outcome.contact.place, outcome.contact.pressure_kpa, outcome.contact.pressure_kpa > 0.0)
    if lines and abs(m.peak_radius_mm - radius) < 0.8 * wide:
        place = np.vstack([line.place[np.argmax(line.pressure)][None] for line in lines])
        there = place[np.argmin(np.abs(place[:, 0] - m.peak_radius_mm))]
        words = f"peak {m.peak_pressure_kpa:.0f} kPa"
        axes.annotate(words, tuple(there), (radius - 1.9, plane - 1.1), arrowprops=arrow, va="center", **look)
    label_axes(axes, "the bite close up: radius from the axis, r (mm)", "height, z (mm)", grid=False)


def draw_tissue(axes: Axes, section: Section) -> None:
    """Fill each layer with its own tint, skin first, and rule its outline."""
    for number in range(len(section.layer_names)):
        outline = compound(outlines(section, section.layer == number))
        tint = LAYERS[number % len(LAYERS)]
        axes.add_patch(PathPatch(outline, facecolor=tint, linewidth=0.0, zorder=1.0, label=section.layer_names[number]))
        axes.add_patch(PathPatch(outline, fill=False, edgecolor=QUIET, linewidth=0.7, zorder=1.7))


def name_layers(axes: Axes, section: Section, window: Window) -> None:
    """Write the layers' names beside the drawing, spread so that thin layers' names do not collide."""
    spans = [_span_at(section, number, window.right) for number in range(len(section.layer_names))]
    named = [(name, *span) for name, span in zip(section.layer_names, spans, strict=True)]
    seen = [(name, top, low) for name, top, low in named if top > window.bottom]
    at = [0.5 * (top + max(low, window.bottom)) for _, top, low in seen]
    gap = NAME_GAP_IN * window.right / (sheet_width(WIDTH_IN) - 1.35)
    for (name, *_), z, level in zip(seen, at, spread_apart(at, gap), strict=True):
        leader = {"arrowstyle": "-", "color": QUIET, "linewidth": 0.6, "shrinkA": 1.0, "shrinkB": 0.0}
        axes.annotate(
            short(name, 0.75, 8.0),
            (window.right, z),
            (window.right * 1.04, level),
            va="center",
            ha="left",
            size=8.0,
            arrowprops=leader,
            annotation_clip=False,
        )


def spread_apart(levels: Sequence[float], gap: float) -> list[float]:
    """Move descending levels as little as needed to stand ``gap`` apart, keeping the middle of each crowd."""
    crowds: list[tuple[float, int]] = []
    for level in levels:
        top, count = level, 1
        while crowds and crowds[-1][0] - (crowds[-1][1] - 1) * gap < top + gap:
            above, more = crowds.pop()
            middle = ((above - (more - 1) * gap / 2) * more + (top - (count - 1) * gap / 2) * count) / (more + count)
            count += more
            top = middle + (count - 1) * gap / 2
        crowds.append((top, count))
    return [top - k * gap for top, count in crowds for k in range(count)]


def _span_at(section: Section, layer: int, radius: float) -> tuple[float, float]:
    """Upper and lower end of a layer near a radius."""
    nodes = section.deformed[np.unique(section.quads[section.layer == layer])]
    near = nodes[np.argsort(np.abs(nodes[:, 0] - radius))[: max(len(nodes) // 12, 9)], 1]
    return float(near.max()), float(near.min())


def draw_break(axes: Axes, section: Section, window: Window) -> None:
    """Where the drawing ends inside the lip: a break line, and how much lies below it."""
    depth = -float(section.rest[:, 1].min())
    if window.bottom < -depth:
        return
    wave_line(axes, 0.0, window.right, window.bottom)
    hidden = [n for k, n in enumerate(section.layer_names) if _span_at(section, k, window.right)[0] <= window.bottom]
    words = ", ".join(["the lip goes on", *hidden, f"teeth at z = −{depth:.1f} mm"])
    style: dict[str, Any] = {"size": 7.5, "color": QUIET, "zorder": 6, "va": "bottom"}
    axes.text(0.02 * window.right, window.bottom + 0.4, short(words, sheet_width(WIDTH_IN) - 1.6, 7.5), **style)


def wave_line(axes: Axes, left: float, right: float, level: float) -> None:
    """Rule a break: a wavy line, paper below it."""
    across = np.linspace(left, right, 240)
    wave = level + 0.12 * np.sin(2.0 * np.pi * across / 1.1)
    axes.fill_between(across, wave, level - 2.0, color=PAPER, linewidth=0, zorder=5.5)
    axes.plot(across, wave, color=QUIET, linewidth=0.8, zorder=5.6)


def draw_metal(axes: Axes, rim: Rim, sink_mm: float, top: float) -> Patch:
    """Draw the rim's metal, hatched as engineers draw a cut body, its face a heavy line.

    An outline that ends below ``top``, as measured ones do, is broken off at the lower of its ends.
    """
    line = rim_line(rim, sink_mm)
    end = float(min(line[0, 1], line[-1, 1]))
    body = metal(rim, sink_mm, top)
    if end < top:
        body = half_plane(body, 1, end, above=False)
        across = np.linspace(body[:, 0].min(), body[:, 0].max(), 120)
        inside = across[(across >= _at_height(line, end, 0)) & (across <= _at_height(line, end, -1))]
        axes.plot(inside, end + 0.1 * np.sin(6.0 * inside), color=QUIET, linewidth=0.8, zorder=4)
        line = np.where((line[:, 1] <= end + 1e-9)[:, None], line, np.nan)
    axes.add_patch(PathPatch(compound([body]), zorder=2, label="rim, cut", **METAL_LOOK))
    axes.plot(*line.T, color=INK, linewidth=1.3, zorder=4)
    return Patch(label="rim, cut", **METAL_LOOK)


def _at_height(line: Floats, height: float, end: int) -> float:
    """Radius where an outline is at a height, looked for from one of its ends."""
    below = np.flatnonzero(line[:, 1] <= height + 1e-9)
    return float(line[below[end], 0])


def draw_past_bite(axes: Axes, outcome: Outcome) -> Patch | None:
    """Shade the tissue beyond the bite plane and inside the bite; None if none stands there."""
    polygons = past_bite(outcome)
    if not polygons:
        return None
    m = outcome.measures
    words = f"past the bite: {m.intrusion_height_mm:.2f} mm, {m.intrusion_volume_mm3:.0f} mm³"
    axes.add_patch(PathPatch(compound(polygons), zorder=1.5, label="past the bite", **PAST_BITE_LOOK))
    return Patch(label=words, **PAST_BITE_LOOK)


def draw_bite_plane(axes: Axes, outcome: Outcome) -> Line2D:
    """Rule the bite plane from the axis to the bite."""
    radius, plane = bite_plane(outcome)
    (line,) = axes.plot([0.0, radius], [plane, plane], color=INK, linestyle=DASHED, linewidth=1.2, zorder=5)
    line.set_label("bite plane")
    return line


def draw_resting_surface(axes: Axes) -> Line2D:
    """Rule the surface of the lip at rest."""
    return axes.axhline(0.0, color=QUIET, linestyle=DOTTED, linewidth=0.9, zorder=1.2, label="lip's surface at rest")


def draw_pressure(axes: Axes, contact: Contact, scale: Normalize, band_mm: float = BAND_MM) -> None:
    """Draw the pressure as a band of colour on the metal along the contact, ``band_mm`` wide."""
    for line in pressure_lines(contact.place, contact.pressure_kpa, contact.pressure_kpa > 0.0):
        normal = line.nodal(contact.normal)
        back = line.place - band_mm * normal / np.maximum(np.hypot(*normal.T), 1e-9)[:, None]
        strip = np.stack([line.place[:-1], line.place[1:], back[1:], back[:-1]], axis=1)
        colours = colormaps[SEQUENTIAL](scale(0.5 * (line.pressure[1:] + line.pressure[:-1])))
        band = PolyCollection(list(strip), facecolors=colours, edgecolors=colours, linewidths=0.2, zorder=3)
        band.set_label("contact pressure")
        axes.add_collection(band)


def pressed_runs(pressure: Floats) -> Iterator[slice]:
    """Yield each unbroken run of nodes under pressure, with the free node at either end."""
    ends = np.flatnonzero(np.diff(np.concatenate([[False], pressure > 0.0, [False]]).astype(int)))
    for first, past in ends.reshape(-1, 2):
        yield slice(max(int(first) - 1, 0), int(past) + 1)


def section_table(outcome: Outcome) -> Table:
    """Return the lines as drawn: the rim, the lip's surface with its pressure, and the bite plane."""
    radius, plane = bite_plane(outcome)
    line = rim_line(outcome.rim, outcome.measures.sink_mm)
    contact = outcome.contact
    parts = [
        ("rim", line, np.zeros(len(line))),
        ("lip surface", contact.place, contact.pressure_kpa),
        ("bite plane", np.array([[0.0, plane], [radius, plane]]), np.zeros(2)),
    ]
    return labelled("part", [(name, table(r_mm=p[:, 0], z_mm=p[:, 1], pressure_kpa=q)) for name, p, q in parts])
