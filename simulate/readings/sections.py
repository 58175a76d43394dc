"""Volumes of revolution of parts of the deformed section, cut by the bite plane and the bite's cylinder."""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats


def clipped(polygon: Floats, axis: int, limit: float, keep_above: bool) -> Floats:
    """The part of a closed polygon (k, 2) on one side of a line along a coordinate axis (Sutherland & Hodgman
    1974).

    A part in several pieces comes back joined by edges along the line; they enclose nothing, so volumes are right.
    """
    sign = 1.0 if keep_above else -1.0
    side = sign * (polygon[:, axis] - limit)
    after, side_after = np.roll(polygon, -1, axis=0), np.roll(side, -1)
    out: list[Floats] = []
    for here, there, a, b in zip(polygon, after, side, side_after, strict=True):
        if a >= 0.0:
            out.append(here)
        if (a > 0.0 > b) or (a < 0.0 < b):
            out.append(here + (there - here) * (a / (a - b)))
    return np.array(out) if len(out) > 2 else np.zeros((0, 2))


def volume_of_revolution(polygon: Floats) -> float:
    """Volume, mm3, swept by a closed polygon (k, 2) in (r, z) around the axis: 2 pi times the integral of r dA.

    By Green's theorem it is pi times the closed integral of r^2 dz, exact on straight edges, positive
    anticlockwise.
    """
    if len(polygon) < 3:
        return 0.0
    r, z = polygon.T
    r1, z1 = np.roll(r, -1), np.roll(z, -1)
    return float(np.pi * np.sum((r * r + r * r1 + r1 * r1) / 3.0 * (z1 - z)))


def past_plane(boundary: Floats, radius: float, height: float) -> float:
    """Volume, mm3, of the body with this boundary that lies inside ``radius`` and above ``height``."""
    inside = clipped(boundary, 0, radius, keep_above=False)
    if len(inside) == 0:
        return 0.0
    return abs(volume_of_revolution(clipped(inside, 1, height, keep_above=True)))
