"""A smooth curve through values at knots that overshoots none of them."""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats


def monotone(knots: Floats, values: Floats, places: Floats) -> Floats:
    """Interpolate without overshoot, with a continuous slope (Fritsch and Butland 1984; from memory).

    It is scipy's `PchipInterpolator` but for the slope at both ends, which is that of the outermost chord; a test
    compares them. Written out because to load that library takes as long as a solve.
    """
    step = np.diff(knots)
    chord = np.diff(values) / step
    slope = np.concatenate([chord[:1], np.zeros(len(knots) - 2), chord[-1:]])
    up = chord[:-1] * chord[1:] > 0.0
    one, other = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # a slope next to none is none
        slope[1:-1] = np.where(up, (one + other) / (one / chord[:-1] + other / chord[1:]), 0.0)
    k = np.clip(np.searchsorted(knots, places, side="right") - 1, 0, len(step) - 1)
    t, h = (places - knots[k]) / step[k], step[k]
    rise = (3.0 - 2.0 * t) * t * t
    ends = (1.0 - rise) * values[k] + rise * values[k + 1]
    return np.asarray(ends + h * t * (1.0 - t) * ((1.0 - t) * slope[k] - t * slope[k + 1]))
