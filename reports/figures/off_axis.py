"""Off the axis: the ring of pressure under a tilt, an arch or unlike lips, its sides, and how steady rims are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from labrum.meshes.arrays import Floats
from labrum.reports.figures.pressure import PEAK_LOOK, PRESSED_RADIUS_AXIS, PRESSURE_AXIS
from labrum.reports.figures.ring_map import ACROSS_AXIS, UP_AXIS
from labrum.reports.house_style.figure_data import Table, labelled, table
from labrum.reports.house_style.style import (
    DASHED,
    DOTTED,
    INK,
    QUIET,
    SEQUENTIAL,
    SERIES,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.simulate.outcome import Outcome
from labrum.simulate.postures.found import OffAxis, Opposed, PressureWave

KPA = 1e3
TURNS = 181
DOWN, RIGHT = -90.0, 0.0
"""Where theta = 0 lies in the player's view: the lower lip for a tilt and for unlike lips, a corner for an arch."""


@dataclass(frozen=True)
class WaveView:
    """A wave as it is drawn: how much of it, what that is in words, and the direction of theta = 0, degrees from x.

    ``places`` names what lies at theta = 0 and at the wave's other extreme, where they have names.
    """

    wave: PressureWave
    amount: float
    words: str
    heading_deg: float = DOWN
    places: tuple[str, str] = ("", "")

    def pressure_kpa(self, angle_deg: float) -> Floats:
        """(k,) pressure at an angle from theta = 0."""
        return KPA * self.wave.pressure(self.amount, float(np.cos(np.radians(self.wave.order * angle_deg))))


def wave_views(outcome: Outcome) -> dict[str, WaveView]:
    """What an outcome has to show off the axis, by a word for each: ``tilted``, ``unlike``, ``arched``.

    Without a tilt asked for, that is shown which raises the peak by a tenth, or up to which the answer holds.
    """
    found = outcome.off_axis
    if found is None:
        return {}
    views = {"tilted": _tilted_view(found)}
    if found.lips is not None:
        views["unlike"] = _opposed_view(found.lips.pressures, "between unlike lips", DOWN, ("lower lip", "upper lip"))
    if found.arch is not None:
        words = f"on teeth on an arch of {found.posture.arch_radius_mm:g} mm"
        views["arched"] = _opposed_view(found.arch, words, RIGHT, ("corners", "front teeth"))
    return views


def _tilted_view(found: OffAxis) -> WaveView:
    tilted = found.tilted
    angle = found.posture.tilt_deg or min(tilted.tilt_for_ten_percent_deg, tilted.holds_to_deg)
    words = f"tilted by {angle:.2g}° towards the lower lip"
    return WaveView(tilted.tilt, float(np.radians(angle)), words, DOWN, ("lower lip", "upper lip"))


def _opposed_view(shown: Opposed, words: str, heading_deg: float, places: tuple[str, str]) -> WaveView:
    return WaveView(shown.wave, shown.amount, words, heading_deg, places)


@dataclass(frozen=True)
class Steadiness:
    """A rim's stiffness, N mm per degree or N per mm, over one dimension of it, others kept; one line of a figure."""

    label: str
    dimension: Sequence[float]
    stiffness: Sequence[float]


