"""Models next to a chain of arcs and lines: each a small change of what may bend, what is tangent, what is tied."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats
from labrum.meshes.traces.chains import FreeChain

# A corner that becomes an arc begins with this radius, and an arc that the points may have missed with these.
FIRST_RADIUS_MM, OTHER_RADII_MM = 0.1, (0.3, 0.8)
# Of an arc's own radius, what another start must differ by at least.
UNLIKE = 1.5
# A line nearer than this to level or upright may be just that.
SQUARE_RAD = np.radians(0.5)
# Two crowns that meet nearer to level than this may meet level.
LEVEL_RAD = np.radians(6.0)
# A piece this short may be a splinter of an arc.
SHORT_MM = 0.35
# An edge has turned nearer to level than this where the crown begins.
STEEP_RAD = 0.9
COST_ROUNDING = 1e-9


def changes(chain: FreeChain) -> Iterator[FreeChain]:
    """Give every model one step away, the likeliest to be simpler first."""
    yield from _crowned(chain)
    for i in _numbers(~chain.is_arc & np.isnan(chain.tied)):
        quarter = round(float(chain.headings[i]) / (0.5 * np.pi)) * 0.5 * np.pi
        if abs(chain.headings[i] - quarter) < SQUARE_RAD:
            yield replace(chain, tied=_set(chain.tied, i, quarter))
    for i in _numbers(chain.is_arc & np.isnan(chain.tied) & (np.abs(chain.headings) < LEVEL_RAD)):
        yield replace(chain, tied=_set(chain.tied, i, 0.0))
    for i in _numbers(np.isfinite(chain.tied)):
        yield replace(chain, tied=_set(chain.tied, i, np.nan))
    yield from _rounder(chain)
    for i in range(1, len(chain.length) - 1):
        if chain.is_corner[i - 1] or chain.is_corner[i]:
            yield _bent(chain, i)
    for j in range(len(chain.length) - 1):
        yield merged(chain, j)
    yield from _swept_up(chain)
    for i in range(1, len(chain.length) - 1):
        if chain.length[i] < SHORT_MM and chain.curvature[i] <= 0.0:
            yield _sharpened(chain, i)
    for i in _numbers(chain.is_arc):
        yield replace(chain, is_arc=_set(chain.is_arc, i, False), curvature=_set(chain.curvature, i, 0.0))
    for j in _numbers(chain.is_corner):
        yield replace(chain, is_corner=_set(chain.is_corner, j, False), turn=_set(chain.turn, j, 0.0))
        yield rounded(chain, j)
    for j in _numbers(~chain.is_corner):
        yield replace(chain, is_corner=_set(chain.is_corner, j, True))
    for i in _numbers(~chain.is_arc):
        yield replace(chain, is_arc=_set(chain.is_arc, i, True), curvature=_set(chain.curvature, i, 1e-4))


def _sharpened(chain: FreeChain, i: int) -> FreeChain:
    """Put a corner in place of piece i, as sharp as it and its joints turned."""
    turn = float(chain.turn[i - 1] + chain.turn[i] + chain.length[i] * chain.curvature[i])
    length = chain.length.copy()
    length[i - 1 : i + 2 : 2] += 0.5 * length[i]
    return replace(
        chain, length=np.delete(length, i), curvature=np.delete(chain.curvature, i),
        is_arc=np.delete(chain.is_arc, i), tied=np.delete(chain.tied, i),
        turn=np.delete(_set(chain.turn, i, turn), i - 1), is_corner=np.delete(_set(chain.is_corner, i, True), i - 1),
    )


def _rounder(chain: FreeChain) -> Iterator[FreeChain]:
    """Short convex arcs begun anew with larger radii.

    Between two points a sharp arc moves none of them: least squares that has come so far does not find the way back.
    """
    for i in range(1, len(chain.length) - 1):
        if chain.is_arc[i] and chain.length[i] < SHORT_MM and chain.curvature[i] > 0.0:
            corner = _sharpened(chain, i)
            if corner.turn[i - 1] > 0.0 and corner.is_possible:
                yield from (rounded(corner, i - 1, radius) for radius in OTHER_RADII_MM
                            if radius * chain.curvature[i] > UNLIKE)


def _swept_up(chain: FreeChain) -> Iterator[FreeChain]:
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


def _crowned(chain: FreeChain) -> Iterator[FreeChain]:
    """Crowns as they are drawn: an inner and an outer one, either of them flat, that meet level at the high point."""
    between = _between_edges(chain)
    if between is None:
        return
    before = between.start - 1
    rise = -float(chain.headings[before] + chain.length[before] * chain.curvature[before])
    fall = float(chain.headings[between.stop])
    total = float(chain.length[between].sum())
    if min(total, rise, fall) <= 0.0:
        return
    high = float(np.clip(_level_place(chain, between.start, between.stop), 0.1 * total, 0.9 * total))
    length, curvature = np.array([high, total - high]), np.array([rise / high, fall / (total - high)])
    for arcs in ([True, True], [False, True], [True, False]):
        round_ = np.array(arcs)
        yield _spliced(chain, between, length, curvature * round_, round_, np.array([np.nan, 0.0]))
    yield _spliced(chain, between, np.array([total]), np.zeros(1), np.array([False]), np.zeros(1))


def _between_edges(chain: FreeChain) -> slice | None:
    """Pieces between the sharpest arc inside the high point and the sharpest outside it."""
    ends = chain.headings + chain.length * chain.curvature
    level = np.flatnonzero((chain.headings <= COST_ROUNDING) & (ends >= -COST_ROUNDING) & (chain.curvature >= 0.0))
    if not len(level):
        return None
    lowest = level[np.argmin(np.minimum(chain.joints[level, 1], chain.joints[level + 1, 1]))]
    convex = _numbers(chain.is_arc & (chain.curvature > 0.0))
    inside = [i for i in convex if i < lowest and ends[i] > -STEEP_RAD]
    outside = [i for i in convex if i > lowest and chain.headings[i] < STEEP_RAD]
    if not inside or not outside:
        return None
    first, last = (max(side, key=lambda i: float(chain.curvature[i])) for side in (inside, outside))
    return slice(first + 1, last)


def _level_place(chain: FreeChain, first: int, last: int) -> float:
    """Arc length from the start of piece ``first`` to where the chain is level."""
    for i in range(first, last):
        end = chain.headings[i] + chain.length[i] * chain.curvature[i]
        if end >= 0.0:
            part = -chain.headings[i] / chain.curvature[i] if chain.curvature[i] > 0.0 else 0.5 * chain.length[i]
            return float(chain.length[first:i].sum() + np.clip(part, 0.0, chain.length[i]))
    return float(chain.length[first:last].sum())


def _spliced(chain: FreeChain, out: slice, length: Floats, curvature: Floats, arcs: NDArray, tied: Floats) -> FreeChain:
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


def merged(chain: FreeChain, joint: int) -> FreeChain:
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


def rounded(chain: FreeChain, joint: int, radius: float = FIRST_RADIUS_MM) -> FreeChain:
    """Put an arc of about a radius, mm, tangent on both sides, in place of the corner at a joint.

    It takes over what its neighbours turned where it cuts them short, so that what follows keeps its heading.
    """
    turn = float(chain.turn[joint])
    half = 0.5 * max(abs(turn), 1e-3)
    back = min(radius * np.tan(half), 0.4 * float(chain.length[joint : joint + 2].min()))
    length = chain.length.copy()
    length[joint : joint + 2] -= back
    arc = 2.0 * back * half / np.tan(half)
    turn += back * float(chain.curvature[joint : joint + 2].sum())
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


def _bent(chain: FreeChain, i: int) -> FreeChain:
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
