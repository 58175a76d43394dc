"""Which arc of a rim carries the peak, and which of its dimensions moves what: central differences of solved rims."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labrum.cases.case_file.faults import Findings, InvalidCase
from labrum.cases.case_file.rim import read_rim
from labrum.cases.player.playing import SomeLip, still_case
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.meshes.rims.rim import Rim
from labrum.simulate.conclusions.measure_errors import doubt
from labrum.simulate.conclusions.thresholds import ON_CROWN
from labrum.simulate.measures.catalogue import CATALOGUE, Measures
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged

STEPS: dict[str, float] = {
    "inner_diameter_mm": 0.25,
    "width_mm": 0.2,
    "high_point": 0.04,
    "bite_radius_mm": 0.1,
    "inner_crown_radius_mm": 0.5,
    "outer_crown_radius_mm": 0.5,
    "shoulder_radius_mm": 0.2,
    "cup_wall_angle_deg": 3.0,
}
"""A small change that a shop makes of each dimension. Judgement, no source."""
LEAST_WIDTH_MM, MOST_STEPS_WIDER = 0.2, 15
Heed = Callable[[], None]
"""Called between iterations; it raises where the work is to end."""
MOST_STARTS = 12
"""Presses kept as starts: each takes some megabytes."""


@dataclass(frozen=True)
class Slope:
    """What ``step`` more of a dimension, ``key`` of ``[rim]``, does.

    ``change`` and ``error`` by the measure's name and in its unit; measures that do not apply, or are yes or no, are
    left out.
    """

    key: str
    step: float
    change: dict[str, float]
    error: dict[str, float]

    def sure(self, measure: str) -> bool:
        """Is the change beyond its error?"""
        return abs(self.change.get(measure, 0.0)) > self.error.get(measure, 0.0)


def arc_of_peak(outcome: Outcome) -> str:
    """Name the arc of the rim that the largest pressure stands on."""
    from labrum.simulate.readings.rim_edges import crown_of

    rim, contact = outcome.rim, outcome.contact
    top = contact.place[[int(contact.pressure_kpa.argmax())]] + [[0.0, outcome.measures.sink_mm]]
    at = float(rim.curve.nearest(top).arc_length[0])
    if at < rim.cup_end:
        return "cup wall"
    crown = crown_of(rim)
    if crown is None:
        return "face"
    if at <= crown.first or at >= crown.last:
        return "bite" if at <= crown.first else "shoulder"
    return "inner crown" if float(top[0, 0]) < rim.high_point_radius else "outer crown"


def changed_rim(rim: KnownRim, changes: Mapping[str, Any]) -> KnownRim | None:
    """The rim with dimensions changed; None where it has none, or no such rim exists."""
    if rim.dimensions is None:
        return None
    table, findings = {**rim.dimensions, **changes}, Findings()
    drawn: Rim | None = read_rim(table, Path(), findings).rim
    words = ", ".join(f"{key} {value:g}" for key, value in changes.items())
    return None if drawn is None or findings.faults else KnownRim(f"{rim.name} with {words}", drawn, table)


def go_on() -> None:
    """Let the work go on."""


class StillPresses:
    """Presses rims into one player's lip, held still, each from the most alike one: see `still_case`.

    ``heed`` is called between iterations; what it raises ends the work.
    """

    def __init__(self, sheet: Sheet, lip: SomeLip, loudness: str, heed: Heed = go_on) -> None:
        self._sheet, self._lip, self._loudness, self._heed = sheet, lip, loudness, heed
        self._known: list[tuple[KnownRim, Any]] = []
        self.solved = 0
        """How many rims were solved."""

    def measures(self, rim: KnownRim | None) -> Measures | None:
        """What a rim does; None where there is no rim or no equilibrium."""
        from labrum.simulate.solving import solve_near

        if rim is None:
            return None
        self.solved += 1
        try:
            problem = still_case(self._sheet, self._lip, rim, self._loudness).problem
            found = solve_near(problem, self._near(rim), progress=lambda _: self._heed())
        except (NotConverged, InvalidCase):
            return None
        self._known = [*self._known[:1], *self._known[1:][1 - MOST_STARTS :], (rim, found.pressed)]
        return found.outcome.measures

    def _near(self, rim: KnownRim) -> Any:
        """The press of the most alike rim; None before the first."""
        return min(self._known, key=lambda one: _apart(one[0], rim))[1] if self._known else None


def _apart(one: KnownRim, other: KnownRim) -> float:
    """How unlike two rims are, in small changes of their dimensions."""
    here, there = one.dimensions or {}, other.dimensions or {}
    both = [key for key in STEPS if isinstance(here.get(key), float) and isinstance(there.get(key), float)]
    return float(sum(abs(here[key] - there[key]) / STEPS[key] for key in both))


def slopes_of(rim: KnownRim, presses: StillPresses) -> tuple[Slope, ...]:
    """What a small step of every dimension does; a dimension without a rim or a result on both sides is left out."""
    return tuple(_slopes(rim, presses))


def _slopes(rim: KnownRim, presses: StillPresses) -> Iterator[Slope]:
    for key, step in STEPS.items():
        value = (rim.dimensions or {}).get(key)
        if not isinstance(value, float):  # a flat crown has no radius, an outline no dimensions
            continue
        less, more = (presses.measures(changed_rim(rim, {key: round(value + d, 9)})) for d in (-step, step))
        if less is not None and more is not None:
            yield slope_between(key, step, less, more)


def slope_between(key: str, step: float, less: Measures, more: Measures) -> Slope:
    """The central difference of what was measured a ``step`` of a dimension, ``key``, below and above."""
    pairs = {m.name: (getattr(less, m.name), getattr(more, m.name)) for m in CATALOGUE.values() if m.error is not None}
    known = {name: pair for name, pair in pairs.items() if None not in pair}
    change = {name: 0.5 * float(there - here) for name, (here, there) in known.items()}
    return Slope(key, step, change, {name: 0.5 * (doubt(less, name) + doubt(more, name)) for name in known})


def strongest(slopes: Sequence[Slope], measure: str, towards: float) -> Slope | None:
    """The dimension whose step moves a measure most, turned so that it moves it ``towards`` (a sign); None without
    one.
    """
    sure = [slope for slope in slopes if slope.sure(measure)]
    if not sure:
        return None
    best = max(sure, key=lambda slope: abs(slope.change[measure]))
    return best if best.change[measure] * towards > 0 else turned(best)


def turned(slope: Slope) -> Slope:
    """The same step the other way."""
    return Slope(slope.key, -slope.step, {name: -value for name, value in slope.change.items()}, slope.error)


def wide_enough_from(rim: KnownRim, presses: StillPresses) -> float | None:
    """The first width, mm, in steps of 0.2, at which the peak no longer stands on the rim's edges, its other dimensions
    kept; None where none is found.
    """
    if rim.dimensions is None:
        return None
    for step in range(MOST_STEPS_WIDER + 1):
        width = round(rim.dimensions["width_mm"] + step * LEAST_WIDTH_MM, 9)
        found = presses.measures(changed_rim(rim, {"width_mm": width}))
        if found is not None and found.edge_to_crown_pressure is not None and found.edge_to_crown_pressure <= ON_CROWN:
            return width
    return None
