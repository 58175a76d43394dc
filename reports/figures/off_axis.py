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
from labrum.reports.house_style.words import error_in_words, fitted
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Outcome
from labrum.simulate.postures.asked import Posture
from labrum.simulate.postures.found import OffAxis, Opposed, PressureWave
from labrum.simulate.readings.pressure_line import end_by_fall, pressure_lines, profile_of

KPA = 1e3
TURNS, RINGS_OF_WAVE = 181, 240
TITLE_PT, TITLE_SHARE = 8.5, 0.7
"""The letters over a map, and the share of the sheet's width they may take: beyond stands the scale of colours."""
MOVED_NODES = 8.0
"""How many nodes an end of contact may move out by in a drawing: more is beyond the straight line by far."""
EVEN_DEG = 45.0  # where a wave of order two is nought
DOWN, RIGHT = -90.0, 0.0
"""Where theta = 0 lies in the player's view: the lower lip for a tilt and for unlike lips, a corner for an arch."""


@dataclass(frozen=True)
class WaveView:
    """A wave as it is drawn: how much of it, what that is in words, and the direction of theta = 0, degrees from x.

    ``places`` names what lies at theta = 0 and at the wave's other extreme, where they have names; ``error_kpa`` is the
    estimated error of the highest pressure, where one is told.
    """

    wave: PressureWave
    amount: float
    words: str
    heading_deg: float = DOWN
    places: tuple[str, str] = ("", "")
    error_kpa: float | None = None

    def pressure_kpa(self, angle_deg: float) -> Floats:
        """(k,) pressure at an angle from theta = 0."""
        return KPA * self.wave.pressure(self.amount, float(np.cos(np.radians(self.wave.order * angle_deg))))

    def highest_kpa(self) -> float:
        """The largest pressure at any angle."""
        return float(max(self.pressure_kpa(angle).max(initial=0.0) for angle in (0.0, 180.0 / self.wave.order)))

    def profile(self, angle_deg: float) -> Floats:
        """(m, 2) radius and pressure at an angle, nought at both ends.

        The square of a risen pressure falls in a straight line towards an end that has moved out, so the curve goes on
        past the last node that touches to where it is nought.
        """
        found = self.pressure_kpa(angle_deg)
        place = np.column_stack([self.wave.radius, np.zeros(len(found))])
        return profile_of(pressure_lines(place, found, self.wave.active & (found > 0.0), MOVED_NODES, end_by_fall))


def wave_views(outcome: Outcome) -> dict[str, WaveView]:
    """What an outcome has to show off the axis, by a word for each: ``tilted``, ``unlike``, ``arched``.

    Without a tilt asked for, that is shown which raises the peak by a tenth, or up to which the answer holds.
    """
    found, m = outcome.off_axis, outcome.measures
    if found is None:
        return {}
    views = {"tilted": _tilted_view(found, m)}
    if found.lips is not None:
        words = f"between lips, the lower {_unlike(found.posture)}"
        error = _error_of_highest(m, "lower_lip_peak_kpa", "upper_lip_peak_kpa")
        views["unlike"] = _opposed_view(found.lips.pressures, words, DOWN, ("lower lip", "upper lip"), error)
    if found.arch is not None:
        words = f"on teeth on an arch of {found.posture.arch_radius_mm:g} mm"
        error = _error_of_highest(m, "corners_peak_kpa", "front_teeth_peak_kpa")
        views["arched"] = _opposed_view(found.arch, words, RIGHT, ("corners", "front teeth"), error)
    return views


def _unlike(posture: Posture) -> str:
    """Say in words how unlike the upper lip the lower one is."""
    asked = (("stiff", posture.lower_stiffer), ("thick", posture.lower_thicker))
    return " and ".join(f"{(1.0 + share) / (1.0 - share):.3g} times as {words}" for words, share in asked if share)


