"""Open chains of circular arcs and straight lines: the shape of everything rigid.

A chain is travelled from its start to its end. The metal lies on its left, the tissue on its right, so the
normals given here, which point to the right, point out of the metal. An arc that turns anticlockwise is
convex towards the tissue.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.curves.crossings import self_crossings
from labrum.meshes.curves.distance import Nearest, Pieces, nearest_on

# Below this bulge the rounding error of a far-away centre (about eps / 4 bulge, per chord) outgrows the arc's
# own rise (bulge / 2), so the piece is a line.
STRAIGHT_BULGE = 1e-8
JOINT_GAP_MM = 1e-9


@dataclass(frozen=True)
class Corner:
    """A joint whose tangent jumps.

    Parameters
    ----------
    joint
        Number of the piece that begins there.
    arc_length
        Where on the curve, mm.
    point
        Where in the plane, mm.
    turn
        Angle of the jump in radians: positive where the metal is convex, negative where it is concave.
    """

    joint: int
    arc_length: float
    point: tuple[float, float]
    turn: float


@dataclass(frozen=True, eq=False)
class Curve:
    """A chain of ``n`` arcs and lines, each beginning where the one before it ends.

    Parameters
    ----------
    start, end
        (n, 2) ends of the pieces, mm.
    bulge
        (n,) tangent of a quarter of each arc's angle, positive anticlockwise; 0 is a line.

    Raises
    ------
    ValueError
        If the arrays do not fit together, a number is not finite, a piece has no length or the chain gaps.
    """

    start: Floats
    end: Floats
    bulge: Floats

    def __post_init__(self) -> None:
        n = len(self.bulge)
        if n == 0 or self.start.shape != (n, 2) or self.end.shape != (n, 2) or self.bulge.shape != (n,):
            raise ValueError(f"pieces do not fit: {self.start.shape}, {self.end.shape}, {self.bulge.shape}")
        if not all(np.isfinite(a).all() for a in (self.start, self.end, self.bulge)):
            raise ValueError("a curve's numbers must be finite")
        if not (self.chord > 0).all():
            raise ValueError(f"piece {int(np.argmin(self.chord))} has no length")
        if n > 1 and np.abs(self.start[1:] - self.end[:-1]).max() > JOINT_GAP_MM:
            raise ValueError("each piece must begin where the one before it ends")

    @classmethod
    def from_vertices(cls, vertices: ArrayLike) -> Curve:
        """Chain (m, 3) rows of r, s and the bulge of the piece to the next row (the last bulge is unused)."""
        rows = np.array(vertices, dtype=np.float64)
        if rows.ndim != 2 or rows.shape[1] != 3 or len(rows) < 2:
            raise ValueError(f"vertices must be at least two rows of r, s, bulge; got shape {rows.shape}")
        rows.setflags(write=False)
        return cls(rows[:-1, :2], rows[1:, :2], rows[:-1, 2])

    @cached_property
    def vertices(self) -> Floats:
        """(n + 1, 3) rows of r, s, bulge that ``from_vertices`` takes; the last bulge is 0."""
        places = np.vstack([self.start, self.end[-1:]])
        return np.column_stack([places, np.append(self.bulge, 0.0)])

    @cached_property
    def chord(self) -> Floats:
        """(n,) straight distance between each piece's ends, mm."""
        return np.asarray(np.hypot(*(self.end - self.start).T))

    @cached_property
    def is_arc(self) -> NDArray[np.bool_]:
        """(n,) true where the piece is an arc, false where it is a line."""
        return np.abs(self.bulge) > STRAIGHT_BULGE

    @cached_property
    def sweep(self) -> Floats:
        """(n,) signed angle each piece turns through, radians; 0 on lines."""
        return np.where(self.is_arc, 4.0 * np.arctan(self.bulge), 0.0)

    @cached_property
    def curvature(self) -> Floats:
        """(n,) 1/mm, positive where the metal is convex towards the tissue."""
        b = np.where(self.is_arc, self.bulge, 0.0)
        return 4.0 * b / (1.0 + b * b) / self.chord

    @cached_property
    def radius(self) -> Floats:
        """(n,) radius of each piece, mm; infinite for lines."""
        full = np.full(len(self.bulge), np.inf)
        np.divide(1.0, np.abs(self.curvature), out=full, where=self.is_arc)
        return full

    @cached_property
    def centre(self) -> Floats:
        """(n, 2) centre of each arc, mm; not a number for lines."""
        across = (self.end - self.start)[:, ::-1] * (-1.0, 1.0)
        b = self.bulge
        half_cot = np.full(len(b), np.nan)  # half the cotangent of half the sweep
        np.divide(1.0 - b * b, 4.0 * b, out=half_cot, where=self.is_arc)
        return 0.5 * (self.start + self.end) + half_cot[:, None] * across

    @cached_property
    def apex(self) -> Floats:
        """(n, 2) middle of each piece, mm."""
        across = (self.end - self.start)[:, ::-1] * (-1.0, 1.0)
        rise = np.where(self.is_arc, 0.5 * self.bulge, 0.0)
        return 0.5 * (self.start + self.end) - rise[:, None] * across

    @cached_property
    def heading(self) -> Floats:
        """(n,) direction of travel at each piece's start, radians anticlockwise from the r axis."""
        step = self.end - self.start
        return np.arctan2(step[:, 1], step[:, 0]) - 0.5 * self.sweep

    @cached_property
    def piece_length(self) -> Floats:
        """(n,) length along each piece, mm."""
        half = 0.5 * self.sweep
        return self.chord / np.sinc(half / np.pi)

    @cached_property
    def offset(self) -> Floats:
        """(n + 1,) arc length at which each piece begins, and the whole length, mm."""
        return np.concatenate([[0.0], np.cumsum(self.piece_length)])

    @property
    def length(self) -> float:
        """Length of the whole chain, mm."""
        return float(self.offset[-1])

    @cached_property
    def turns(self) -> Floats:
        """(n - 1,) jump of the tangent at each joint, radians in (-pi, pi], positive at convex metal."""
        jump = self.heading[1:] - (self.heading + self.sweep)[:-1]
        return -((np.pi - jump) % (2.0 * np.pi) - np.pi)

    def piece_at(self, arc_length: ArrayLike) -> Ints:
        """(k,) number of the piece that holds each arc length; at a joint, the later one."""
        inner = self.offset[1:-1]
        return np.searchsorted(inner, np.atleast_1d(np.asarray(arc_length, dtype=np.float64)), side="right")

    def at(self, arc_length: ArrayLike) -> Floats:
        """(k, 2) points at (k,) arc lengths, mm; beyond the ends, on the straight continuation."""
        where, piece, along, beyond = self._locate(arc_length)
        half_turn = 0.5 * self.curvature[piece] * along
        chord = along * np.sinc(half_turn / np.pi)
        direction = self.heading[piece] + half_turn
        place = self.start[piece] + chord[:, None] * np.column_stack([np.cos(direction), np.sin(direction)])
        return place + beyond[:, None] * self.tangent_at(where)

    def tangent_at(self, arc_length: ArrayLike) -> Floats:
        """(k, 2) unit tangents in the direction of travel at (k,) arc lengths."""
        _, piece, along, _ = self._locate(arc_length)
        heading = self.heading[piece] + self.curvature[piece] * along
        return np.column_stack([np.cos(heading), np.sin(heading)])

    def normal_at(self, arc_length: ArrayLike) -> Floats:
        """(k, 2) unit normals from the metal into the tissue at (k,) arc lengths."""
        return self.tangent_at(arc_length)[:, ::-1] * (1.0, -1.0)

    def curvature_at(self, arc_length: ArrayLike) -> Floats:
        """(k,) curvature at (k,) arc lengths, 1/mm, positive where the metal is convex; 0 beyond the ends."""
        _, piece, _, beyond = self._locate(arc_length)
        return np.where(beyond == 0.0, self.curvature[piece], 0.0)

    def _locate(self, arc_length: ArrayLike) -> tuple[Floats, Ints, Floats, Floats]:
        where = np.atleast_1d(np.asarray(arc_length, dtype=np.float64))
        inside = np.clip(where, 0.0, self.length)
        piece = self.piece_at(inside)
        return where, piece, inside - self.offset[piece], where - inside

    def translated(self, dr: float, ds: float) -> Curve:
        """Return the same chain moved by (dr, ds) mm."""
        step = np.array([dr, ds])
        return Curve(self.start + step, self.end + step, self.bulge)

    def mirrored(self) -> Curve:
        """Return the mirror image in the axis r = 0, travelled backwards: the metal stays on the left."""
        flip = (-1.0, 1.0)
        return Curve(self.end[::-1] * flip, self.start[::-1] * flip, self.bulge[::-1])

    def sample(self, chord_tolerance_mm: float) -> Floats:
        """(k, 2) points, joints among them, whose chords stand off the curve by at most the tolerance."""
        sag = np.clip(1.0 - chord_tolerance_mm * np.abs(self.curvature), 0.0, 1.0)
        widest = np.where(self.is_arc, 2.0 * np.arccos(sag), np.inf)
        counts = np.maximum(1, np.ceil(np.abs(self.sweep) / widest)).astype(int)
        steps = [o + length * np.arange(k) / k
                 for o, length, k in zip(self.offset, self.piece_length, counts, strict=False)]
        return self.at(np.append(np.concatenate(steps), self.length))

    def corners(self, min_angle_rad: float) -> tuple[Corner, ...]:
        """Joints whose tangent jumps by more than the given angle, in the order of travel."""
        sharp = np.flatnonzero(np.abs(self.turns) > min_angle_rad) + 1
        return tuple(
            Corner(int(j), float(self.offset[j]), (float(self.start[j, 0]), float(self.start[j, 1])),
                   float(self.turns[j - 1]))
            for j in sharp
        )

    def self_intersections(self) -> Floats:
        """(k, 2) points where the chain meets itself other than at its joints; empty for a simple chain."""
        return self_crossings(self)

    @cached_property
    def pieces(self) -> Pieces:
        """The curve prepared for distances."""
        return Pieces.of(self)

    def nearest(self, points: ArrayLike) -> Nearest:
        """Find the nearest points of the chain and the signed distances to (m, 2) points; see `Nearest`.

        Beyond its two ends the chain goes on straight, along the end tangents: a node that slides past an end
        then meets neither a jump nor a hole. Feet there have arc lengths below 0 or above ``length``.
        """
        return nearest_on(self.pieces, np.asarray(points, dtype=np.float64))
