"""The outline as a lathe sees it: axes, units, a table of points at a chord tolerance.

On the lathe Z runs along the axis, 0 at the rim's high point and positive away from the work, and X is the
distance from the axis, as a radius or as a diameter. In a Curve of lathe coordinates the columns are (Z, X as
a radius); the metal still lies on its left, because (r, s) to (Z, X) = (-s, r) is a quarter turn.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, inf

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.rims.rim import Rim

MM_PER_INCH = 25.4


@dataclass(frozen=True)
class Unit:
    """A unit of length to write in: its size and how many decimals a machine of that unit is given."""

    name: str
    mm: float
    decimals: int


UNITS = {"mm": Unit("mm", 1.0, 4), "inch": Unit("inch", MM_PER_INCH, 5)}
"""Both rounded to less than 0.15 um."""


@dataclass(frozen=True)
class PointTable:
    """Points along a curve of lathe coordinates, in the order of travel.

    Parameters
    ----------
    places
        (k, 2) Z and X as a radius, mm, rounded as they are written.
    piece
        (k,) number, from 0, of the piece that ends there; 0 for the first point.
    stray_mm
        Farthest that a chord between written points stands off the curve, measured, mm.
    """

    places: Floats
    piece: NDArray[np.int64]
    stray_mm: float


@dataclass(frozen=True)
class Joint:
    """One piece of an outline as a machinist enters it: where it ends and, for an arc, its circle.

    Lengths in mm, X as a radius; ``radius`` is infinite and ``centre`` not a number for a line. ``convex`` is
    true where the metal bulges. ``angle_deg`` is a line's angle to the plane of the rim, 0 to 90 degrees.
    """

    number: int
    end: tuple[float, float]
    radius: float
    centre: tuple[float, float]
    convex: bool
    angle_deg: float


def rim_part(rim: Rim, part: str) -> Curve:
    """Return the ``"whole"`` outline, or the ``"rim"`` alone: from the end of the cup's wall outwards."""
    if part == "whole":
        return rim.curve
    first = int(rim.curve.piece_at(rim.cup_end + 1e-9)[0])
    return Curve(rim.curve.start[first:], rim.curve.end[first:], rim.curve.bulge[first:])


def to_lathe(curve: Curve) -> Curve:
    """Turn a curve from (r, s) into lathe coordinates (Z, X as a radius)."""
    return Curve(_turned(curve.start), _turned(curve.end), curve.bulge)


def _turned(places: Floats) -> Floats:
    return np.column_stack([0.0 - places[:, 1], places[:, 0]])  # 0.0 - s: no minus zero in a file


def scaled(curve: Curve, unit: Unit) -> Curve:
    """Write a curve in another unit than mm."""
    return Curve(curve.start / unit.mm, curve.end / unit.mm, curve.bulge)


def points_on(curve: Curve, chord_tolerance_mm: float, unit: Unit) -> PointTable:
    """Place points on a curve so that their chords, rounded as written, keep to a tolerance.

    Every joint is among them. On convex metal the chords lie inside the metal, on hollow metal outside it.

    Parameters
    ----------
    curve
        In lathe coordinates, mm.
    chord_tolerance_mm
        Farthest that a chord may stand off the curve; must exceed the rounding.
    unit
        What the points are written in.

    Raises
    ------
    ValueError
        If the tolerance is no larger than the rounding of the written numbers.
    """
    rounding = rounding_mm(unit)
    if not chord_tolerance_mm > rounding:
        raise ValueError(f"chord tolerance: got {chord_tolerance_mm:g} mm, allowed more than {rounding:.2g} mm")
    exact = curve.sample(chord_tolerance_mm - rounding)
    places = np.round(exact / unit.mm, unit.decimals) * unit.mm + 0.0
    ahead = curve.nearest(0.5 * (exact[1:] + exact[:-1])).piece
    return PointTable(places, np.concatenate([[0], ahead]), stray(places, curve))


def rounding_mm(unit: Unit) -> float:
    """Farthest a written point can lie from where it was meant, mm."""
    return float(np.sqrt(0.5) * 10.0**-unit.decimals * unit.mm)


def stray(places: Floats, curve: Curve, parts: int = 8) -> float:
    """Farthest that the chords between (k, 2) places stand off the curve, seen at ``parts`` points a chord, mm."""
    t = np.arange(parts)[:, None, None] / parts
    along = (places[:-1] + t * (places[1:] - places[:-1])).reshape(-1, 2)
    return float(np.abs(curve.nearest(np.vstack([along, places[-1:]])).distance).max())


def joints(curve: Curve) -> tuple[Joint, ...]:
    """List the pieces of a curve of lathe coordinates, mm, from its start."""
    return tuple(_joint(curve, k) for k in range(len(curve.bulge)))


def _joint(curve: Curve, k: int) -> Joint:
    end = (float(curve.end[k, 0]), float(curve.end[k, 1]))
    if curve.is_arc[k]:
        centre = (float(curve.centre[k, 0]), float(curve.centre[k, 1]))
        return Joint(k + 1, end, float(curve.radius[k]), centre, bool(curve.sweep[k] > 0), np.nan)
    along, out = np.abs(curve.end[k] - curve.start[k])
    return Joint(k + 1, end, inf, (np.nan, np.nan), False, degrees(np.arctan2(along, out)))
