"""A rim gauged: every reading with its uncertainty, and what the readers of one diameter make of it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.gauges.readings import (
    CONVENTIONS,
    DEPTH_MM,
    RIM_QUANTITIES,
    diameters,
    dimensions,
    spread_of_readings,
)
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.rims.rim import Rim
from labrum.meshes.traces.trace import MeasuredRim, leveled

DRAWS = 200
COVERAGE = 95.0
# Fewer readings than this share of the draws, and no uncertainty is stated.
EXPLAINED_SHARE = 0.5
# Diameters this close are one size to a maker; this far apart they are two (common practice, no source).
SAME_MM, DIFFERENT_MM = 0.02, 0.05


@dataclass(frozen=True)
class Reading:
    """One number read off a rim.

    Parameters
    ----------
    name, label, definition, unit
        What it is; the definition says in one line how it is read.
    value
        Not a number where it does not apply, infinite for a flat crown.
    uncertainty
        Standard uncertainty; not a number where none can be told.
    low, high
        Interval that holds 95 % of what the trace's noise would make of it.
    """

    name: str
    label: str
    definition: str
    unit: str
    value: float
    uncertainty: float
    low: float
    high: float


@dataclass(frozen=True)
class Gauged:
    """A rim with its readings: ``diameters`` by convention, then all else; ``depth`` is the set one, mm.

    ``measured`` is None for a rim that was drawn, whose readings have no uncertainty.
    """

    rim: Rim
    measured: MeasuredRim | None
    depth: float
    diameters: tuple[Reading, ...]
    dimensions: tuple[Reading, ...]
    spread: Reading

    def reading(self, name: str) -> Reading:
        """Return the reading of that name; `KeyError` where there is none."""
        return {r.name: r for r in (*self.diameters, *self.dimensions, self.spread)}[name]


def gauged(measured: MeasuredRim, depth: float = DEPTH_MM, draws: int = DRAWS, seed: int = 0) -> Gauged:
    """Read a measured rim.

    Parameters
    ----------
    depth
        Of the convention that reads at a set depth, mm.
    draws, seed
        Of the Monte Carlo propagation (JCGM 101:2008): the chain's free numbers are drawn from the normal
        distribution that the fit gives them, and each draw is read like the fit itself.
    """
    made = [_values(rim, depth) for rim in _drawn_rims(measured, draws, seed)]
    value = _values(measured.rim, depth)
    read = {name: _summary(v, np.array([m[name] for m in made]), draws) for name, v in value.items()}
    return _laid_out(measured.rim, measured, depth, read)


def gauged_drawing(rim: Rim, depth: float = DEPTH_MM) -> Gauged:
    """Read a rim that was drawn, not measured."""
    return _laid_out(rim, None, depth, {name: (v, np.nan, np.nan, np.nan) for name, v in _values(rim, depth).items()})


def _laid_out(
    rim: Rim, measured: MeasuredRim | None, depth: float, read: dict[str, tuple[float, float, float, float]]
) -> Gauged:
    across = tuple(Reading(c.name, c.label, c.definition, "mm", *read[c.name]) for c in CONVENTIONS)
    others = tuple(Reading(q.name, q.label, q.definition, q.unit, *read[q.name]) for q in RIM_QUANTITIES)
    apart = Reading("convention_spread_mm", "spread", "largest less smallest inner diameter of those above", "mm",
                    *read["convention_spread_mm"])
    return Gauged(rim, measured, depth, across, others, apart)


def _values(rim: Rim, depth: float) -> dict[str, float]:
    across = diameters(rim, depth)
    return {**across, **dimensions(rim), "convention_spread_mm": spread_of_readings(across)}


def _drawn_rims(measured: MeasuredRim, draws: int, seed: int) -> list[Rim]:
    """Rims as the noise might have shown them; the few draws that are no rim are left out."""
    fit = measured.fit
    size, way = np.linalg.eigh(fit.covariance)
    root = way * np.sqrt(np.maximum(size, 0.0))
    start = fit.chain.packed()
    rims = []
    for z in np.random.default_rng(seed).standard_normal((draws, len(start))):
        chain = fit.chain.moved_to(start + root @ z)
        try:
            rims.append(rim_from_outline(leveled(measured.curve_of(chain), chain), source="trace"))
        except ValueError:  # GeometryError among them
            continue
    return rims


def _summary(value: float, drawn: Floats, draws: int) -> tuple[float, float, float, float]:
    """Value, standard uncertainty and the ends of the interval."""
    fine = drawn[np.isfinite(drawn)]
    if not np.isfinite(value) or len(fine) < EXPLAINED_SHARE * draws:
        return value, np.nan, np.nan, np.nan
    tail = 0.5 * (100.0 - COVERAGE)
    low, high = np.percentile(fine, [tail, 100.0 - tail])
    return value, float(np.std(fine)), float(low), float(high)


@dataclass(frozen=True)
class Disagreement:
    """Two rims that are one size by some conventions and two by others.

    ``same`` and ``different`` hold (label, second less first in mm).
    """

    first: int
    second: int
    same: tuple[tuple[str, float], ...]
    different: tuple[tuple[str, float], ...]


def disagreements(rims: list[Gauged]) -> list[Disagreement]:
    """Every pair of rims of which one convention says that they are one size and another that they are not.

    One size: within 0.02 mm or twice the difference's uncertainty; two: beyond 0.05 mm and three times that.
    """
    found = []
    for i, j in combinations(range(len(rims)), 2):
        same, different = [], []
        for a, b in zip(rims[i].diameters, rims[j].diameters, strict=True):
            apart = b.value - a.value
            doubt = float(np.nan_to_num(np.hypot(a.uncertainty, b.uncertainty)))
            if abs(apart) <= max(SAME_MM, 2.0 * doubt):
                same.append((a.label, apart))
            elif abs(apart) >= max(DIFFERENT_MM, 3.0 * doubt):
                different.append((a.label, apart))
        if same and different:
            found.append(Disagreement(i, j, tuple(same), tuple(different)))
    return found
