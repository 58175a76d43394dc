"""What an inner diameter that a chart states could have been on a rim: which convention, which bite, or which place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import degrees

import numpy as np
from scipy.optimize import brentq

from labrum.meshes.dimensioning.box_coordinates import ROUNDEST
from labrum.meshes.faults import GeometryError
from labrum.meshes.gauges.gauge import Gauged
from labrum.meshes.gauges.readings import sharp_corner
from labrum.meshes.rims.rim import SMALLEST_RADIUS_MM, SQRT2, Rim, RimDimensions, rim_from_dimensions

STEPS_INWARDS = 4000
NO_DEPTH = 0.0
SAME_BITE_MM = 0.005


@dataclass(frozen=True)
class ChartNumber:
    """A stated inner diameter, mm, good to ``half`` of its last digit either way."""

    value: float
    half: float


@dataclass(frozen=True)
class Explanation:
    """A reading that could have given a stated number.

    Parameters
    ----------
    kind
        ``"convention"``, ``"bite radius"`` or ``"where read"``.
    name
        Of the convention; empty otherwise.
    value
        The convention's reading, the bite radius or the depth below the high point, mm.
    angle_deg
        At which the inner edge stands at that place; not a number for the other kinds.
    off
        The reading less the stated number, mm.
    """

    kind: str
    name: str
    value: float
    angle_deg: float
    off: float


def explanations(gauged: Gauged, dimensions: RimDimensions | None, said: ChartNumber) -> tuple[Explanation, ...]:
    """Find every reading of a rim that could have given a stated number.

    A convention does whose reading lies within the number's last digit and twice its own uncertainty. A bite of another
    radius does that, let into the same crown and the same cup wall, stands at 45 degrees there; for that the rim's
    dimensions are needed. A place does where the inner side has that radius.
    """
    return (*_conventions(gauged, said), *_other_bite(dimensions, said), *_place(gauged.rim, said))


def _conventions(gauged: Gauged, said: ChartNumber) -> Iterator[Explanation]:
    for reading in gauged.diameters:
        off = reading.value - said.value
        if abs(off) <= said.half + 2.0 * np.nan_to_num(reading.uncertainty):
            yield Explanation("convention", reading.name, reading.value, np.nan, off)


def _other_bite(d: RimDimensions | None, said: ChartNumber) -> Iterator[Explanation]:
    if d is None:
        return
    corner = sharp_corner(rim_from_dimensions(d), NO_DEPTH).r
    high = 0.5 * d.inner_diameter_mm + d.high_point * d.width_mm
    outer, inner = 0.5 * d.inner_diameter_mm + d.width_mm, 0.5 * said.value

    def apart(bite: float) -> float:
        """How far the corner of a rim with that bite and the stated diameter lies outside this rim's."""
        width = outer - inner
        other = replace(d, inner_diameter_mm=said.value, width_mm=width, high_point=(high - inner) / width,
                        bite_radius_mm=bite)
        return sharp_corner(rim_from_dimensions(other), NO_DEPTH).r - corner

    try:
        low, most = SMALLEST_RADIUS_MM, ROUNDEST * SQRT2 * (high - inner)
        if np.sign(apart(low)) == np.sign(apart(most)):
            return
        bite = float(brentq(apart, low, most, xtol=1e-6))
    except (GeometryError, ValueError):  # no such rim, or crown and wall never meet
        return
    if abs(bite - d.bite_radius_mm) > SAME_BITE_MM:
        yield Explanation("bite radius", "", bite, np.nan, 0.0)


def _place(rim: Rim, said: ChartNumber) -> Iterator[Explanation]:
    top = float(rim.curve.nearest(np.array([[rim.high_point_radius, 0.0]])).arc_length[0])
    along = np.linspace(top, 0.0, STEPS_INWARDS)
    places = rim.curve.at(along)
    beyond = np.flatnonzero(places[:, 0] <= 0.5 * said.value)
    if not len(beyond) or beyond[0] == 0:
        return
    tangent = rim.curve.tangent_at(along[beyond[0]])[0]
    angle = degrees(np.arctan2(-tangent[1], tangent[0]))
    yield Explanation("where read", "", float(places[beyond[0], 1]), angle, 0.0)