def _tilted_view(found: OffAxis, measures: Measures) -> WaveView:
    tilted = found.tilted
    angle = found.posture.tilt_deg or min(tilted.tilt_for_ten_percent_deg, tilted.holds_to_deg)
    words = f"tilted by {angle:.2g}° towards the lower lip"
    error = measures.errors.get("tilted_peak_kpa") if found.leaning is not None else _error_under(angle, measures)
    return WaveView(tilted.tilt, float(np.radians(angle)), words, DOWN, ("lower lip", "upper lip"), error)


def _error_under(angle_deg: float, measures: Measures) -> float | None:
    """The peak's error, kPa, under a tilt nobody asked for: that of the straight peak and of its slope together."""
    straight, slope = (measures.errors.get(name) for name in ("peak_pressure_kpa", "peak_percent_per_degree"))
    rise = measures.peak_percent_per_degree
    if straight is None or slope is None or rise is None:
        return None
    return straight * (1.0 + 0.01 * abs(rise) * angle_deg) + 0.01 * slope * angle_deg * measures.peak_pressure_kpa


def _error_of_highest(measures: Measures, *names: str) -> float | None:
    """The error of whichever of these pressures is the highest; None where none is told."""
    told = [(value, name) for name in names if (value := getattr(measures, name)) is not None]
    return measures.errors.get(max(told)[1]) if told else None


def _opposed_view(
    shown: Opposed, words: str, heading_deg: float, places: tuple[str, str], error_kpa: float | None
) -> WaveView:
    return WaveView(shown.wave, shown.amount, words, heading_deg, places, error_kpa)


@dataclass(frozen=True)
class Steadiness:
    """A rim's stiffness, N mm per degree or N per mm, over one dimension of it, others kept; one line of a figure."""

    label: str
    dimension: Sequence[float]
    stiffness: Sequence[float]


@house_style()
def waved_ring_figure(
    view: WaveView, title: str = "", note: str = "", pressure_to_kpa: float | None = None
) -> Figure:
    """Draw the ring of pressure, no longer even all round, as the player feels it.

    Parameters
    ----------
    view
        What to draw: the first-order change, drawn on in a straight line.
    title, note
        People's words above and below the drawing; either may be empty.
    pressure_to_kpa
        Where the colours of pressure end; by default at the highest.
    """
    figure = sheet(4.9, title, note)
    axes = figure.add_subplot()
    turns, radius, field = _field(view)
    angle = np.radians(view.heading_deg + turns)
    painted = axes.pcolormesh(
        radius * np.cos(angle), radius * np.sin(angle), field, shading="gouraud", cmap=SEQUENTIAL, vmin=0.0,
        vmax=pressure_to_kpa, rasterized=True,
    )  # fmt: skip
    reach = 1.1 * float(radius.max())
    axes.set(xlim=(-reach, reach), ylim=(-reach, reach), aspect="equal")
    label_axes(axes, ACROSS_AXIS, UP_AXIS, grid=False)
    said = fitted(view.words, TITLE_SHARE * figure.get_size_inches()[0], TITLE_PT, 2)
    words = "\n".join(["Pressure on the lip, seen from the player's side,", *said])
    axes.set_title(words, weight="normal", size=TITLE_PT)
    bar = figure.colorbar(painted, ax=axes, shrink=0.85, pad=0.03)
    bar.set_label(PRESSURE_AXIS)
    legend_below(figure, [_mark_highest(axes, view), *_rule_ends(axes, view)], columns=1)
    return finish(figure, title, note)


def waved_ring_table(view: WaveView) -> Table:
    """Return the map in polar places: angle from theta = 0, radius, pressure."""
    turns, radius, field = _field(view)
    angles = np.broadcast_to(turns, field.shape)
    return table(
        angle_deg=angles.ravel(), radius_mm=np.broadcast_to(radius, field.shape).ravel(), pressure_kpa=field.ravel()
    )


