"""Arcs and lines through a measured profile: as few as the noise allows, tangent where they are, sharp where not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from meshes.chains import Chain, ChainFit, fit_chain
from meshes.circles import hyper_circle
from meshes.knots import Run, divide

Floats = NDArray[np.float64]

# A joint is first taken for tangent where the two runs' directions differ by less than this.
TANGENT_RAD = np.radians(12.0)
# A corner that becomes an arc begins with this radius.
FIRST_RADIUS_MM = 0.1
STRAIGHT_MM = 1e5
# A line nearer than this to level or upright may be just that.
SQUARE_RAD = np.radians(0.5)
# Two crowns that meet nearer to level than this may meet level.
LEVEL_RAD = np.radians(6.0)
# A piece this short may be a splinter of an arc.
SHORT_MM = 0.35
ROUNDS = 40
MOST_RUNS = 30
# A stretch whose mean lies off its arc by no more than this stands for its points.
SAG_MM, STRETCH_MM, KNOT_MM = 5e-5, 0.2, 0.12
# Criteria this close are alike; of two such models the one with fewer pieces is kept.
LIKE = 1e-3


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

    chain: Chain
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

    Notes
    -----
    Knots come from the cheapest division (`divide`), pieces from circle fits free of bias, and then all pieces
    together from a geometric least-squares fit of one connected chain. Pieces are merged, straightened, joints
    made tangent or sharp, one change at a time, as long as Schwarz's criterion falls.
    """
    runs = _divided(points, weights, noise)
    few, heavy = _gathered(runs, points, weights)
    fit = fit_chain(_first_chain(runs, points, weights), few, heavy, noise)
    fit = _improved(fit, few, heavy, noise)
    rounded = _with_round_edges(fit, few, heavy, noise)
    if rounded is not fit:
        fit = _with_round_edges(_improved(rounded, few, heavy, noise), few, heavy, noise)
    fit = fit_chain(fit.chain, points, weights, noise)
    return ProfileFit(fit.chain, fit.residual, noise, _covariance(fit, weights))


def _divided(points: Floats, weights: Floats, noise: float) -> list[Run]:
    """Divide the points; where errors that are alike would call for no end of pieces, each costs more."""
    dearness = 1.0
    while len(runs := divide(points, weights, noise, dearness)) > MOST_RUNS:
        dearness *= 2.0
    return runs


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


