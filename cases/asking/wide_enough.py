"""How wide is wide enough: the band of widths between too narrow and too wide.

Too narrow: the peak still stands on the rim's edges, `edge_to_crown_pressure` above 1. Up to there the peak falls fast
with the width; once the crown has it, it hardly falls any more. Where that measure is not known, or where a worth is
asked for in its place, too narrow is where a further 0.1 mm still clearly pays.

Too wide: a further 0.1 mm pays no longer, or takes more of the muscle's shortening than it is worth. What a wider rim
gives is a lower peak or a larger bearing area; what it costs is how far the fibres can still shorten under it. The gain
of 0.1 mm is taken over half a millimetre about a width, so that the scatter between neighbouring solutions does not
decide it.

Where the peak leaves the edges for the crown the gain itself falls at once, from a kilopascal and more to next to
nothing: that is a knee, and both ends lie at it. What lies between ends nearer than that average reaches to either
side, or than the solutions' errors tell, is no band: one width is named then, with what both ends leave open.
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
SHORTENING = "muscle_shortening_ratio"
EDGE = "edge_to_crown_pressure"
FEWEST_WIDTHS = 4
STEP_MM = 0.1
HALF_SPAN_MM = 0.25
WIDTH_STEP_MM = 0.01


@dataclass(frozen=True)
class Criteria:
    """When 0.1 mm pays, in the benefit's unit: clearly from ``narrow`` up, not worth having below ``wide``.

    ``per_shortening`` is what 0.01 of the muscle's shortening ratio is worth, in the same unit. ``by_edge``: too narrow
    is told by where the peak stands instead, wherever that is known.
    """

    benefit: str
    narrow: float
    wide: float
    per_shortening: float
    by_edge: bool = True


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
    known = _all_known(rows, SHORTENING)
    where, gain = net_gain(widths, benefit, known, criteria)
    edge, doubt = _all_known(rows, EDGE) if criteria.by_edge else None, _doubt(rows, criteria.benefit)
    narrow = _end(where, gain, doubt, criteria.narrow) if edge is None else _edge_end(rows, widths, edge)
    wide = _end(where, gain, doubt, criteria.wide)
    return BandCurve(
        label=group.label,
        widths=widths,
        benefit=benefit,
        shortening=known,
        edge=edge,
        where=where,
        gain=gain,
        narrow=narrow,
        wide=wide,
        about=one_width(narrow, wide),
    )


def one_width(narrow: BandEnd, wide: BandEnd) -> BandEnd | None:
    """The width between two ends that cannot be told apart, and all that either leaves open; None where they can."""
    if not np.isfinite([narrow.best, wide.best]).all():
        return None
    if abs(wide.best - narrow.best) > HALF_SPAN_MM and (wide.low > narrow.high or wide.high < narrow.low):
        return None
    open_to = [v for end in (narrow, wide) for v in (end.low, end.best, end.high) if np.isfinite(v)]
    return BandEnd(0.5 * (narrow.best + wide.best), min(open_to), max(open_to))


def _all_known(rows: Sequence[Row], name: str) -> Floats | None:
    values = [measure_of(row, name) for row in rows]
    return None if None in values else np.array(values, dtype=float)


def _edge_end(rows: Sequence[Row], widths: Floats, edge: Floats) -> BandEnd:
    """Find the width above which the peak stands on the crown, between the widths solved; and the same in doubt."""
    off = np.array([row.errors.get(EDGE) or 0.0 for row in rows])
    where = np.linspace(widths[0], widths[-1], round((widths[-1] - widths[0]) / WIDTH_STEP_MM) + 1)
    curves = [PchipInterpolator(widths, edge + way * off)(where) for way in (0.0, -1.0, 1.0)]
    return BandEnd(*(last_crossing(where, curve, 1.0) for curve in curves))


def net_gain(
    widths: Floats, benefit: Floats, shortening: Floats | None, criteria: Criteria
) -> tuple[Floats, Floats]:
    """Widths (n,) and what a further 0.1 mm is worth there (n,), its cost in shortening taken off."""
    inner = widths[-1] - widths[0] - 2 * HALF_SPAN_MM
    where = widths[0] + HALF_SPAN_MM + np.linspace(0.0, inner, round(inner / WIDTH_STEP_MM) + 1)
    gain = CATALOGUE[criteria.benefit].better.value * _per_step(widths, benefit, where)
    if shortening is not None:
        gain = gain + criteria.per_shortening / 0.01 * np.minimum(0.0, _per_step(widths, shortening, where))
    return where, gain


def _per_step(widths: Floats, values: Floats, where: Floats) -> Floats:
    curve = PchipInterpolator(widths, values)
    rise: Floats = (curve(where + HALF_SPAN_MM) - curve(where - HALF_SPAN_MM)) * STEP_MM / (2 * HALF_SPAN_MM)
    return rise


def _doubt(rows: Sequence[Row], benefit: str) -> float:
    """How far the error of single solutions may move a gain: two independent ones, half a millimetre apart."""
    single = float(np.mean([row.errors.get(benefit) or 0.0 for row in rows]))
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
