"""A measure over two dimensions, read between the solved cases and never beyond them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import LinearNDInterpolator

from cases.sweeping.guard import CannotAnswer
from cases.sweeping.limits import Limit
from cases.sweeping.picking import measure_of, numeric
from cases.sweeping.plan import Plan
from cases.sweeping.runner import Row
from reports.sweep_map import MeasureMap
from simulate.outcome import Floats

FINE = 121
FEWEST = 4


def measure_map(
    plan: Plan, rows: Sequence[Row], names: tuple[str, str], measure: str, limits: Sequence[Limit]
) -> MeasureMap:
    """Lay the map of a measure over two of the names varied, linear between neighbouring solved cases.

    Raises
    ------
    CannotAnswer
        If the cases do not span an area, or a measure does not apply to them.
    """
    places = np.column_stack([numeric(plan, rows, name) for name in names])
    if len(rows) < FEWEST or min(np.ptp(places, axis=0)) == 0:
        raise CannotAnswer(f"{len(rows)} cases have results; a map takes {FEWEST}, different in both dimensions")
    grid = tuple(np.linspace(*ends, FINE) for ends in zip(places.min(axis=0), places.max(axis=0), strict=True))
    value, solved = _laid(places, rows, measure, grid), _values(rows, measure)
    slacks = [_slack(_laid(places, rows, limit.measure, grid), limit) for limit in limits]
    slack = np.min(slacks, axis=0) if slacks else None
    return MeasureMap(grid[0], grid[1], value, slack, np.column_stack([places, solved]))


def _laid(places: Floats, rows: Sequence[Row], measure: str, grid: tuple[Floats, ...]) -> Floats:
    across, up = np.meshgrid(*grid)
    level: Floats = LinearNDInterpolator(places, _values(rows, measure), rescale=True)(across, up)
    return level


def _slack(level: Floats, limit: Limit) -> Floats:
    """How far within its limit a measure is, as a share of its own range, so that limits of several can be compared."""
    within: Floats = np.minimum(level - limit.least, limit.most - level)
    return within / max(float(np.nanmax(level) - np.nanmin(level)), 1e-12)


def _values(rows: Sequence[Row], measure: str) -> Floats:
    values = [measure_of(row, measure) for row in rows]
    if None in values:
        raise CannotAnswer(f"{measure} does not apply to {values.count(None)} of {len(values)} cases")
    return np.array(values, dtype=float)
