"""A rim's dimensions as numbers that may be varied freely, each between its own two ends.

What a rim's dimensions allow hangs on one another: a bite may be no larger than the way to the high point lets it. So
the fit moves in ratios: in this box every place is a rim.
"""

from __future__ import annotations

from dataclasses import fields
from math import inf, radians

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.rims.rim import SMALLEST_RADIUS_MM, SQRT2, RimDimensions

NAMES = ("bite_r", "inner_run", "outer_run", "bite", "inner_bend", "outer_bend", "shoulder", "wall", "depth", "lift")
"""Bite point's radius; from there to the high point, and on to the outside, mm; bite and shoulder over the largest that
fit, crowns' curvatures likewise; cup wall, radians; cup depth, and height of the high point, mm."""
BITE_R, INNER_RUN, OUTER_RUN, BITE, INNER_BEND, OUTER_BEND, SHOULDER, WALL, DEPTH, LIFT = range(len(NAMES))
SHARPEST, ROUNDEST = 1e-3, 0.999
LOW = np.array([1.5, 0.05, 0.05, SHARPEST, 0.0, 0.0, SHARPEST, radians(45.01), 0.05, -5.0])
HIGH = np.array([55.0, 24.0, 24.0, ROUNDEST, ROUNDEST, ROUNDEST, ROUNDEST, radians(90.0), 100.0, 5.0])
KEYS = tuple(field.name for field in fields(RimDimensions))
FLATTEST_MM = 1000.0
"""A crown of a larger radius is called flat: over a rim's width its sag is a few micrometres."""


def from_box(x: Floats) -> RimDimensions:
    """Read the dimensions off (10,) box coordinates, in the order of `NAMES`."""
    width = float(x[INNER_RUN] + x[OUTER_RUN])
    largest_bite, largest_shoulder = SQRT2 * float(x[INNER_RUN]), float(x[OUTER_RUN])
    return RimDimensions(
        inner_diameter_mm=2.0 * float(x[BITE_R]),
        width_mm=width,
        high_point=float(x[INNER_RUN]) / width,
        bite_radius_mm=max(float(x[BITE]) * largest_bite, SMALLEST_RADIUS_MM),
        inner_crown_radius_mm=largest_bite / float(x[INNER_BEND]) if x[INNER_BEND] > 0.0 else inf,
        outer_crown_radius_mm=largest_shoulder / float(x[OUTER_BEND]) if x[OUTER_BEND] > 0.0 else inf,
        shoulder_radius_mm=max(float(x[SHOULDER]) * largest_shoulder, SMALLEST_RADIUS_MM),
        cup_wall_angle_deg=float(np.degrees(x[WALL])),
        cup_depth_mm=float(x[DEPTH]),
    )


def into_box(d: RimDimensions, lift: float = 0.0) -> Floats:
    """Give the (10,) box coordinates of dimensions; what lies outside is brought to the edge."""
    inner, outer = d.high_point * d.width_mm, (1.0 - d.high_point) * d.width_mm
    x = np.array([
        0.5 * d.inner_diameter_mm, inner, outer, d.bite_radius_mm / (SQRT2 * inner),
        SQRT2 * inner / d.inner_crown_radius_mm, outer / d.outer_crown_radius_mm, d.shoulder_radius_mm / outer,
        radians(d.cup_wall_angle_deg), d.cup_depth_mm, lift,
    ])  # fmt: skip
    return np.clip(x, LOW, HIGH)


def values_of(d: RimDimensions) -> Floats:
    """Return the nine dimensions in the order of `KEYS`."""
    return np.array([float(getattr(d, key)) for key in KEYS])


def slopes_at(x: Floats, step: float = 1e-6) -> Floats:
    """(9, 10) change of every dimension with every box coordinate, by central differences; 0 for a flat crown."""
    out = np.zeros((len(KEYS), len(x)))
    for k in range(len(x)):
        ahead, behind = x.copy(), x.copy()
        ahead[k], behind[k] = x[k] + step, max(x[k] - step, 0.0 if k in (INNER_BEND, OUTER_BEND) else -inf)
        a, b = values_of(from_box(ahead)), values_of(from_box(behind))
        fine = np.isfinite(a) & np.isfinite(b)
        out[fine, k] = (a[fine] - b[fine]) / (ahead[k] - behind[k])
    return out
