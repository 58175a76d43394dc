"""Arcs and lines through a measured profile: as few as the noise allows, tangent where they are, sharp where not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.traces.chain_moves import changes, merged, rounded
from labrum.meshes.traces.chains import ChainFit, FreeChain, fit_chain
from labrum.meshes.traces.runs import hyper_circle
from labrum.meshes.traces.segmentation import Run, divide

# A joint is first taken for tangent where the two runs' directions differ by less than this.
TANGENT_RAD = np.radians(12.0)
STRAIGHT_MM = 1e5
MOST_MOVES = 40
MOST_RUNS = 30
# A fit whose points lie farther off than this many times the noise has missed the shape.
FAR_OFF = 2.5
# A convex corner that turns by more becomes an arc.
EDGE_RAD = np.radians(0.5)
# Points may lie this far beyond an arc at the chain's end, where it goes on straight.
BEYOND_MM = 0.3
# A stretch whose mean lies off its arc by no more than this stands for its points.
SAG_MM, STRETCH_MM, KNOT_MM = 5e-5, 0.2, 0.12
# Criteria this close are alike; of two such models the one with fewer pieces is kept. Another start of the same model
# must gain more: a fit that creeps on would else be taken up again and again, and no other model tried.
LIKE, SAME = 1e-3, 0.5


@dataclass(frozen=True)
class ProfileFit:
    """A profile as a chain, and how well the chain is known.

    Parameters
    ----------
    chain
        Arcs and lines in the order of travel.
    residual
        (n,) signed distances of the points from it, mm.
    noise
        Standard deviation the fit was weighed with, mm.
    covariance
        (p, p) of the chain's free numbers, in the order of `Chain.packed`.
    """

    chain: FreeChain
    residual: Floats
    noise: float
    covariance: Floats

    @property
    def rms(self) -> float:
        """Root of the mean squared distance, mm."""
        return float(np.sqrt(np.mean(self.residual**2)))


def fit_profile(points: Floats, weights: Floats, noise: float) -> ProfileFit:
    """Fit arcs and lines to (n, 2) points in the order of travel.

    Parameters
    ----------
    points, weights
        mm; (n,) how many measured points each stands for.
    noise
        Standard deviation of one measured point, mm: it sets the price of a piece.

    Raises
    ------
    ValueError
        If no chain of a few arcs and lines comes near the points.

    Notes
    -----
    A profile that is wavier than its noise is read with three times the noise, or nine: the fit's ``noise`` tells.
    Knots come from the cheapest division (`divide`), pieces from circle fits free of bias, and then all pieces
    together from a geometric least-squares fit of one connected chain. Pieces are merged, straightened, joints
    made tangent or sharp, one change at a time, as long as Schwarz's criterion falls.
    """
    for tolerance in (noise, 3.0 * noise, 9.0 * noise):
        runs = divide(points, weights, tolerance)
        if len(runs) <= MOST_RUNS:
            fit = _fitted(runs, points, weights, tolerance)
            if fit.rms <= FAR_OFF * tolerance and _is_plain(fit.chain, points):
                return fit
    raise ValueError(f"no chain of up to {MOST_RUNS} arcs and lines comes near the points")


def _is_plain(chain: FreeChain, points: Floats) -> bool:
    """Tell whether the chain has no sharp edge left, does not meet itself, and no arc of it goes on straight.

    A line at either end goes on as itself: how long it was drawn means nothing.
    """
    curve = chain.curve
    feet = curve.nearest(points).arc_length
    beyond = max(-float(feet.min()) if chain.is_arc[0] else 0.0,
                 float(feet.max()) - curve.length if chain.is_arc[-1] else 0.0)
    return beyond < BEYOND_MM and not _sharp(chain).any() and not len(curve.self_intersections())


def _sharp(chain: FreeChain) -> Bools:
    """(k - 1,) convex corners."""
    return chain.is_corner & (chain.turn > EDGE_RAD)


def _fitted(runs: list[Run], points: Floats, weights: Floats, noise: float) -> ProfileFit:
    """Fit with the model chosen on few points and the numbers on all."""
    few, heavy = _gathered(runs, points, weights)
    fit = fit_chain(_first_chain(runs, points, weights), few, heavy, noise)
    fit = _improved(fit, few, heavy, noise)
    smooth = _with_round_edges(fit, few, heavy, noise)
    if smooth is not fit:
        fit = _improved(smooth, few, heavy, noise, sharp=False)
    fit = fit_chain(fit.chain, points, weights, noise)
    return ProfileFit(fit.chain, fit.residual, noise, _covariance(fit, weights))


def _gathered(runs: list[Run], points: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """Means of neighbours inside each run, over stretches too short to bend, to choose between models on.

    Within ``KNOT_MM`` of a knot the points stay as they are.
    """
    places, loads = [], []
    for run in runs:
        p, w = points[run.first : run.last], weights[run.first : run.last]
        step = float(np.hypot(*(p[-1] - p[0]))) / max(len(p) - 1, 1)
        radius = hyper_circle(p, w)[2] if run.is_arc else np.inf
        stretch = min(STRETCH_MM, float(np.sqrt(24.0 * SAG_MM * radius)))
        size, edge = int(stretch / max(step, 1e-9)), int(np.ceil(KNOT_MM / max(step, 1e-9)))
        cell = np.arange(len(p))
        if size > 1 and len(p) > 2 * edge + size:
            inner = slice(edge, len(p) - edge)
            cell[inner] = edge + (cell[inner] - edge) // size
            cell[len(p) - edge :] += 1 + cell[inner][-1] - (len(p) - edge)
        load = np.bincount(cell, weights=w)
        places.append(np.column_stack([np.bincount(cell, weights=w * p[:, k]) / load for k in (0, 1)]))
        loads.append(load)
    return np.vstack(places), np.concatenate(loads)


def _first_chain(runs: list[Run], points: Floats, weights: Floats) -> FreeChain:
    """Join the runs' own lines and circles into a chain, roughly."""
    shapes = [_shape(run, points[run.first : run.last], weights[run.first : run.last]) for run in runs]
    kappa = np.array([s[0] for s in shapes])
    length = np.array([s[1] for s in shapes])
    heading = np.unwrap([s[2] for s in shapes])
    jump = heading[1:] - (heading + kappa * length)[:-1]
    jump = (jump + np.pi) % (2 * np.pi) - np.pi
    corner = np.abs(jump) > TANGENT_RAD
    start = tuple(float(v) for v in points[runs[0].first])
    # Where a joint is made tangent its jump is shared out, or every later piece would start askew.
    spread = np.where(corner, 0.0, jump)
    kappa = kappa + _shared(spread, length) * np.array([r.is_arc for r in runs])
    return FreeChain((start[0], start[1]), float(heading[0]), length, kappa, np.where(corner, jump, 0.0),
                 np.array([r.is_arc for r in runs]), corner, np.full(len(runs), np.nan))


