"""What a change of several dimensions is expected to do, from what a step of each does.

A measure's change is a sum over the dimensions, each a parabola through the rims solved one step either way, and
straight on beyond them. A measure that is asked as a share is summed as a logarithm, and of the peak the largest
pressures on the rim's edges and on its crown apart. Each rim solved later sets the
slopes right in its direction: Broyden's rank-one update (Broyden 1965, Mathematics of Computation 19:577; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.measures.catalogue import Measures


@dataclass(frozen=True)
class Quantity:
    """A measure as a forecast sums it: as it is, or as its logarithm; of the peak also the ``part`` of it."""

    measure: str
    by_ratio: bool
    part: str = ""

    def of(self, measures: Measures) -> float | None:
        """Its value; None where it does not apply or has no logarithm."""
        value = getattr(measures, self.measure)
        if self.part:
            edge = measures.edge_to_crown_pressure
            if not edge:
                return None
            value *= min(1.0, edge) if self == EDGE_PEAK else 1.0 / max(1.0, edge)
        if value is None or (self.by_ratio and value <= 0.0):
            return None
        return math.log(value) if self.by_ratio else float(value)


PEAK = Quantity("peak_pressure_kpa", True)
EDGE_PEAK, CROWN_PEAK = replace(PEAK, part="edge"), replace(PEAK, part="crown")
"""The peak is the larger of both: a rounder bite lowers the one on the edges until that on the crown is left."""


@dataclass(frozen=True)
class Forecast:
    """Changes expected of ``quantities`` (m) at a place (n) counted in steps: ``slope`` and ``bend`` (m, n)."""

    quantities: tuple[Quantity, ...]
    slope: Floats
    bend: Floats

    def changes(self, places: Floats) -> Floats:
        """(k, m) changes at (k, n) places."""
        inside = np.clip(places, -1.0, 1.0)
        # beyond a step the parabola's end slope goes on
        bent = inside**2 + 2.0 * inside * (places - inside)
        return np.asarray(places @ self.slope.T + bent @ self.bend.T)

    def corrected(self, place: Floats, seen: dict[Quantity, float]) -> Forecast:
        """The forecast set right by the changes ``seen`` at a place."""
        length = float(place @ place)
        if length == 0.0:
            return self
        expected, slope = self.changes(place[None])[0], self.slope.copy()
        for row, quantity in enumerate(self.quantities):
            if quantity in seen:
                slope[row] += (seen[quantity] - expected[row]) * place / length
        return replace(self, slope=slope)

    def plus(self, other: Forecast) -> Forecast:
        """The sum of two forecasts of the same quantities."""
        return Forecast(self.quantities, self.slope + other.slope, self.bend + other.bend)

    def flat(self) -> Forecast:
        """A forecast of the same quantities that expects no change."""
        return Forecast(self.quantities, 0.0 * self.slope, 0.0 * self.bend)

    def column(self, quantity: Quantity) -> int:
        """Which of the columns of `changes` a quantity is; `ValueError` where it is none."""
        return self.quantities.index(quantity)


def forecast_from(
    quantities: Sequence[Quantity], now: Measures, either: Sequence[Sequence[tuple[float, Measures]]]
) -> Forecast:
    """Forecast from the present rim's measures and, for each dimension, those found at up to two places.

    A quantity that a rim does not have is expected not to move there.
    """
    slope, bend = np.zeros((len(quantities), len(either))), np.zeros((len(quantities), len(either)))
    for row, quantity in enumerate(quantities):
        for column, found in enumerate(either):
            changes = [(u, changes_seen((quantity,), now, m).get(quantity)) for u, m in found if u != 0.0]
            moved = [(u, change) for u, change in changes if change is not None]
            slope[row, column], bend[row, column] = _parabola(moved)
    return Forecast(tuple(quantities), slope, bend)


def changes_seen(quantities: Sequence[Quantity], now: Measures, then: Measures) -> dict[Quantity, float]:
    """The changes from one rim to another, of the quantities that both have."""
    pairs = [(one, one.of(now), one.of(then)) for one in quantities]
    return {one: there - here for one, here, there in pairs if here is not None and there is not None}


def _parabola(moved: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Slope and bend of the parabola through nought and up to two points; straight through one."""
    if not moved:
        return 0.0, 0.0
    if len(moved) == 1:
        ((u, change),) = moved
        return change / u, 0.0
    (u, first), (v, second) = moved
    bend = (first / u - second / v) / (u - v)
    return first / u - bend * u, bend
