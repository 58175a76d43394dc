"""A rim from a drawn or measured outline: its high point and bite point, or what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import degrees, pi, radians

import numpy as np
from numpy.typing import ArrayLike

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.faults import Fault, GeometryError
from labrum.meshes.rims.rim import SMALLEST_RADIUS_MM, Rim

OUTLINE, TRACE = "rim.outline_mm", "rim.trace"
SHARP_RAD = radians(1.0)
LEVEL_MM = 1e-12
ROUNDING_MM = 1e-9
BITE_HEADING = -pi / 4
HEADING_RAD = 1e-9
# Convex arcs next to the bite point, up to this many times its radius, belong to the inner edge and not to
# the cup: a fit may divide the edge.
EDGE_RADIUS_RATIO = 3.0


def rim_from_outline(vertices: ArrayLike, source: str = "outline") -> Rim:
    """Read an outline as a rim.

    Parameters
    ----------
    vertices
        (m, 3) rows of r, s in mm and the bulge of the piece to the next row (tangent of a quarter of its
        angle, positive anticlockwise), from the cup outwards, s growing away from the lip. Any height will
        do: the lowest point becomes s = 0.
    source
        ``"outline"`` or ``"trace"``: kept in the rim, and names the key in the faults.

    Returns
    -------
    Rim
        The bite point is the first place, going from the high point towards the cup, where the tangent stands
        at 45 degrees to the axis; where two pieces meet there, the sharper one gives the radius. Where the
        lowest part is flat, the high point is its middle.

    Raises
    ------
    GeometryError
        With every fault found, if the outline is no rim.
    """
    rows, found = _rows(vertices)
    if not found:
        drawn = Curve.from_vertices(rows)
        where, low = lowest_place(drawn)
        curve = drawn.translated(0.0, -low)
        way = _way_faults(curve, where)
        bite = None if way else _find_bite(curve, where)
        found = _shape_faults(drawn) + (way or _rim_faults(curve, where, bite))
    if found or bite is None:
        raise GeometryError(tuple(replace(f, key=TRACE) if source == "trace" else f for f in found))
    return _rim(curve, where, bite, source)


@dataclass(frozen=True)
class _Bite:
    """Arc length of the bite point, the piece that holds it, and the radius there."""

    arc_length: float
    piece: int
    radius: float


def _rim(curve: Curve, where: float, bite: _Bite, source: str) -> Rim:
    first = _first_edge_piece(curve, bite)
    place = curve.at(bite.arc_length)[0]
    return Rim(
        curve=curve,
        bite=(float(place[0]), float(place[1])),
        high_point_radius=float(curve.at(where)[0, 0]),
        outer_radius=float(_extremes(curve)[:, 0].max()),
        bite_radius=bite.radius,
        cup_end=float(curve.offset[first]),
        cup_floor=_highest(curve, first) if first > 0 else None,
        source=source,
    )


def lowest_place(curve: Curve) -> tuple[float, float]:
    """Arc length and s of the lowest point, exact on arcs; the middle, where the lowest part is flat.

    Of two separate lowest points the one nearer the start is taken.
    """
    places = _extremes(curve)
    low = float(places[:, 1].min())
    level = np.sort(places[places[:, 1] <= low + LEVEL_MM, 2])
    last = first = float(level[0])
    for place in level[1:]:
        if curve.at(0.5 * (last + place))[0, 1] > low + LEVEL_MM:
            break
        last = float(place)
    return 0.5 * (first + last), low


def _extremes(curve: Curve) -> Floats:
    """(k, 3) every place where r or s can be least or greatest, the joints included: r, s and arc length."""
    lengths = [curve.offset]
    for towards in (0.0, 0.5 * pi, pi, 1.5 * pi):
        turned = (np.sign(curve.sweep) * (towards - curve.heading)) % (2.0 * pi)
        inside = curve.is_arc & (turned < np.abs(curve.sweep))
        lengths.append(curve.offset[:-1][inside] + turned[inside] * curve.radius[inside])
    at = np.concatenate(lengths)
    return np.column_stack([curve.at(at), at])


def _highest(curve: Curve, pieces: int) -> float:
    """Largest s on the first pieces of the curve."""
    places = _extremes(curve)
    return float(places[places[:, 2] <= curve.offset[pieces], 1].max())


def _headings(curve: Curve, where: float) -> tuple[Floats, Floats]:
    """(k,) headings at the start and end of each piece up to the high point, without jumps of a full turn."""
    tangent = curve.tangent_at(where)[0]
    k = int(curve.piece_at(where)[0])
    sweep = curve.sweep[: k + 1].copy()
    sweep[k] = curve.curvature[k] * (where - curve.offset[k])
    later = np.append((sweep[1:] + curve.turns[:k])[::-1].cumsum()[::-1], 0.0)
    ends = np.arctan2(tangent[1], tangent[0]) - later
    return ends - sweep, ends


def _find_bite(curve: Curve, where: float) -> _Bite | None:
    """Go from the high point towards the cup until the outline heads down at 45 degrees."""
    starts, ends = _headings(curve, where)
    for i in range(len(starts) - 1, -1, -1):
        if ends[i] <= BITE_HEADING + HEADING_RAD:
            return _bite_at_joint(curve, i + 1)
        if starts[i] < BITE_HEADING - HEADING_RAD:
            inwards = float(BITE_HEADING - starts[i]) * curve.radius[i]
            return _Bite(float(curve.offset[i] + inwards), i, float(curve.radius[i]))
        if starts[i] <= BITE_HEADING + HEADING_RAD:
            return _bite_at_joint(curve, i)
    return None


def _bite_at_joint(curve: Curve, joint: int) -> _Bite:
    """Bite point at the start of piece ``joint``: the sharper of the two arcs there gives the radius.

    Between two lines the turn, spread over half of each, does.
    """
    here = float(curve.offset[joint])
    pieces = [i for i in (joint - 1, joint) if i >= 0]
    sharper = min(pieces, key=lambda i: float(curve.radius[i]))
    radius = float(curve.radius[sharper])
    if np.isinf(radius) and joint > 0 and curve.turns[joint - 1] > 0:
        radius = float(0.5 * curve.piece_length[pieces].sum() / curve.turns[joint - 1])
    return _Bite(here, sharper, radius)


def _first_edge_piece(curve: Curve, bite: _Bite) -> int:
    """Give the number of the piece with which, coming from the cup, the inner edge begins."""
    widest = EDGE_RADIUS_RATIO * bite.radius
    first = bite.piece
    while first > 0 and curve.sweep[first - 1] > 0 and curve.radius[first - 1] <= widest:
        first -= 1
    return first


def _rows(vertices: ArrayLike) -> tuple[Floats, list[Fault]]:
    """Give the rows as an array, and every fault that keeps them from being a chain."""
    shape = "two or more rows of three numbers: r in mm, s in mm, bulge"
    try:
        rows = np.array(vertices, dtype=np.float64)
    except (TypeError, ValueError):
        return np.empty((0, 3)), [Fault(OUTLINE, "rows of different lengths, or not of numbers", shape)]
    if rows.ndim != 2 or rows.shape[1] != 3 or len(rows) < 2:
        return rows, [Fault(OUTLINE, f"an array of shape {rows.shape}", shape)]
    found = [Fault(f"{OUTLINE}[{i}]", str(rows[i].tolist()), "finite numbers")
             for i in np.flatnonzero(~np.isfinite(rows).all(axis=1))]
    same = (np.abs(rows[1:, :2] - rows[:-1, :2]) < ROUNDING_MM).all(axis=1)
    found += [Fault(f"{OUTLINE}[{i + 1}]", "the same point as the row before", "a point that differs",
                    "leave one of the two out") for i in np.flatnonzero(same)]
    return rows, found


def _shape_faults(curve: Curve) -> list[Fault]:
    """Faults of the line itself, whichever way it runs."""
    found = [Fault(OUTLINE, f"an outline that meets itself at r = {r:.4g} mm, s = {s:.4g} mm",
                   "an outline that neither crosses nor touches itself", "check the signs of the bulges")
             for r, s in curve.self_intersections()]
    least = float(_extremes(curve)[:, 0].min())
    if least < -ROUNDING_MM:
        found.append(Fault(OUTLINE, f"r = {least:.4g} mm", "r of at least 0 mm everywhere, arcs included",
                           "r is the distance from the mouthpiece's axis"))
    return found


def _way_faults(curve: Curve, where: float) -> list[Fault]:
    """Faults of orientation; while there is one, what is convex and what is hollow cannot be told."""
    if not ROUNDING_MM < where < curve.length - ROUNDING_MM:
        return [Fault(OUTLINE, f"its lowest point at an end, r = {curve.at(where)[0, 0]:.4g} mm",
                      "an outline that rises on both sides of its lowest point", "s grows away from the lip")]
    if curve.tangent_at(where)[0, 0] < 0.0:
        return [Fault(OUTLINE, "rows from the outside to the cup", "rows from the cup outwards",
                      "reverse the rows; each bulge goes to where its piece then begins and changes sign")]
    return []


def _rim_faults(curve: Curve, where: float, bite: _Bite | None) -> list[Fault]:
    found = _edge_faults(curve)
    if bite is None:
        steepest = max(0.0, -degrees(float(_headings(curve, where)[0].min())))
        found.append(Fault(
            OUTLINE, f"an inner edge that rises at {steepest:.1f} degrees at most",
            "45 degrees from the rim plane somewhere inside the high point: there the bite point is read",
            "carry the outline on into the cup"))
    return found


def _edge_faults(curve: Curve) -> list[Fault]:
    """Edges too sharp to press with: under a convex corner the pressure has no bound."""
    allowed = f"a radius of at least {SMALLEST_RADIUS_MM} mm on every convex edge"
    corners = [
        Fault(f"{OUTLINE}[{c.joint}]",
              f"a sharp edge of {degrees(c.turn):.1f} degrees at r = {c.point[0]:.4g} mm",
              allowed, "put an arc in its place")
        for c in curve.corners(SHARP_RAD) if c.turn > 0
    ]
    tight = (curve.sweep > SHARP_RAD) & (curve.radius < SMALLEST_RADIUS_MM * (1 - 1e-9))
    return corners + [
        Fault(f"{OUTLINE}[{i}]",
              f"an edge of radius {curve.radius[i]:.3g} mm at r = {curve.start[i, 0]:.4g} mm",
              allowed, "make the arc larger")
        for i in np.flatnonzero(tight)
    ]
