"""The deformed section: lip in layers, rim, bite plane, tissue past the bite, pressure along the contact."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch

from labrum.meshes.arrays import Floats
from labrum.meshes.rims.rim import Rim
from labrum.reports.house_style.figure_data import Table, labelled, table
from labrum.reports.house_style.shapes import bite_plane, compound, metal, outlines, past_bite, rim_line
from labrum.reports.house_style.style import (
    DASHED,
    DOTTED,
    INK,
    LAYERS,
    METAL,
    PAST_BITE,
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
from labrum.reports.house_style.words import short
from labrum.simulate.outcome import Contact, Outcome, Section

HEIGHT_AXIS = "height above the resting lip, z (mm)"
RADIUS_AXIS = "radius from the axis, r (mm)"
PAST_BITE_LOOK: dict[str, Any] = {"facecolor": PAST_BITE, "edgecolor": INK, "hatch": "||||", "linewidth": 0.0}
METAL_LOOK: dict[str, Any] = {"facecolor": METAL, "edgecolor": QUIET, "hatch": "////", "linewidth": 0.0}
TALLEST_BAND_MM = 3.0
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

    @property
    def height_in(self) -> float:
        """Height of a figure whose drawing fills the house's width, without title and legend."""
        return (WIDTH_IN - 1.35) * (self.top - self.bottom) / self.right

    def apply(self, axes: Axes) -> None:
        """Show this part, both directions at one scale."""
        axes.set_xlim(0.0, self.right)
        axes.set_ylim(self.bottom, self.top)
        axes.set_aspect("equal")


@house_style()
def section_figure(outcome: Outcome, title: str = "", note: str = "") -> Figure:
    """Draw the half section as it stands under the force.

    Parameters
    ----------
    outcome
        A converged press.
    title, note
        People's words above and below the drawing; either may be empty.
    """
    window = Window.around([outcome])
    figure = sheet(window.height_in + 1.25, title, note)
    axes = figure.add_subplot()
    window.apply(axes)
    draw_tissue(axes, outcome.section)
    name_layers(axes, outcome.section, window)
    handles = [
        draw_metal(axes, outcome.rim, outcome.measures.sink_mm, window.top),
        draw_past_bite(axes, outcome),
        draw_bite_plane(axes, outcome),
        draw_pressure(axes, outcome.contact),
        draw_resting_surface(axes),
    ]
    label_axes(axes, RADIUS_AXIS, HEIGHT_AXIS, grid=False)
    legend_below(figure, [h for h in handles if h is not None])
    return finish(figure, title, note)


def draw_tissue(axes: Axes, section: Section) -> None:
    """Fill each layer with its own tint, skin first, and rule its outline."""
    for number in range(len(section.layer_names)):
        outline = compound(outlines(section, section.layer == number))
        tint = LAYERS[number % len(LAYERS)]
        axes.add_patch(PathPatch(outline, facecolor=tint, linewidth=0.0, zorder=1.0, label=section.layer_names[number]))
        axes.add_patch(PathPatch(outline, fill=False, edgecolor=QUIET, linewidth=0.7, zorder=1.7))


def name_layers(axes: Axes, section: Section, window: Window) -> None:
    """Write the layers' names beside the drawing, spread so that thin layers' names do not collide."""
    at = [_middle_at(section, number, window.right) for number in range(len(section.layer_names))]
    gap = NAME_GAP_IN * window.right / (WIDTH_IN - 1.35)
    for name, z, level in zip(section.layer_names, at, spread_apart(at, gap), strict=True):
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


def _middle_at(section: Section, layer: int, radius: float) -> float:
    nodes = section.deformed[np.unique(section.quads[section.layer == layer])]
    near = nodes[np.argsort(np.abs(nodes[:, 0] - radius))[: max(len(nodes) // 12, 9)], 1]
    return float(0.5 * (near.min() + near.max()))


def draw_metal(axes: Axes, rim: Rim, sink_mm: float, top: float) -> Patch:
    """Draw the rim's metal, hatched as engineers draw a cut body, its face a heavy line."""
    line = rim_line(rim, sink_mm)
    body = compound([metal(rim, sink_mm, top)])
    axes.add_patch(PathPatch(body, zorder=2, label="rim, cut", **METAL_LOOK))
    axes.plot(*line.T, color=INK, linewidth=1.3, zorder=4)
    return Patch(label="rim, cut", **METAL_LOOK)


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


def draw_pressure(axes: Axes, contact: Contact, kpa_per_mm: float | None = None) -> Patch:
    """Draw the pressure as a band on the tissue's side of the contact, quilled along the rim's normals.

    The band lies in the tissue because normals fan out there; in the metal they would cross at a sharp bite.
    ``kpa_per_mm`` is its scale, by default a round number that makes the peak at most 3 mm tall.
    """
    scale = kpa_per_mm or band_scale(float(contact.pressure_kpa.max(initial=0.0)))
    for span in pressed_runs(contact.pressure_kpa):
        foot = contact.place[span]
        head = foot + contact.normal[span] * (contact.pressure_kpa[span] / scale)[:, None]
        axes.add_patch(
            PathPatch(
                compound([np.vstack([foot, head[::-1]])]),
                facecolor=PRESSURE_FILL,
                edgecolor=PRESSURE,
                linewidth=1.0,
                zorder=3,
                label="contact pressure",
            )
        )
        _quills(axes, foot, head)
    return Patch(facecolor=PRESSURE_FILL, edgecolor=PRESSURE, label=f"pressure, {scale:g} kPa per mm")


def band_scale(peak_kpa: float) -> float:
    """Return the smallest of 1, 2, 5, 10, 20, … kPa a millimetre that keeps the band within 3 mm."""
    wanted = max(peak_kpa, 1e-6) / TALLEST_BAND_MM
    decade = 10.0 ** np.floor(np.log10(wanted))
    return float(next(step * decade for step in (1, 2, 5, 10) if step * decade >= wanted * (1 - 1e-9)))


def pressed_runs(pressure: Floats) -> Iterator[slice]:
    """Yield each unbroken run of nodes under pressure, with the free node at either end."""
    ends = np.flatnonzero(np.diff(np.concatenate([[False], pressure > 0.0, [False]]).astype(int)))
    for first, past in ends.reshape(-1, 2):
        yield slice(max(int(first) - 1, 0), int(past) + 1)


def _quills(axes: Axes, foot: Floats, head: Floats) -> None:
    reach = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(foot, axis=0).T))])
    wanted = np.arange(0.25, reach[-1], 0.35)
    for start, end in zip(_between(wanted, reach, foot), _between(wanted, reach, head), strict=True):
        axes.plot(*np.array([start, end]).T, color=PRESSURE, linewidth=0.6, zorder=3.2)


def _between(wanted: Floats, reach: Floats, points: Floats) -> Floats:
    return np.column_stack([np.interp(wanted, reach, points[:, k]) for k in (0, 1)])


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
