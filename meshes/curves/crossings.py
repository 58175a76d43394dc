"""Where a chain of arcs and lines meets itself: exact, piece against piece."""

from __future__ import annotations

from math import atan2, hypot, pi, sqrt

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.chain import Chain

Point = tuple[float, float]

ON_PIECE_MM = 1e-9
# Two circles that touch at a joint meet, after rounding, up to sqrt(eps) times their radius away from it.
JOINT_REACH_MM = 1e-5
# A tangle is told by so many of its crossings: looking for all of them takes long and helps nobody.
ENOUGH = 20


def self_crossings(curve: Chain) -> Floats:
    """(k, 2) points where two pieces meet other than at the joint they share, mm; of a tangle, the first few."""
    low, high = _boxes(curve)
    found: list[Point] = []
    for i in range(len(curve.bulge)):
        apart = (low[i] > high[i + 1:]).any(axis=1) | (low[i + 1:] > high[i]).any(axis=1)
        for j in (i + 1 + np.flatnonzero(~apart)).tolist():
            joined = curve.offset[j] - curve.offset[i + 1] < JOINT_REACH_MM
            joint = _point(curve.end[i]) if joined else None
            found += [p for p in _meetings(curve, i, j) if joint is None or _apart(p, joint) > JOINT_REACH_MM]
        if len(found) > ENOUGH:
            break
    return np.array(sorted(set(found))).reshape(-1, 2)


def _boxes(curve: Chain) -> tuple[Floats, Floats]:
    """(n, 2) corners of boxes that hold each piece; an arc's box is grown by its full rise, which is safe."""
    rise = np.where(curve.is_arc, curve.piece_length, 0.0)[:, None] + ON_PIECE_MM
    return np.minimum(curve.start, curve.end) - rise, np.maximum(curve.start, curve.end) + rise


def _meetings(curve: Chain, i: int, j: int) -> list[Point]:
    """Points on both pieces: where their lines or circles meet and, if these coincide, the overlap's ends."""
    ends = [_point(p) for k in (i, j) for p in (curve.start[k], curve.end[k])]
    return [p for p in _carrier_meetings(curve, i, j) + ends if _holds(curve, i, p) and _holds(curve, j, p)]


def _carrier_meetings(curve: Chain, i: int, j: int) -> list[Point]:
    arcs = [k for k in (i, j) if curve.is_arc[k]]
    lines = [k for k in (i, j) if not curve.is_arc[k]]
    if len(lines) == 2:
        return _line_line(curve, *lines)
    if len(arcs) == 2:
        return _circle_circle(curve, *arcs)
    return _line_circle(curve, lines[0], arcs[0])


def _line_line(curve: Chain, i: int, j: int) -> list[Point]:
    (ar, az), (br, bz) = _direction(curve, i), _direction(curve, j)
    det = ar * bz - az * br
    if abs(det) < 1e-12:
        return []
    (pr, pz), (qr, qz) = curve.start[i], curve.start[j]
    t = ((qr - pr) * bz - (qz - pz) * br) / det
    return [(float(pr + t * ar), float(pz + t * az))]


def _line_circle(curve: Chain, line: int, arc: int) -> list[Point]:
    tr, tz = _direction(curve, line)
    cr, cz = curve.centre[arc]
    dr, dz = curve.start[line] - curve.centre[arc]
    off = float(dr * tz - dz * tr)
    reach = _half_chord(float(curve.radius[arc]), off)
    return [(float(cr + off * tz + t * tr), float(cz - off * tr + t * tz)) for t in reach]


def _circle_circle(curve: Chain, i: int, j: int) -> list[Point]:
    # measured from the smaller circle's centre: from a far one, rounding alone would miss the meeting
    small, large = (i, j) if curve.radius[i] <= curve.radius[j] else (j, i)
    (ar, az), (br, bz) = curve.centre[small], curve.centre[large]
    ra, rb = float(curve.radius[small]), float(curve.radius[large])
    gap = hypot(br - ar, bz - az)
    if gap < ON_PIECE_MM:
        return []
    ur, uz = (br - ar) / gap, (bz - az) / gap
    foot = ((gap - rb) * (gap + rb) + ra * ra) / (2.0 * gap)
    reach = _half_chord(ra, foot)
    return [(float(ar + foot * ur - t * uz), float(az + foot * uz + t * ur)) for t in reach]


def _half_chord(radius: float, off: float) -> tuple[float, ...]:
    """Places along a line at a distance ``off`` from a circle's centre where it meets the circle."""
    square = (radius - off) * (radius + off)
    if square < 0.0:
        return (0.0,)
    half = sqrt(square)
    return (-half, half)


def _holds(curve: Chain, k: int, p: Point) -> bool:
    """Tell whether piece ``k`` passes through the point."""
    if min(_apart(p, _point(curve.start[k])), _apart(p, _point(curve.end[k]))) < ON_PIECE_MM:
        return True
    if not curve.is_arc[k]:
        tr, tz = _direction(curve, k)
        dr, dz = p[0] - curve.start[k, 0], p[1] - curve.start[k, 1]
        return bool(abs(dr * tz - dz * tr) < ON_PIECE_MM and 0.0 < dr * tr + dz * tz < curve.chord[k])
    dr, dz = p[0] - curve.centre[k, 0], p[1] - curve.centre[k, 1]
    if abs(hypot(dr, dz) - curve.radius[k]) > ON_PIECE_MM:
        return False
    sr, sz = curve.start[k] - curve.centre[k]
    turned = (atan2(dz, dr) - atan2(sz, sr)) * np.sign(curve.sweep[k]) % (2.0 * pi)
    return bool(turned <= abs(curve.sweep[k]))


def _direction(curve: Chain, k: int) -> Point:
    step = (curve.end[k] - curve.start[k]) / curve.chord[k]
    return _point(step)


def _point(p: Floats) -> Point:
    return float(p[0]), float(p[1])


def _apart(p: Point, q: Point) -> float:
    return hypot(p[0] - q[0], p[1] - q[1])