def _shared(jump: Floats, length: Floats) -> Floats:
    """Curvature that makes up for half of the jump at either end of each piece."""
    return 0.5 * (np.append(jump, 0.0) + np.append(0.0, jump)) / length


def _shape(run: Run, points: Floats, weights: Floats) -> tuple[float, float, float]:
    """Curvature, length and first heading of one run by itself."""
    step = points[-1] - points[0]
    chord = max(float(np.hypot(*step)) * len(points) / max(len(points) - 1, 1), 1e-3)
    way = float(np.arctan2(step[1], step[0]))
    if not run.is_arc:
        return 0.0, chord, way
    _, _, radius = hyper_circle(points, weights)
    if not 0.0 < radius < STRAIGHT_MM:
        return 1e-6, chord, way
    middle = points[len(points) // 2] - 0.5 * (points[0] + points[-1])
    left = step[0] * middle[1] - step[1] * middle[0] < 0.0  # the bulge lies right of the way: anticlockwise
    half = float(np.arcsin(min(0.999, 0.5 * chord / radius)))
    if np.hypot(*middle) > radius:  # more than half a circle
        half = np.pi - half
    sign = 1.0 if left else -1.0
    return sign / radius, 2.0 * radius * half, way - sign * half


def _improved(fit: ChainFit, points: Floats, weights: Floats, noise: float, sharp: bool = True) -> ChainFit:
    """Take one change of the model after another until none lowers the criterion; ``sharp``: to convex corners too."""
    total = float(weights.sum())
    for _ in range(MOST_MOVES):
        for changed in changes(fit.chain):
            if not changed.is_possible:
                continue
            beat = fit.criterion(total) - changed.price(total) + LIKE
            other = fit_chain(changed, points, weights, noise, most=25, beat=beat)
            better = other.criterion(total) < fit.criterion(total) - _least_gain(fit.chain, other.chain)
            if better and (sharp or not _sharp(other.chain).any()):
                fit = other
                break
        else:
            break
    return fit


def _least_gain(one: FreeChain, other: FreeChain) -> float:
    """By how much the other's criterion must be lower for it to be taken."""
    if len(other.length) < len(one.length):
        return -LIKE
    return SAME if other.is_model_of(one) else LIKE


def _with_round_edges(fit: ChainFit, points: Floats, weights: Floats, noise: float) -> ChainFit:
    """Put an arc in place of every convex corner: no edge is sharp without end, and a rim may have none."""
    while True:
        sharp = np.flatnonzero(fit.chain.is_corner & (fit.chain.turn > EDGE_RAD))
        if not len(sharp):
            return fit
        smooth = rounded(fit.chain, int(sharp[0]))
        if not smooth.is_possible:  # its neighbours are too short to make room
            smooth = merged(fit.chain, int(sharp[0]))
        fit = fit_chain(smooth, points, weights, noise)


def _covariance(fit: ChainFit, weights: Floats) -> Floats:
    """Covariance of the free numbers, widened where neighbours' errors are alike (or the fit is poor)."""
    wide = max(1.0, fit.chi2 / max(float(len(weights)) - fit.chain.parameters, 1.0) * alikeness(fit.residual))
    return np.asarray(np.linalg.pinv(fit.jacobian.T @ fit.jacobian, rcond=1e-15, hermitian=True)) * wide


def alikeness(residual: Floats, run: int = 10) -> float:
    """How many times larger the variance of means of neighbours is than independent errors would make it; 1 or more.

    The factor by which the variance of whatever a fit says grows with it: neighbours whose errors are alike
    say the same thing twice.
    """
    blocks = len(residual) // run
    if blocks < 10:
        return 1.0
    means = residual[: blocks * run].reshape(blocks, run).mean(axis=1)
    return max(1.0, float(run * np.mean(means**2) / max(np.mean(residual**2), 1e-300)))