@house_style()
def waved_ring_figure(view: WaveView, title: str = "", note: str = "") -> Figure:
    """Draw the ring of pressure, no longer even all round, as the player feels it.

    Parameters
    ----------
    view
        What to draw: the first-order change, drawn on in a straight line.
    title, note
        People's words above and below the drawing; either may be empty.
    """
    figure = sheet(4.9, title, note)
    axes = figure.add_subplot()
    turns, radius, field = _field(view)
    angle = np.radians(view.heading_deg + turns)
    painted = axes.pcolormesh(
        radius * np.cos(angle), radius * np.sin(angle), field, shading="gouraud", cmap=SEQUENTIAL, vmin=0.0,
        rasterized=True,
    )  # fmt: skip
    reach = 1.1 * float(radius.max())
    axes.set(xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal")
    label_axes(axes, ACROSS_AXIS, UP_AXIS, grid=False)
    axes.set_title("Pressure on the lip, seen from the player's side", weight="normal", size=8.5)
    bar = figure.colorbar(painted, ax=axes, shrink=0.85, pad=0.03)
    bar.set_label(PRESSURE_AXIS)
    legend_below(figure, [_mark_highest(axes, turns, radius, field, view), *_rule_ends(axes, radius)], columns=1)
    return finish(figure, title, note)


def waved_ring_table(view: WaveView) -> Table:
    """Return the map in polar places: angle from theta = 0, radius, pressure."""
    turns, radius, field = _field(view)
    angles = np.broadcast_to(turns, field.shape)
    return table(
        angle_deg=angles.ravel(), radius_mm=np.broadcast_to(radius, field.shape).ravel(), pressure_kpa=field.ravel()
    )


@house_style()
def sides_figure(view: WaveView, title: str = "", note: str = "") -> Figure:
    """Draw the pressure against the radius at 0, 90 and 180 degrees from theta = 0, and where the wave is nought.

    Parameters
    ----------
    view
        What to draw.
    title, note
        People's words above and below the drawing; either may be empty.
    """
    figure = sheet(3.3, title, note)
    axes = figure.add_subplot()
    on = view.wave.active
    radius = view.wave.radius[on]
    lines: list[Line2D] = []
    for angle, look in zip(_angles(view), SERIES, strict=False):
        words = " and ".join(f"{k:g}°" for k in angle) + _named(view, angle[0])
        lines += axes.plot(
            radius, view.pressure_kpa(angle[0])[on], color=look.colour, linestyle=look.dashes, label=f"at {words}"
        )
    if view.wave.order % 2 == 0:
        even = KPA * view.wave.base[on]
        lines += axes.plot(radius, even, color=QUIET, linestyle=DOTTED, linewidth=1.3, label="in between, at 45°")
    label_axes(axes, PRESSED_RADIUS_AXIS, PRESSURE_AXIS)
    axes.set_ylim(bottom=0.0)
    axes.set_title(view.words, weight="normal", size=8.5)
    legend_below(figure, lines)
    return finish(figure, title, note)


def sides_table(view: WaveView) -> Table:
    """Return the lines as drawn, the even one first."""
    on = view.wave.active
    radius = view.wave.radius[on]
    parts = [("even", table(radius_mm=radius, pressure_kpa=KPA * view.wave.base[on]))]
    parts += [
        (f"{angle[0]:g} deg", table(radius_mm=radius, pressure_kpa=view.pressure_kpa(angle[0])[on]))
        for angle in _angles(view)
    ]
    return labelled("side", parts)


@house_style()
def steadiness_figure(
    lines: Sequence[Steadiness], across: str, up: str, title: str = "", note: str = ""
) -> Figure:
    """Draw how a stiffness against tilt or shift goes with a dimension of the rim, a line for each of another.

    Parameters
    ----------
    lines
        At most as many as the house has line styles.
    across, up
        Both axes: quantity, symbol and unit.
    title, note
        People's words above and below the drawing; either may be empty.
    """
    figure = sheet(3.8, title, note)
    axes = figure.add_subplot()
    drawn: list[Line2D] = []
    for line, look in zip(lines, SERIES, strict=False):
        drawn += axes.plot(
            line.dimension, line.stiffness, color=look.colour, linestyle=look.dashes, marker=look.marker,
            clip_on=False, label=line.label,
        )  # fmt: skip
    label_axes(axes, across, up)
    axes.set_ylim(bottom=0.0)
    legend_below(figure, drawn)
    return finish(figure, title, note)


def steadiness_table(lines: Sequence[Steadiness]) -> Table:
    """Return every point as drawn."""
    parts = [(line.label, table(dimension_mm=line.dimension, stiffness=line.stiffness)) for line in lines]
    return labelled("line", parts)


def _field(view: WaveView) -> tuple[Floats, Floats, Floats]:
    """Angles (1, m) from theta = 0, radii (k, 1) of the touching nodes, and pressures (k, m), kPa."""
    turns, on = np.linspace(0.0, 360.0, TURNS), view.wave.active
    field = np.column_stack([view.pressure_kpa(angle)[on] for angle in turns])
    return turns[None, :], view.wave.radius[on, None], field


def _angles(view: WaveView) -> list[tuple[float, ...]]:
    """0, 90 and 180 degrees, those that look alike together: with two waves 0 and 180 do."""
    return [(0.0,), (90.0,), (180.0,)] if view.wave.order % 2 else [(0.0, 180.0), (90.0,)]


def _named(view: WaveView, angle_deg: float) -> str:
    """What lies at an angle, after a comma; or that the wave is nought there."""
    if _is_even(view, angle_deg):
        return ", as without it"
    name = view.places[0 if np.cos(np.radians(view.wave.order * angle_deg)) > 0.0 else 1]
    return f", {name}" if name else ""


def _is_even(view: WaveView, angle_deg: float) -> bool:
    """Is the wave nought there?"""
    return abs(np.cos(np.radians(view.wave.order * angle_deg))) < 1e-9


def _mark_highest(axes: Axes, turns: Floats, radius: Floats, field: Floats, view: WaveView) -> Artist:
    ring, turn = np.unravel_index(int(np.argmax(field)), field.shape)
    place, angle = float(radius[ring, 0]), np.radians(view.heading_deg + turns[0, turn])
    words = f"{view.words}: highest {field[ring, turn]:.1f} kPa at r = {place:.2f} mm"
    (dot,) = axes.plot(place * np.cos(angle), place * np.sin(angle), "o", label=words, **PEAK_LOOK)
    return dot


def _rule_ends(axes: Axes, radius: Floats) -> list[Artist]:
    turn, rules = np.linspace(0.0, 2.0 * np.pi, 361), []
    looks = ((radius.min(), INK, DASHED, "contact begins"), (radius.max(), QUIET, "solid", "contact ends"))
    for r, colour, dashes, words in looks:
        place = f"{words} at r = {float(r):.2f} mm"
        x, y = r * np.cos(turn), r * np.sin(turn)
        rules += axes.plot(x, y, color=colour, linestyle=dashes, linewidth=0.9, label=place)
    return list(rules)