@house_style()
def sides_figure(
    view: WaveView, title: str = "", note: str = "", pressure_to_kpa: float | None = None
) -> Figure:
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
    lines: list[Line2D] = []
    for angle, look in zip(_angles(view), SERIES, strict=False):
        words = " and ".join(f"{k:g}°" for k in angle) + _named(view, angle[0])
        lines += axes.plot(
            *view.profile(angle[0]).T, color=look.colour, linestyle=look.dashes, label=f"at {words}"
        )
    if view.wave.order % 2 == 0:
        even = view.profile(EVEN_DEG)
        lines += axes.plot(*even.T, color=QUIET, linestyle=DOTTED, linewidth=1.3, label="in between, at 45°")
    label_axes(axes, PRESSED_RADIUS_AXIS, PRESSURE_AXIS)
    axes.set_ylim(0.0, pressure_to_kpa)
    axes.set_title(view.words, weight="normal", size=TITLE_PT)
    legend_below(figure, lines)
    return finish(figure, title, note)


def sides_table(view: WaveView) -> Table:
    """Return the lines as drawn, the even one first."""
    even = EVEN_DEG if view.wave.order % 2 == 0 else 90.0
    sides = [("even", view.profile(even)), *((f"{angle[0]:g} deg", view.profile(angle[0])) for angle in _angles(view))]
    return labelled("side", [(name, table(radius_mm=p[:, 0], pressure_kpa=p[:, 1])) for name, p in sides])


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
    axes.set_ylim(0.0, 1.08 * max((max(line.stiffness) for line in lines if line.stiffness), default=1.0))
    if len(lines) > 1:
        legend_below(figure, drawn)
    return finish(figure, title, note)


def steadiness_table(lines: Sequence[Steadiness]) -> Table:
    """Return every point as drawn."""
    parts = [(line.label, table(dimension_mm=line.dimension, stiffness=line.stiffness)) for line in lines]
    return labelled("line", parts)


def _field(view: WaveView) -> tuple[Floats, Floats, Floats]:
    """Angles (1, m) from theta = 0, radii (k, 1) from end to end of all contact, and pressures (k, m), kPa."""
    turns = np.linspace(0.0, 360.0, TURNS)
    profiles = [view.profile(angle) for angle in turns]
    ends = [end for profile in profiles for end in profile[[0, -1], 0] if len(profile)]
    radius = np.linspace(min(ends), max(ends), RINGS_OF_WAVE)
    field = np.column_stack([np.interp(radius, p[:, 0], p[:, 1], left=0.0, right=0.0) for p in profiles])
    return turns[None, :], radius[:, None], field


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


def _mark_highest(axes: Axes, view: WaveView) -> Artist:
    turns = np.linspace(0.0, 360.0, TURNS)
    found = np.column_stack([view.pressure_kpa(angle) for angle in turns])
    ring, turn = np.unravel_index(int(np.argmax(found)), found.shape)
    place, angle = float(view.wave.radius[ring]), np.radians(view.heading_deg + turns[turn])
    beside = "" if view.error_kpa is None else f" ± {error_in_words(view.error_kpa)}"
    words = f"highest {found[ring, turn]:.1f}{beside} kPa at r = {place:.2f} mm{_named(view, turns[turn])}"
    (dot,) = axes.plot(place * np.cos(angle), place * np.sin(angle), "o", label=words, **PEAK_LOOK)
    return dot


def _rule_ends(axes: Axes, view: WaveView) -> list[Artist]:
    """Rule where contact begins and ends without the wave."""
    radius = view.profile(90.0 / view.wave.order)[[0, -1], 0]
    turn, rules = np.linspace(0.0, 2.0 * np.pi, 361), []
    looks = ((radius[0], INK, DASHED, "contact begins"), (radius[1], QUIET, "solid", "contact ends"))
    for r, colour, dashes, words in looks:
        place = f"{words} at r = {float(r):.2f} mm, as without it"
        x, y = r * np.cos(turn), r * np.sin(turn)
        rules += axes.plot(x, y, color=colour, linestyle=dashes, linewidth=0.9, label=place)
    return list(rules)
