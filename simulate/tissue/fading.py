"""How a property of the tissue fades out over a little way, so that no grid sees a jump."""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats

FADE_MM = 2.0


def smooth_rise(way: Floats) -> Floats:
    """0 where ``way`` is at most 0, 1 where it is at least 1, and 3 t^2 - 2 t^3 between; any shape."""
    t = np.clip(way, 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)
