"""A measure over two dimensions, read between the solved cases and never beyond them; limits are read the same way."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from labrum.cases.asking.interpolation import Reader, linear
from labrum.cases.asking.limits import Limit
from labrum.cases.asking.selection import measure_of, numeric
from labrum.cases.exits import CannotDo
from labrum.cases.sweeping.plan import SweepPlan
from labrum.cases.sweeping.runner import Row
from labrum.meshes.arrays import Floats
from labrum.reports.sweeps.findings import MeasureMap

FINE = 121
FEWEST_ON_MAP = 4


def measure_map(
    plan: SweepPlan, rows: Sequence[Row], names: tuple[str, str], measure: str, limits: Sequence[Limit],
    reader: Reader = linear,
) -> MeasureMap:
    """Lay the map of a measure over two of the names varied.

    Raises
    ------
    CannotDo
        If the cases do not span an area, or a measure does not apply to them.
    """
    places = np.column_stack([numeric(plan, rows, name) for name in names])
    if len(rows) < FEWEST_ON_MAP or min(np.ptp(places, axis=0)) == 0:
        raise CannotDo(f"{len(rows)} cases have results; a map takes {FEWEST_ON_MAP}, different in both dimensions")
    grid = tuple(np.linspace(*ends, FINE) for ends in zip(places.min(axis=0), places.max(axis=0), strict=True))
    asked = np.stack(np.meshgrid(*grid), axis=-1).reshape(-1, 2)
    shape = (FINE, FINE)
    read = reader(places, _values(rows, measure), asked)
    levels = [reader(places, _values(rows, limit.measure), asked).values for limit in limits]
    slacks = [_slack(level, limit) for level, limit in zip(levels, limits, strict=True)]
    slack = np.min(slacks, axis=0).reshape(shape) if slacks else None
    solved = np.column_stack([places, _values(rows, measure)])
    return MeasureMap(grid[0], grid[1], read.values.reshape(shape), slack, solved, read.error)


def _slack(level: Floats, limit: Limit) -> Floats:
    """How far within its limit a measure is, as a share of its own range, so that limits of several can be compared."""
    within: Floats = np.minimum(level - limit.least, limit.most - level)
    return within / max(float(np.nanmax(level) - np.nanmin(level)), 1e-12)


def _values(rows: Sequence[Row], measure: str) -> Floats:
    values = [measure_of(row, measure) for row in rows]
    if None in values:
        raise CannotDo(f"{measure} does not apply to {values.count(None)} of {len(values)} cases")
    return np.array(values, dtype=float)
