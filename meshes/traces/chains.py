"""A chain of arcs and lines by its free numbers, and how its distance from points answers to each of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.curves.curve import Curve
from labrum.meshes.rims.rim import SMALLEST_RADIUS_MM

LEAST_LENGTH_MM, MOST_LENGTH_MM = 1e-3, 1e4
MOST_SWEEP = 1.9 * np.pi
# A hair less sharp than a rim may be.
MOST_CURVATURE = 0.999 / SMALLEST_RADIUS_MM
# Of an arc flatter than anyone draws: 10 mm of it rise by 12 micrometres.
LEAST_CURVATURE = 1e-3
TOLERANCE = 1e-9
SETTLED_STEP = 1e-3
# A step that gains so much may be followed by others that gain this many times as much in all.
PROSPECT = 1000.0
# How closely a tied heading is held: 10 mm of it stray by 10 nm.
TIE_RAD = 1e-6
LEAST_DAMPING, MOST_DAMPING = 1e-12, 1e8
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)


@dataclass(frozen=True)
class FreeChain:
    """Pieces one after another: each turns by ``turn`` from the one before, then runs on at one curvature.

    Parameters
    ----------
    start, heading
        Where the first piece begins, mm, and which way it heads, radians.
    length, curvature
        (k,) of each piece, mm and 1/mm, positive anticlockwise.
    turn
        (k - 1,) angle by which the heading jumps at each joint, radians; 0 at a tangent joint.
    is_arc, is_corner
        (k,) and (k - 1,): what may change in a fit. A piece that is no arc stays straight, a joint that is no
        corner stays tangent.
    tied
        (k,) heading that each piece must have at its start; not a number where it is free.
    """

    start: tuple[float, float]
    heading: float
    length: Floats
    curvature: Floats
    turn: Floats
    is_arc: NDArray[np.bool_]
    is_corner: NDArray[np.bool_]
    tied: Floats

    @cached_property
    def headings(self) -> Floats:
        """(k,) heading at the start of each piece."""
        sweeps = (self.length * self.curvature)[:-1]
        return self.heading + np.concatenate([[0.0], np.cumsum(sweeps + self.turn)])

    @cached_property
    def joints(self) -> Floats:
        """(k + 1, 2) ends of the pieces, mm."""
        half = 0.5 * self.length * self.curvature
        chord = self.length * np.sinc(half / np.pi)
        way = self.headings + half
        steps = chord[:, None] * np.column_stack([np.cos(way), np.sin(way)])
        return np.vstack([[self.start], np.asarray(self.start) + np.cumsum(steps, axis=0)])

    @cached_property
    def curve(self) -> Curve:
        """The chain as a curve."""
        bulge = np.append(np.tan(0.25 * self.length * self.curvature), 0.0)
        return Curve.from_vertices(np.column_stack([self.joints, bulge]))

    @property
    def is_possible(self) -> bool:
        """Whether every piece has a length, no arc goes round more than once, and no convex edge is too sharp."""
        whole = np.isfinite(self.length).all() and np.isfinite(self.curvature).all()
        return bool(whole and (self.length > LEAST_LENGTH_MM).all() and (self.length < MOST_LENGTH_MM).all()
                    and (self.curvature < MOST_CURVATURE).all()
                    and (np.abs(self.length * self.curvature) < MOST_SWEEP).all())

    @property
    def parameters(self) -> int:
        """How many numbers a fit may choose: the free ones less the ties that do not follow from each other."""
        return 1 + len(self.length) + int(self.is_arc.sum()) + int(self.is_corner.sum()) - self.held

    def is_model_of(self, other: FreeChain) -> bool:
        """Tell whether the same numbers are free in both, whatever their values."""
        return (np.array_equal(self.is_arc, other.is_arc) and np.array_equal(self.is_corner, other.is_corner)
                and np.array_equal(self.tied, other.tied, equal_nan=True))

    def price(self, points: float) -> float:
        """What the chain's parameters cost in Schwarz's criterion.

        A tie saves its parameter and as much again: level and upright are what a maker draws, so the points must
        speak against them clearly before they are given up. So is a straight wall: an arc that is all but a line
        costs its parameter twice.
        """
        all_but_lines = int((self.is_arc & (np.abs(self.curvature) < LEAST_CURVATURE)).sum())
        return (self.parameters - self.squares + all_but_lines) * float(np.log(max(points, 3.0)))

    @cached_property
    def held(self) -> int:
        """How many ties do not follow from each other."""
        response = self.ties()[1]
        return int(np.linalg.matrix_rank(response)) if len(response) else 0

    def packed(self) -> Floats:
        """Free numbers: shift across, heading, lengths but the last, angles of arcs, turns of corners.

        With angles instead of curvatures the headings are sums of free numbers, so that ties are linear.
        """
        sweep = self.length * self.curvature
        return np.concatenate([[0.0, self.heading], self.length[:-1], sweep[self.is_arc], self.turn[self.is_corner]])

    def moved_to(self, x: Floats) -> FreeChain:
        """Take on free numbers laid out as in `packed`; the shift counts across the heading that was."""
        k = len(self.length)
        arcs = int(self.is_arc.sum())
        across = np.array([-np.sin(self.heading), np.cos(self.heading)])
        place = np.asarray(self.start) + x[0] * across
        length = np.append(x[2 : 1 + k], self.length[-1])
        curvature, turn = np.zeros(k), np.zeros(k - 1)
        curvature[self.is_arc] = x[1 + k : 1 + k + arcs] / length[self.is_arc]
        turn[self.is_corner] = x[1 + k + arcs :]
        return replace(self, start=(float(place[0]), float(place[1])), heading=float(x[1]),
                       length=length, curvature=curvature, turn=turn)

    def response(self, foot: Floats, normal: Floats, piece: Ints, along: Floats) -> Floats:
        """(m, p) change of the signed distance of m points with each free number.

        ``foot``, ``normal``, ``piece`` and ``along`` (arc length from the piece's start) say what the points
        see of the chain.
        """
        k = len(self.length)
        across = np.array([-np.sin(self.heading), np.cos(self.heading)])

        def turned_about(joint: int) -> Floats:
            arm = foot - self.joints[joint]
            return np.where(piece >= joint, normal[:, 1] * arm[:, 0] - normal[:, 0] * arm[:, 1], 0.0)

        bending = [self._bent_by(i, normal, piece, along, turned_about) if self.is_arc[i] else np.zeros(len(foot))
                   for i in range(k)]
        ends = self.headings + self.length * self.curvature
        columns = [normal @ across, turned_about(0)]
        for i in range(k - 1):  # a longer piece of the same angle is less curved
            forward = np.array([np.cos(ends[i]), np.sin(ends[i])])
            straight = np.where(piece > i, normal @ forward, 0.0) + self.curvature[i] * turned_about(i + 1)
            columns.append(straight - self.curvature[i] / self.length[i] * bending[i])
        columns += [bending[i] / self.length[i] for i in np.flatnonzero(self.is_arc)]
        columns += [turned_about(int(j) + 1) for j in np.flatnonzero(self.is_corner)]
        return -np.column_stack(columns)

    def _bent_by(
        self, i: int, normal: Floats, piece: Ints, along: Floats, turned_about: Callable[[int], Floats]
    ) -> Floats:
        """(m,) move along the normals as the curvature of piece i grows, its start and length held."""
        reach = np.where(piece > i, self.length[i], np.where(piece == i, along, 0.0))
        near = np.flatnonzero(piece >= i)
        out = np.zeros(len(piece))
        out[near] = np.sum(normal[near] * self._bending(i, reach[near]), axis=1)
        return out + (self.length[i] * turned_about(i + 1) if i < len(self.length) - 1 else 0.0)

    @property
    def squares(self) -> int:
        """How many places are level or upright by a tie: a piece tied at both ends is one."""
        tied = np.isfinite(self.tied)
        return int((tied & ~np.append(False, self.tied[1:] == self.tied[:-1])).sum())

    def ties(self) -> tuple[Floats, Floats]:
        """(t,) by how much tied headings are missed, and (t, p) how they answer to the free numbers."""
        k = len(self.length)
        rows = np.flatnonzero(np.isfinite(self.tied))
        before = np.arange(k)[None, :] < rows[:, None]
        response = np.concatenate([
            np.zeros((len(rows), 1)), np.ones((len(rows), 1)), np.zeros((len(rows), k - 1)),
            before[:, self.is_arc], before[:, :-1][:, self.is_corner]], axis=1)
        return self.headings[rows] - self.tied[rows], response

    def _bending(self, i: int, reach: Floats) -> Floats:
        """(m, 2) move of the place ``reach`` along piece i as its curvature grows, its start held."""
        t = 0.5 * reach[:, None] * (1.0 + _NODES)
        way = self.headings[i] + self.curvature[i] * t
        weight = 0.5 * reach[:, None] * _WEIGHTS * t
        return np.column_stack([-(weight * np.sin(way)).sum(axis=1), (weight * np.cos(way)).sum(axis=1)])


@dataclass(frozen=True)
class ChainFit:
    """A chain fitted to points.

    Parameters
    ----------
    chain
        Fitted.
    residual
        (n,) signed distances of the points, mm.
    chi2
        Weighted sum of their squares over the noise's variance.
    jacobian
        (n + ties, p) of the weighted distances over the noise and of the ties, for the uncertainty.
    """

    chain: FreeChain
    residual: Floats
    chi2: float
    jacobian: Floats

    def criterion(self, points: float) -> float:
        """Schwarz's criterion for noise of known size: smaller is better.

        See `Chain.price`.
        """
        return self.chi2 + self.chain.price(points)


@dataclass(frozen=True)
class _Seen:
    """A chain as the points see it: weighted distances and their response to the free numbers."""

    chain: FreeChain
    error: Floats
    jacobian: Floats

    @property
    def cost(self) -> float:
        return float(self.error @ self.error)


def fit_chain(first: FreeChain, points: Floats, weights: Floats, noise: float, most: int = 60,
              beat: float = np.inf) -> ChainFit:
    """Fit the chain by least squares to (n, 2) points in the order of travel, from a first guess.

    Distances are exact and signed, so the fit is geometric; the derivatives are those of the chain's feet.
    Levenberg's and Marquardt's damped steps (Marquardt 1963, J. SIAM 11:431), scaled by the Jacobian's columns;
    a step to a chain that cannot be (a piece without length, an arc beyond a full circle) is refused. A fit that
    has no prospect of a sum of squares below ``beat`` is given up.
    """
    scale = np.sqrt(weights) / noise
    here = _seen(first, points, scale)
    damping = 1e-3
    for _ in range(most):
        normal = here.jacobian.T @ here.jacobian
        slope = here.jacobian.T @ here.error
        size = np.asarray(np.maximum(np.diag(normal), 1e-12))
        step = -np.linalg.solve(normal + damping * np.diag(size), slope)
        chain = here.chain.moved_to(here.chain.packed() + step)
        there = _seen(chain, points, scale) if chain.is_possible else None
        if there is None or there.cost > here.cost:
            if damping > MOST_DAMPING or _settled(step, size):
                break
            damping *= 8.0
            continue
        gain, here = here.cost - there.cost, there
        damping = max(damping / 5.0, LEAST_DAMPING)
        if here.cost - PROSPECT * gain > beat:
            break
        if gain < TOLERANCE * (1.0 + here.cost) and _settled(step, size):
            break
    return ChainFit(here.chain, here.error[: len(points)] / scale, here.cost, here.jacobian)


def _settled(step: NDArray[Any], size: NDArray[Any]) -> bool:
    """Tell whether a step is far smaller than what the noise leaves open."""
    return bool((np.abs(step) * np.sqrt(size) < SETTLED_STEP).all())


def _seen(chain: FreeChain, points: Floats, scale: Floats) -> _Seen:
    near = chain.curve.nearest(points)
    along = near.arc_length - chain.curve.offset[near.piece]
    jacobian = chain.response(near.foot, near.normal, near.piece, along)
    missed, response = chain.ties()
    return _Seen(chain, np.append(scale * near.distance, missed / TIE_RAD),
                 np.vstack([scale[:, None] * jacobian, response / TIE_RAD]))
