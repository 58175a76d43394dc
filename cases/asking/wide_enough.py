"""How wide is wide enough: where a further 0.1 mm of rim stops paying, with both ends.

What a wider rim gives is a lower peak or a larger bearing area; what it costs is freedom to close, the closing travel.
The gain of 0.1 mm is taken over half a millimetre about a width, so that the scatter between neighbouring solutions
does not decide it. Below the lower end a further 0.1 mm still clearly pays: the rim is too narrow. Above the upper end
it no longer does, or takes more closing travel than it is worth: too wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from labrum.cases.asking.selection import Group, measure_of
from labrum.cases.exits import CannotDo
from labrum.cases.sweeping.runner import Row
from labrum.meshes.arrays import Floats
from labrum.reports.sweeps.findings import BandCurve, BandEnd
from labrum.simulate.measures.catalogue import CATALOGUE

WIDTH_KEY = "rim.width_mm"
CLOSING = "closing_travel_ratio"
FEWEST_WIDTHS = 4
STEP_MM = 0.1
HALF_SPAN_MM = 0.25
WIDTH_STEP_MM = 0.01


@dataclass(frozen=True)
class Criteria:
    """When 0.1 mm pays, in the benefit's unit: clearly from ``narrow`` up, not worth having below ``wide``.

    ``per_closing`` is what 0.01 of the closing travel ratio is worth, in the same unit.
    """

    benefit: str
    narrow: float
    wide: float
    per_closing: float


DEFAULTS = {
    "peak_pressure_kpa": Criteria("peak_pressure_kpa", 2.0, 0.5, 1.0),
    "bearing_area_mm2": Criteria("bearing_area_mm2", 6.0, 4.0, 2.0),
}


def bands(groups: Sequence[Group], criteria: Criteria) -> list[BandCurve]:
    """Find the band of each group; groups of fewer than four widths are an error.

    Raises
    ------
    CannotDo
        If a group has too few widths.
    """
    return [_band(group, criteria) for group in groups]


def _band(group: Group, criteria: Criteria) -> BandCurve:
    rows = sorted(group.rows, key=lambda row: float(row.member.settings[WIDTH_KEY]))
    widths = np.array([float(row.member.settings[WIDTH_KEY]) for row in rows])
    if len(widths) < FEWEST_WIDTHS or widths[-1] - widths[0] < 4 * HALF_SPAN_MM:
        name = group.label or "the sweep"
        raise CannotDo(
            f"{name}: {len(widths)} widths have results; "
            f"it takes {FEWEST_WIDTHS} or more over {4 * HALF_SPAN_MM:g} mm or more"
        )
    benefit = _measures(rows, criteria.benefit)
    closing = [measure_of(row, CLOSING) for row in rows]
    known = None if None in closing else np.array(closing, dtype=float)
    where, gain = net_gain(widths, benefit, known, criteria)
    doubt = _doubt(rows, benefit)
    return BandCurve(
        label=group.label,
        widths=widths,
        benefit=benefit,
        closing=known,
        where=where,
        gain=gain,
        narrow=_end(where, gain, doubt, criteria.narrow),
        wide=_end(where, gain, doubt, criteria.wide),
    )


def net_gain(
    widths: Floats, benefit: Floats, closing: Floats | None, criteria: Criteria
) -> tuple[Floats, Floats]:
    """Widths (n,) and what a further 0.1 mm is worth there (n,), its cost in closing travel taken off."""
    inner = widths[-1] - widths[0] - 2 * HALF_SPAN_MM
    where = widths[0] + HALF_SPAN_MM + np.linspace(0.0, inner, round(inner / WIDTH_STEP_MM) + 1)
    gain = CATALOGUE[criteria.benefit].better.value * _per_step(widths, benefit, where)
    if closing is not None:
        gain = gain + criteria.per_closing / 0.01 * np.minimum(0.0, _per_step(widths, closing, where))
    return where, gain


def _per_step(widths: Floats, values: Floats, where: Floats) -> Floats:
    curve = PchipInterpolator(widths, values)
    rise: Floats = (curve(where + HALF_SPAN_MM) - curve(where - HALF_SPAN_MM)) * STEP_MM / (2 * HALF_SPAN_MM)
    return rise


def _doubt(rows: Sequence[Row], benefit: Floats) -> float:
    """How far the error of single solutions may move a gain: two independent ones, half a millimetre apart."""
    errors = [measure_of(row, "peak_pressure_error_percent") or 0.0 for row in rows]
    single = float(np.mean(np.array(errors) / 100 * benefit))
    return float(np.sqrt(2.0) * single * STEP_MM / (2 * HALF_SPAN_MM))


def _end(where: Floats, gain: Floats, doubt: float, least: float) -> BandEnd:
    """Find the width above which the gain stays below ``least``; and the same with the gain off by its doubt."""
    return BandEnd(*(last_crossing(where, gain + shift, least) for shift in (0.0, -doubt, doubt)))


def last_crossing(where: Floats, gain: Floats, least: float) -> float:
    """Return the last width at which the gain falls through ``least``: -inf if it is always below, inf if never.

    A gain that is below in the middle and above again at the end has not stopped paying: that is never.
    """
    above = np.flatnonzero(gain >= least)
    if len(above) == 0:
        return -np.inf
    last = int(above[-1])
    if last == len(gain) - 1:
        return np.inf
    share = (gain[last] - least) / (gain[last] - gain[last + 1])
    return float(where[last] + share * (where[last + 1] - where[last]))


def _measures(rows: Sequence[Row], name: str) -> Floats:
    values = [measure_of(row, name) for row in rows]
    return np.array(values, dtype=float)