def _first_chain(runs: list[Run], points: Floats, weights: Floats) -> Chain:
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
    return Chain((start[0], start[1]), float(heading[0]), length, kappa, np.where(corner, jump, 0.0),
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


def _improved(fit: ChainFit, points: Floats, weights: Floats, noise: float) -> ChainFit:
    """Take the best single change of the model again and again until none lowers the criterion."""
    total = float(weights.sum())
    for _ in range(ROUNDS):
        for changed in _changes(fit.chain):
            beat = fit.criterion(total) - changed.price(total) + LIKE
            other = fit_chain(changed, points, weights, noise, most=25, beat=beat)
            fewer = len(other.chain.length) < len(fit.chain.length)
            if other.criterion(total) < fit.criterion(total) + (LIKE if fewer else -LIKE):
                fit = other
                break
        else:
            break
    return fit


def _changes(chain: Chain) -> Iterator[Chain]:
    """Models one step away: fewer numbers first."""
    yield from _crowned(chain)
    for i in _numbers(~chain.is_arc & np.isnan(chain.tied)):
        quarter = round(float(chain.headings[i]) / (0.5 * np.pi)) * 0.5 * np.pi
        if abs(chain.headings[i] - quarter) < SQUARE_RAD:
            yield replace(chain, tied=_set(chain.tied, i, quarter))
    for i in _numbers(chain.is_arc & np.isnan(chain.tied) & (np.abs(chain.headings) < LEVEL_RAD)):
        yield replace(chain, tied=_set(chain.tied, i, 0.0))
    for i in _numbers(np.isfinite(chain.tied)):
        yield replace(chain, tied=_set(chain.tied, i, np.nan))
    for i in range(1, len(chain.length) - 1):
        if chain.is_corner[i - 1] or chain.is_corner[i]:
            yield _bent(chain, i)
    for j in range(len(chain.length) - 1):
        yield _merged(chain, j)
    yield from _swept_up(chain)
    for i in range(1, len(chain.length) - 1):
        if chain.length[i] < SHORT_MM and chain.curvature[i] < 0.0:
            yield _sharpened(chain, i)
    for i in _numbers(chain.is_arc):
        yield replace(chain, is_arc=_set(chain.is_arc, i, False), curvature=_set(chain.curvature, i, 0.0))
    for j in _numbers(chain.is_corner):
        yield replace(chain, is_corner=_set(chain.is_corner, j, False), turn=_set(chain.turn, j, 0.0))
        yield _rounded(chain, j)
    for j in _numbers(~chain.is_corner):
        yield replace(chain, is_corner=_set(chain.is_corner, j, True))
    for i in _numbers(~chain.is_arc):
        yield replace(chain, is_arc=_set(chain.is_arc, i, True), curvature=_set(chain.curvature, i, 1e-4))


def _sharpened(chain: Chain, i: int) -> Chain:
    """Put a corner in place of piece i, as sharp as it and its joints turned."""
    turn = float(chain.turn[i - 1] + chain.turn[i] + chain.length[i] * chain.curvature[i])
    length = chain.length.copy()
    length[i - 1 : i + 2 : 2] += 0.5 * length[i]
    return replace(
        chain, length=np.delete(length, i), curvature=np.delete(chain.curvature, i),
        is_arc=np.delete(chain.is_arc, i), tied=np.delete(chain.tied, i),
        turn=np.delete(_set(chain.turn, i, turn), i - 1), is_corner=np.delete(_set(chain.is_corner, i, True), i - 1),
    )


def _swept_up(chain: Chain) -> Iterator[Chain]:
    """One arc in place of three or four pieces, one of them short, that turn one way on the whole."""
    turned = np.append(chain.length * chain.curvature, 0.0)
    for count in (3, 4):
        for i in range(1, len(chain.length) - count):
            out = slice(i, i + count)
            total = float(chain.length[out].sum())
            sweep = float(turned[out].sum() + chain.turn[i - 1 : i + count].sum())
            if chain.length[out].min() < SHORT_MM and 0.05 < sweep < 2.0:
                yield _spliced(chain, out, np.array([total]), np.array([sweep / total]), np.array([True]),
                               np.array([np.nan]))


def _crowned(chain: Chain) -> Iterator[Chain]:
    """Crowns as they are drawn: an inner and an outer one, either of them flat, that meet level at the high point."""
    ends = chain.headings + chain.length * chain.curvature
    level = np.flatnonzero((chain.headings <= 1e-9) & (ends >= -1e-9) & (chain.curvature >= 0.0))
    if not len(level):
        return
    lowest = level[np.argmin(np.minimum(chain.joints[level, 1], chain.joints[level + 1, 1]))]
    convex = _numbers(chain.is_arc & (chain.curvature > 0.0))
    inside = [i for i in convex if i < lowest and ends[i] > -0.9]
    outside = [i for i in convex if i > lowest and chain.headings[i] < 0.9]
    if not inside or not outside:
        return
    first = max(inside, key=lambda i: chain.curvature[i]) + 1
    last = max(outside, key=lambda i: chain.curvature[i])
    between = slice(first, last)
    if chain.is_corner[first - 1 : last].any():
        return
    rise = float(-chain.headings[first])
    fall = float(chain.headings[last])
    total = float(chain.length[between].sum())
    if total <= 0.0 or rise <= 0.0 or fall <= 0.0:
        return
    high = float(np.clip(_level_place(chain, first, last), 0.1 * total, 0.9 * total))
    for flat_in, flat_out in ((False, False), (True, False), (False, True), (True, True)):
        pieces = 1 if flat_in and flat_out else 2
        length = np.array([total]) if pieces == 1 else np.array([high, total - high])
        arcs = np.array([False]) if pieces == 1 else ~np.array([flat_in, flat_out])
        curvature = np.zeros(pieces) if pieces == 1 else np.array([rise / high, fall / (total - high)]) * arcs
        tied = np.zeros(pieces)
        if pieces == 2:
            tied[0] = np.nan
        yield _spliced(chain, between, length, curvature, arcs, tied)


def _level_place(chain: Chain, first: int, last: int) -> float:
    """Arc length from the start of piece ``first`` to where the chain is level."""
    for i in range(first, last):
        end = chain.headings[i] + chain.length[i] * chain.curvature[i]
        if end >= 0.0:
            part = -chain.headings[i] / chain.curvature[i] if chain.curvature[i] > 0.0 else 0.5 * chain.length[i]
            return float(chain.length[first:i].sum() + np.clip(part, 0.0, chain.length[i]))
    return float(chain.length[first:last].sum())


def _spliced(chain: Chain, out: slice, length: Floats, curvature: Floats, arcs: NDArray, tied: Floats) -> Chain:
    """Put other pieces, tangent to each other and to their neighbours, in place of some."""
    def joined(values: NDArray, new: NDArray) -> NDArray:
        return np.concatenate([values[: out.start], new, values[out.stop :]])

    free = np.zeros(len(length) + 1, dtype=bool)
    joints = slice(out.start - 1, out.stop)
    return replace(
        chain, length=joined(chain.length, length), curvature=joined(chain.curvature, curvature),
        is_arc=joined(chain.is_arc, arcs), tied=joined(chain.tied, tied),
        turn=np.concatenate([chain.turn[: joints.start], free * 0.0, chain.turn[joints.stop :]]),
        is_corner=np.concatenate([chain.is_corner[: joints.start], free, chain.is_corner[joints.stop :]]),
    )


def _numbers(chosen: NDArray[np.bool_]) -> list[int]:
    """Where the true ones are."""
    return [int(i) for i in np.flatnonzero(chosen)]


def _set(values: NDArray, place: int, value: float | bool) -> NDArray:
    out = values.copy()
    out[place] = value
    return out


def _merged(chain: Chain, joint: int) -> Chain:
    """Make one piece of the two at a joint, turning as far as both did."""
    a, b = joint, joint + 1
    length = chain.length[a] + chain.length[b]
    swept = chain.length[a] * chain.curvature[a] + chain.length[b] * chain.curvature[b] + chain.turn[joint]
    arc = bool(chain.is_arc[a] or chain.is_arc[b] or chain.is_corner[joint])
    return replace(
        chain,
        length=np.delete(_set(chain.length, a, length), b),
        curvature=np.delete(_set(chain.curvature, a, swept / length if arc else 0.0), b),
        is_arc=np.delete(_set(chain.is_arc, a, arc), b),
        turn=np.delete(chain.turn, joint),
        is_corner=np.delete(chain.is_corner, joint),
        tied=np.delete(chain.tied, b),
    )


def _with_round_edges(fit: ChainFit, points: Floats, weights: Floats, noise: float) -> ChainFit:
    """Put an arc in place of every convex corner: no edge is sharp without end, and a rim may have none."""
    while True:
        sharp = np.flatnonzero(fit.chain.is_corner & (fit.chain.turn > np.radians(0.5)))
        if not len(sharp):
            return fit
        fit = fit_chain(_rounded(fit.chain, int(sharp[0])), points, weights, noise)


def _rounded(chain: Chain, joint: int) -> Chain:
    """Put an arc, tangent on both sides, in place of a corner."""
    turn = float(chain.turn[joint])
    half = 0.5 * max(abs(turn), 1e-3)
    back = min(FIRST_RADIUS_MM * np.tan(half), 0.4 * float(chain.length[joint : joint + 2].min()))
    length = chain.length.copy()
    length[joint : joint + 2] -= back
    arc = 2.0 * back * half / np.tan(half)
    at = joint + 1
    return replace(
        chain,
        length=np.insert(length, at, arc),
        curvature=np.insert(chain.curvature, at, turn / arc),
        is_arc=np.insert(chain.is_arc, at, True),
        turn=np.insert(_set(chain.turn, joint, 0.0), joint, 0.0),
        is_corner=np.insert(_set(chain.is_corner, joint, False), joint, False),
        tied=np.insert(chain.tied, at, np.nan),
    )


def _bent(chain: Chain, i: int) -> Chain:
    """Make piece i an arc that turns as far as it and the corners at its ends did, tangent on both sides."""
    around = chain.turn[i - 1] + chain.turn[i] + chain.length[i] * chain.curvature[i]
    # The arc reaches as far into its neighbours as its tangents at the old corners would have it.
    into = 0.25 * chain.length[i]
    before, after = (min(into, 0.4 * float(chain.length[k])) for k in (i - 1, i + 1))
    length = chain.length.copy()
    length[i - 1] -= before
    length[i + 1] -= after
    length[i] += before + after
    turn, corner = chain.turn.copy(), chain.is_corner.copy()
    turn[i - 1 : i + 1], corner[i - 1 : i + 1] = 0.0, False
    return replace(chain, length=length, turn=turn, is_corner=corner, is_arc=_set(chain.is_arc, i, True),
                   curvature=_set(chain.curvature, i, around / length[i]))


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
