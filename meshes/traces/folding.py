"""One profile out of what was measured on one side of the axis or on both."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.traces.ordering import POST_MM, Ordered, averaged, on_path, ordered
from labrum.meshes.traces.symmetry import Placed

# Posts of a rough path stand this many times the noise, or the halves' difference, apart.
NOISY_POSTS, APART_POSTS = 6.0, 3.0
CELL_MM, FEWEST_IN_CELL = 0.25, 3
# Halves that differ by more than this many times the noise are brought to their mean.
APART_NOISES = 4.0


@dataclass(frozen=True)
class Folded:
    """Points from the cup outwards.

    Parameters
    ----------
    points, side
        (n, 2) as measured, in the rim's frame, and (n,) which half each came from, 1 or -1.
    order
        What to fit: with two halves, points of their mean.
    notes
        How far the halves differ.
    """

    points: Floats
    side: Floats
    order: Ordered
    notes: tuple[str, ...] = ()


def folded(lay: Placed, first: Ordered, noise: float) -> Folded:
    """Bring the points into one order of travel, cup first; two halves become one profile, their mean."""
    if (lay.side > 0).all():
        order = replace(first, points=lay.points, weights=first.weights[lay.source], place=first.place[lay.source])
        order = outwards(order)
        return Folded(order.points, np.ones(len(order.points)), order)
    again = ordered(lay.points, max(POST_MM, NOISY_POSTS * noise, APART_POSTS * lay.misfit))
    points, side, place = lay.points[again.source], lay.side[again.source], again.source_place
    apart, most, where = _difference(again.path, points, side, place)
    note = f"the two halves differ by {most:.3f} mm at most, near r = {where:.2f} mm"
    if most > APART_NOISES * noise:
        mean = points - 0.5 * (side * apart)[:, None] * _left_of(again.path, place)
        few, weights, short = averaged(mean, place)
        again = replace(again, points=few, weights=weights, place=short)
        note += ": their mean is read"
    order = outwards(again)
    if order is not again:
        points, side = points[::-1], side[::-1]
    return Folded(points, side, order, (note,))


def outwards(order: Ordered) -> Ordered:
    """Return the points from the axis outwards."""
    if order.points[0, 0] <= order.points[-1, 0]:
        return order
    end = float(order.place[-1])
    return replace(order, points=order.points[::-1], weights=order.weights[::-1], place=end - order.place[::-1],
                   gaps=end - order.gaps[::-1, ::-1])


def _difference(path: Floats, points: Floats, side: Floats, place: Floats) -> tuple[Floats, float, float]:
    """(n,) offset of the right half from the left one at each point, mm; its greatest, and at what r that is."""
    off = on_path(path, points)[1]
    cell = np.floor(place / CELL_MM).astype(np.int64)
    cell -= cell.min()
    means = []
    for which in (1.0, -1.0):
        here = side == which
        count = np.bincount(cell[here], minlength=cell.max() + 1)
        total = np.bincount(cell[here], weights=off[here], minlength=cell.max() + 1)
        means.append(np.where(count >= FEWEST_IN_CELL, total / np.maximum(count, 1), np.nan))
    apart = means[0] - means[1]
    known = np.isfinite(apart)
    if not known.any():
        return np.zeros(len(points)), 0.0, float(points[0, 0])
    k = int(np.nanargmax(np.abs(apart)))
    middle = (np.flatnonzero(known) + 0.5) * CELL_MM + CELL_MM * np.floor(place.min() / CELL_MM)
    return (np.interp(place, middle, apart[known]), float(abs(apart[k])), float(points[cell == k, 0].mean()))


def _left_of(path: Floats, place: Floats) -> Floats:
    """(n, 2) unit normals to the left of a polyline at (n,) arc lengths."""
    step = np.diff(path, axis=0)
    ends = np.cumsum(np.hypot(*step.T))
    k = np.clip(np.searchsorted(ends, place), 0, len(step) - 1)
    return step[k][:, ::-1] * (-1.0, 1.0) / np.hypot(*step[k].T)[:, None]
