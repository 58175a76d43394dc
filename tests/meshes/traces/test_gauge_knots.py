"""The cheapest division against every division there is."""

from __future__ import annotations

from itertools import combinations
from math import log

import numpy as np

from labrum.meshes.traces.runs import RunningSums
from labrum.meshes.traces.segmentation import ARC_COST, FEWEST_IN_PIECE, LINE_COST, divide
from tests import gauge_rims


def cost(points: np.ndarray, cuts: tuple[int, ...], noise: float) -> float:
    ends = np.array([0, *cuts, len(points)])
    _, line, circle = RunningSums.of(points, np.ones(len(points))).squared_errors(ends[:-1], ends[1:])
    dear = log(len(points))
    return float(np.minimum(line / noise**2 + LINE_COST * dear, circle / noise**2 + ARC_COST * dear).sum())


def test_no_division_is_cheaper() -> None:
    rng = np.random.default_rng(5)
    t = np.linspace(0.0, 1.0, 12)
    points = np.vstack([np.column_stack([t, 0 * t]), np.column_stack([1 + np.sin(t), 1 - np.cos(t)]),
                        np.column_stack([1.9 + 0.2 * t, 0.5 + t])]) + 0.004 * rng.standard_normal((36, 2))
    runs = divide(points, np.ones(36), 0.004)
    found = cost(points, tuple(r.first for r in runs[1:]), 0.004)
    places = range(2, 36, 2)
    every = [c for k in range(5) for c in combinations(places, k)
             if (np.diff([0, *c, 36]) >= FEWEST_IN_PIECE).all()]
    assert len(every) > 150
    assert found <= min(cost(points, c, 0.004) for c in every) + 1e-9


def test_runs_follow_each_other_and_find_the_joints() -> None:
    rim = gauge_rims.plain_rim()
    points = gauge_rims.sampled(rim)
    runs = divide(points, np.ones(len(points)), gauge_rims.NOISE_MM)
    assert [r.first for r in runs[1:]] == [r.last for r in runs[:-1]]
    assert (runs[0].first, runs[-1].last) == (0, len(points))
    knots = gauge_rims.SPACING_MM * np.array([r.first for r in runs])
    # Cup floor to wall is a corner and the crown to the outside turns fast: those knots are sharply known.
    for joint in (rim.curve.offset[1], rim.curve.offset[5]):
        assert np.abs(knots - joint).min() < 0.25
