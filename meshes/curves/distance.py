"""Signed distance from many points to a chain of arcs and lines: exact, with its first two derivatives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Bools, Floats, Ints
from labrum.meshes.curves.chain import Chain

# A joint that turns by less than this is smooth: rounding in the vertices must not make a corner of it,
# because a corner's second derivative, 1/distance, is without bound.
SMOOTH_TURN = 1e-6
# Nearer to a corner than this the direction to it is lost in rounding.
AT_CORNER_MM = 1e-9


@dataclass(frozen=True)
class Nearest:
    """What ``m`` points see of a curve.

    Parameters
    ----------
    distance
        (m,) mm, positive on the tissue side, negative inside the metal.
    foot
        (m, 2) nearest point of the curve, mm.
    normal
        (m, 2) gradient of the distance: unit, out of the metal, defined on the curve itself too.
    hessian
        (m,) second derivative of the distance along the tangent, 1/mm; across it the second derivative is
        nought.
    piece
        (m,) number of the piece that holds the foot.
    arc_length
        (m,) where the foot lies, mm; outside 0 to the curve's length on the straight continuations of its
        ends.
    """

    distance: Floats
    foot: Floats
    normal: Floats
    hessian: Floats
    piece: Ints
    arc_length: Floats


@dataclass(frozen=True)
class Pieces:
    """A curve prepared for distances: a ray before it, its ``n`` pieces, a ray after it (q = n + 2 rows).

    ``origin``, ``tangent``, ``lo``, ``hi`` describe lines by the range of the coordinate along them; ``apex``
    (the arc's middle), ``radius``, ``middle`` (unit, from the centre to the apex), ``half`` (half the angle)
    and ``side`` (+1 convex, -1 concave) describe arcs: from the apex, a crown that is all but flat loses
    nothing to its far-away centre. ``tail``, ``head`` are the ends; ``vertex_normal`` (q + 1, 2) and
    ``corner`` (q + 1,) belong to the joint before each row.
    """

    arc: Ints
    line: Ints
    is_arc: Bools
    origin: Floats
    tangent: Floats
    lo: Floats
    hi: Floats
    offset: Floats
    apex: Floats
    radius: Floats
    middle: Floats
    half: Floats
    side: Floats
    tail: Floats
    head: Floats
    vertex_normal: Floats
    corner: Bools

    @classmethod
    def of(cls, curve: Chain) -> Pieces:
        """Prepare a curve."""
        n = len(curve.bulge)
        is_arc = np.concatenate([[False], curve.is_arc, [False]])
        tail = np.vstack([curve.start[:1], curve.start, curve.end[-1:]])
        head = np.vstack([curve.start[:1], curve.end, curve.end[-1:]])
        first, last = curve.heading[0], curve.heading[-1] + curve.sweep[-1]
        heading = np.concatenate([[first], curve.heading, [last]])
        sweep = np.concatenate([[0.0], curve.sweep, [0.0]])
        side = np.where(sweep < 0.0, -1.0, 1.0)
        aim = heading + 0.5 * sweep - 0.5 * np.pi
        before = np.concatenate([[first], (heading + sweep)])
        after = np.concatenate([heading, [last]])
        vertex_normal = _right_of(before) + _right_of(after)
        length = np.hypot(*vertex_normal.T)[:, None]
        vertex_normal = np.where(length > 1e-9, vertex_normal / np.maximum(length, 1e-9), _right_of(before))
        return cls(
            arc=np.flatnonzero(is_arc), line=np.flatnonzero(~is_arc), is_arc=is_arc,
            origin=tail, tangent=np.column_stack([np.cos(heading), np.sin(heading)]),
            lo=np.concatenate([[-np.inf], np.zeros(n + 1)]),
            hi=np.concatenate([[0.0], curve.piece_length, [np.inf]]),
            offset=np.concatenate([[0.0], curve.offset]),
            apex=np.vstack([curve.start[:1], curve.apex, curve.end[-1:]]),
            radius=np.concatenate([[np.inf], curve.radius, [np.inf]]),
            middle=side[:, None] * np.column_stack([np.cos(aim), np.sin(aim)]),
            half=0.5 * np.abs(sweep), side=side, tail=tail, head=head, vertex_normal=vertex_normal,
            corner=np.concatenate([[False, False], np.abs(curve.turns) > SMOOTH_TURN, [False, False]]),
        )


def _right_of(heading: Floats) -> Floats:
    return np.column_stack([np.sin(heading), -np.cos(heading)])


def _squared(v: Floats) -> Floats:
    return np.asarray(v[..., 0] ** 2 + v[..., 1] ** 2)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1])


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _squared_distances(pieces: Pieces, points: Floats) -> Floats:
    """(m, q) squared distance of every point to every piece."""
    out = np.empty((len(points), len(pieces.is_arc)))
    here = points[:, None, :]
    k = pieces.line
    rel = here - pieces.origin[k]
    along = _dot(rel, pieces.tangent[k])
    excess = along - np.clip(along, pieces.lo[k], pieces.hi[k])
    out[:, k] = _cross(rel, pieces.tangent[k]) ** 2 + excess**2
    k = pieces.arc
    ahead, reach, off = _from_centre(here - pieces.apex[k], pieces.middle[k], pieces.radius[k])
    within = ahead >= reach * np.cos(pieces.half[k])
    ends = np.minimum(_squared(here - pieces.tail[k]), _squared(here - pieces.head[k]))
    out[:, k] = np.where(within, off**2, ends)
    return out


def _from_centre(rel: Floats, middle: Floats, radius: Floats) -> tuple[Floats, Floats, Floats]:
    """Of points seen from the apex: distance from the centre along the middle, in all, and beyond the circle.

    The last is (reach^2 - radius^2) / (reach + radius), in which nothing large cancels.
    """
    rise = _dot(rel, middle)
    square = _squared(rel)
    reach = np.sqrt((radius + rise) ** 2 + _cross(middle, rel) ** 2)
    return radius + rise, reach, (square / radius + 2.0 * rise) / (reach / radius + 1.0)


def nearest_on(pieces: Pieces, points: Floats) -> Nearest:
    """Signed distances of (m, 2) points with their derivatives: see `Nearest`.

    The nearest piece is found by its distance; sign, normal and second derivative then follow from that
    piece's own line or circle. Only at a corner do they follow from the vertex, with the sign of the mean
    normal there (Baerentzen and Aanaes 2005, IEEE Trans. Vis. Comput. Graph. 11:243, from memory).
    """
    best = np.argmin(_squared_distances(pieces, points), axis=1)
    on_arc = pieces.is_arc[best]
    found = _on_line(pieces, points, best)
    for whole, part in zip(found, _on_arc(pieces, points[on_arc], best[on_arc]), strict=True):
        whole[on_arc] = part
    distance, foot, normal, hessian, along, past = found
    joint = best + (past > 0)
    at_vertex = (past != 0) & pieces.corner[joint]
    if at_vertex.any():
        vertex = np.where((past > 0)[:, None], pieces.head[best], pieces.tail[best])[at_vertex]
        turned = _from_vertex(points[at_vertex] - vertex, pieces.vertex_normal[joint[at_vertex]])
        distance[at_vertex], normal[at_vertex], hessian[at_vertex] = turned
    piece = np.clip(best - 1, 0, len(pieces.is_arc) - 3)
    return Nearest(distance, foot, normal, hessian, piece, pieces.offset[best] + along)


def _on_line(pieces: Pieces, points: Floats, k: Ints) -> tuple[Floats, ...]:
    """Distance, foot, normal, second derivative, place along the piece, and past which end (-1, 0, 1)."""
    tangent = pieces.tangent[k]
    rel = points - pieces.origin[k]
    free = _dot(rel, tangent)
    along = np.clip(free, pieces.lo[k], pieces.hi[k])
    normal = tangent[:, ::-1] * (1.0, -1.0)
    foot = pieces.origin[k] + along[:, None] * tangent
    past = _past(free, pieces.lo[k], pieces.hi[k])
    return _dot(rel, normal), foot, normal, np.zeros(len(k)), along, past


def _on_arc(pieces: Pieces, points: Floats, k: Ints) -> tuple[Floats, ...]:
    """Do the same for arcs; the angle is measured from the middle of the arc, in the direction of travel."""
    rel = points - pieces.apex[k]
    middle, side, half, radius = pieces.middle[k], pieces.side[k], pieces.half[k], pieces.radius[k]
    ahead, reach, off = _from_centre(rel, middle, radius)
    central = reach > 0.0
    spoke = rel + radius[:, None] * middle
    ray = np.where(central[:, None], spoke / np.where(central, reach, 1.0)[:, None], middle)
    free = side * np.arctan2(_cross(middle, rel), ahead)
    angle = np.clip(free, -half, half)
    turn = side * angle
    across = middle[:, ::-1] * (-1.0, 1.0)
    back, out = radius * 2.0 * np.sin(0.5 * turn) ** 2, radius * np.sin(turn)
    foot = pieces.apex[k] - back[:, None] * middle + out[:, None] * across
    hessian = side / np.where(central, reach, np.inf)
    past = _past(free, -half, half)
    return side * off, foot, side[:, None] * ray, hessian, radius * (angle + half), past


def _past(free: Floats, lo: Floats, hi: Floats) -> Floats:
    """-1 at or before the start of the piece, 1 at or after its end, 0 between."""
    return np.where(free >= hi, 1.0, np.where(free <= lo, -1.0, 0.0))


def _from_vertex(rel: Floats, mean_normal: Floats) -> tuple[Floats, Floats, Floats]:
    """Distance, normal and second derivative where the foot is a corner."""
    reach = np.sqrt(_squared(rel))
    sign = np.where(_dot(rel, mean_normal) < 0.0, -1.0, 1.0)
    clear = reach > AT_CORNER_MM
    safe = np.where(clear, reach, 1.0)
    normal = np.where(clear[:, None], (sign / safe)[:, None] * rel, mean_normal)
    return sign * reach, normal, np.where(clear, sign / safe, 0.0)
