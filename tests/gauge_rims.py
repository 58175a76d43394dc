"""Invented rims to be sampled, spoilt with noise and gauged."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.faults import GeometryError
from labrum.meshes.rims.rim import Rim, RimDimensions, rim_from_dimensions

SPACING_MM, NOISE_MM = 0.02, 0.005
PLAIN = RimDimensions(16.5, 5.2, 0.45, 0.6, 6.0, 8.0, 1.8, 62.0, 9.0)


def random_rim(seed: int) -> Rim:
    """A rim of invented dimensions whose every piece is long enough to be told from its neighbours.

    The bite turns by half a radian or more and each crown is 0.7 mm long or more: a shorter arc is known worse
    than its radius to any reader of 5 micrometre noise (the Cramer-Rao bound says so). One in ten crowns is flat.
    """
    rng = np.random.default_rng(seed)
    while True:
        flat_in, flat_out = rng.random(2) < 0.1
        d = RimDimensions(
            inner_diameter_mm=rng.uniform(15.0, 32.0), width_mm=rng.uniform(4.0, 8.0),
            high_point=rng.uniform(0.35, 0.55), bite_radius_mm=rng.uniform(0.3, 1.0),
            inner_crown_radius_mm=inf if flat_in else rng.uniform(4.0, 12.0),
            outer_crown_radius_mm=inf if flat_out else rng.uniform(5.0, 15.0),
            shoulder_radius_mm=rng.uniform(1.0, 2.5), cup_wall_angle_deg=rng.uniform(55.0, 85.0),
            cup_depth_mm=rng.uniform(6.0, 14.0))
        try:
            rim = rim_from_dimensions(d)
        except GeometryError:
            continue
        k = int(rim.curve.piece_at(rim.cup_end + 1e-6)[0])
        if rim.curve.sweep[k] > 0.5 and rim.curve.piece_length[k + 1 : k + 3].min() > 0.7:
            return rim


def sampled(rim: Rim, seed: int = 0, noise: float = NOISE_MM, spacing: float = SPACING_MM) -> Floats:
    """(n, 2) points along the outline with independent normal noise in r and s."""
    along = np.arange(0.5 * spacing, rim.curve.length, spacing)
    points = rim.curve.at(along)
    return points + noise * np.random.default_rng(10_000 + seed).standard_normal(points.shape)


def both_halves(rim: Rim, seed: int = 0, noise: float = NOISE_MM, spacing: float = SPACING_MM) -> Floats:
    """(n, 2) points across the whole diameter, from left to right."""
    right = sampled(rim, seed, noise, spacing)
    left = sampled(rim, seed + 5000, noise, spacing) * (-1.0, 1.0)
    return np.vstack([left[::-1], right])


def laid(points: Floats, axis: float, tilt_deg: float, lift: float = 0.0) -> Floats:
    """The same points with the axis at ``axis`` (where the high points' level crosses it), leaning."""
    t = np.radians(tilt_deg)
    turn = np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
    return points @ turn + (axis, lift)


def plain_rim(**changes: float) -> Rim:
    """The plain rim with some of its dimensions changed."""
    return rim_from_dimensions(replace(PLAIN, **changes))
