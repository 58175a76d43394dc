"""Fits of lines and circles against direct solutions, and freedom from bias against known bias."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from labrum.meshes.traces.runs import RunningSums, hyper_circle
from labrum.meshes.traces.segmentation import noise_of
from tests import gauge_rims


def arc(radius: float, sweep: float, n: int, noise: float, rng: np.random.Generator) -> np.ndarray:
    t = np.linspace(-0.5 * sweep, 0.5 * sweep, n)
    return radius * np.column_stack([np.sin(t), np.cos(t)]) + (7.0, -3.0) + noise * rng.standard_normal((n, 2))


def geometric_error(points: np.ndarray) -> float:
    def off(x: np.ndarray) -> np.ndarray:
        return np.hypot(*(points - x[:2]).T) - x[2]

    x, y, r = hyper_circle(points, np.ones(len(points)))
    return float(2 * least_squares(off, [x, y, r], xtol=1e-12, ftol=1e-12).cost)


@pytest.mark.parametrize(("radius", "sweep", "n"), [(0.3, 0.7, 12), (0.6, 1.5, 40), (8.0, 0.2, 90), (300.0, 0.01, 150)])
def test_running_sums_give_the_errors_of_direct_fits(radius: float, sweep: float, n: int) -> None:
    rng = np.random.default_rng(1)
    points = np.vstack([rng.normal(size=(30, 2)) * 9.0, arc(radius, sweep, n, 0.005, rng), rng.normal(size=(20, 2))])
    weight, line, circle = RunningSums.of(points, np.ones(len(points))).squared_errors(
        np.array([30]), np.array([30 + n]))
    here = points[30 : 30 + n]
    assert weight == n
    # The best line's squared error is the least singular value's square: total least squares.
    assert line[0] == pytest.approx(np.linalg.svd(here - here.mean(axis=0))[1][1] ** 2, rel=1e-6)
    assert circle[0] == pytest.approx(geometric_error(here), rel=0.02)


def test_weights_count_points() -> None:
    rng = np.random.default_rng(2)
    points = arc(2.0, 1.0, 20, 0.01, rng)
    twice = RunningSums.of(np.repeat(points, 2, axis=0), np.ones(40)).squared_errors(np.array([0]), np.array([40]))
    heavy = RunningSums.of(points, np.full(20, 2.0)).squared_errors(np.array([0]), np.array([20]))
    assert np.allclose(twice, heavy, rtol=1e-9)


def test_the_circle_fit_is_free_of_the_bias_of_the_plain_one() -> None:
    # Kasa's fit (linear least squares) of short noisy arcs comes out too small; Hyper's does not.
    rng = np.random.default_rng(3)
    hyper, kasa = [], []
    for _ in range(1500):
        p = arc(1.0, 1.0, 40, 0.02, rng)
        hyper.append(hyper_circle(p, np.ones(40))[2])
        a = np.linalg.lstsq(np.column_stack([2 * p, np.ones(40)]), (p**2).sum(axis=1), rcond=None)[0]
        kasa.append(np.sqrt(a[2] + a[0] ** 2 + a[1] ** 2))
    doubt = np.std(hyper) / np.sqrt(1500)
    assert abs(np.mean(hyper) - 1.0) < 5 * doubt
    assert np.mean(kasa) < 1.0 - 10 * doubt


def test_points_on_a_line_have_no_radius() -> None:
    t = np.linspace(0.0, 1.0, 10)
    assert hyper_circle(np.column_stack([t, 2 * t]), np.ones(10))[2] > 1e5


@pytest.mark.parametrize("noise", [0.001, 0.005, 0.02])
def test_noise_is_told_whatever_the_shape(noise: float) -> None:
    points = gauge_rims.sampled(gauge_rims.plain_rim(), 4, noise)
    assert noise_of(points, np.ones(len(points))) == pytest.approx(noise, rel=0.1)
