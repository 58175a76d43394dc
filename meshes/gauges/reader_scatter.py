"""How far people with callipers scatter on one rim: each aims at the bite and errs in depth and angle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.gauges.readings import edge_ends
from labrum.meshes.rims.rim import Rim

# Assumed errors of aim (common practice, no source): one standard deviation.
ANGLE_DEG, DEPTH_ERROR_MM = 10.0, 0.03
READERS = 1000
STEPS = 2000
# So far up the cup wall an error of depth may carry.
WALL_MM = 2.0


@dataclass(frozen=True)
class Aim:
    """How people aim: standard deviations of the angle at which the jaw meets the edge and of its depth."""

    angle_deg: float = ANGLE_DEG
    depth_mm: float = DEPTH_ERROR_MM
    readers: int = READERS
    seed: int = 0


@dataclass(frozen=True)
class Scatter:
    """Inner diameters that ``readings`` (n,) people read, mm, under a stated aim."""

    readings: Floats
    aim: Aim

    @property
    def mean(self) -> float:
        """Their mean, mm."""
        return float(self.readings.mean())

    @property
    def deviation(self) -> float:
        """Their standard deviation, mm."""
        return float(self.readings.std(ddof=1))

    @property
    def middle_95(self) -> tuple[float, float]:
        """Interval that holds the middle 95 % of them, mm."""
        low, high = np.percentile(self.readings, [2.5, 97.5])
        return float(low), float(high)


def readers_scatter(rim: Rim, aim: Aim | None = None) -> Scatter:
    """Simulate people who read the inner diameter with callipers.

    Notes
    -----
    Each takes for "the bite" the place where the inner edge's tangent stands at 45 degrees give or take an
    error of angle (where no tangent does, the nearest end of the edge), and sets the jaw there give or take an
    error of depth along the profile's height. So on a sharp edge the angle hardly matters, and on a round one
    the place wanders by its radius times the error (common practice: the rounder the bite, the less two
    readers agree; no source).
    """
    how = aim or Aim()
    rng = np.random.default_rng(how.seed)
    angle = np.radians(45.0 + how.angle_deg * rng.standard_normal(how.readers))
    depth = how.depth_mm * rng.standard_normal(how.readers)
    along, r, s, steepness = _inner_side(rim)
    first, last = edge_ends(rim)
    edge = (along >= first - 1e-9) & (along <= last + 1e-9)
    # From the high point inwards the edge only gets steeper: the first place that is as steep as the aim.
    at = np.searchsorted(np.maximum.accumulate(steepness[edge]), angle)
    aimed = s[edge][np.clip(at, 0, edge.sum() - 1)]
    return Scatter(2.0 * np.interp(aimed + depth, s, r), how)


def _inner_side(rim: Rim) -> tuple[Floats, Floats, Floats, Floats]:
    """(k,) arc length, r, s and steepness (radians from the rim plane) from the high point into the cup."""
    curve = rim.curve
    top = float(curve.nearest(np.array([[rim.high_point_radius, 0.0]])).arc_length[0])
    first, last = edge_ends(rim)
    along = np.concatenate([np.linspace(top, last, STEPS), np.linspace(last, first, STEPS)[1:],
                            np.linspace(first, max(first - WALL_MM, 0.0), STEPS)[1:]])
    place, tangent = curve.at(along), curve.tangent_at(along)
    rising = np.maximum.accumulate(place[:, 1])
    keep = np.append(True, np.diff(rising) > 0)
    steep = np.arctan2(-tangent[:, 1], tangent[:, 0])
    return along[keep], place[keep, 0], rising[keep], steep[keep]
