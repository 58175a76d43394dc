"""Closed polygons: cut by a line along an axis, and the area they enclose."""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats


def half_plane(polygon: Floats, axis: int, limit: float, above: bool) -> Floats:
    """Cut a polygon by a line along an axis and keep one side (Sutherland & Hodgman 1974, from memory).

    Parameters
    ----------
    polygon
        (k, 2) vertices; may be empty.
    axis
        0 cuts at r = limit, 1 at z = limit.
    limit
        Where to cut, mm.
    above
        Keep the side where the coordinate exceeds the limit; else the other.

    Returns
    -------
    (m, 2)
        The part kept. Pieces of a cut polygon stay joined along the cut, where they enclose no area.
    """
    if not len(polygon):
        return polygon
    side = (polygon[:, axis] - limit) * (1.0 if above else -1.0)
    after, side_after = np.roll(polygon, -1, axis=0), np.roll(side, -1)
    kept: list[Floats] = []
    for here, there, a, b in zip(polygon, after, side, side_after, strict=True):
        if a >= 0.0:
            kept.append(here)
        if (a > 0.0 > b) or (a < 0.0 < b):
            kept.append(here + (there - here) * (a / (a - b)))
    return np.array(kept).reshape(-1, 2)


def enclosed(polygon: Floats) -> float:
    """Area of an anticlockwise polygon (k, 2), mm2."""
    r, z = polygon.T
    return float(0.5 * np.sum(r * np.roll(z, -1) - np.roll(r, -1) * z))
