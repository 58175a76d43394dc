"""Volumes of revolution of parts of the deformed section, cut by the bite plane and the bite's cylinder."""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.polygons import half_plane


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
    inside = half_plane(boundary, 0, radius, above=False)
    return abs(volume_of_revolution(half_plane(inside, 1, height, above=True)))
