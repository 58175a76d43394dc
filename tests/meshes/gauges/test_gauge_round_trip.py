"""Rims drawn, sampled at 0.02 mm with 5 micrometre noise, and gauged: how far the readings come back."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.meshes.gauges.gauge import gauged
from labrum.meshes.gauges.readings import diameters, dimensions
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions
from labrum.meshes.traces.trace import rim_of_points
from tests import gauge_rims

# Dimensions that 5 micrometre noise leaves known to better than 0.02 mm by three standard deviations or more.
SHARP = ("tangent_45", "at_depth", "width_mm", "outer_diameter_mm")


def trip(seed: int, draws: int) -> dict[str, tuple[float, float, float]]:
    """Error, stated standard uncertainty and true value of every reading of one random rim."""
    rim = gauge_rims.random_rim(seed)
    found = gauged(rim_of_points(gauge_rims.sampled(rim, seed)), draws=draws)
    same = rim_from_outline(rim.curve.vertices)  # a flat high point is then read in its middle, as in a trace
    true = {**diameters(same), **dimensions(same)}
    return {r.name: (r.value - true[r.name], r.uncertainty, true[r.name])
            for r in (*found.diameters, *found.dimensions) if np.isfinite(true[r.name])}


def columns(trips: list[dict[str, tuple[float, float, float]]], name: str) -> np.ndarray:
    return np.array([t[name] for t in trips if name in t]).T


@pytest.fixture(scope="module")
def a_dozen() -> list[dict[str, tuple[float, float, float]]]:
    return [trip(seed, draws=40) for seed in range(12)]


@pytest.mark.parametrize("name", SHARP)
def test_a_dozen_rims_come_back_within_two_hundredths(name: str, a_dozen) -> None:
    assert np.abs(columns(a_dozen, name)[0]).max() < 0.02


def test_a_dozen_bite_radii_come_back_within_what_is_stated(a_dozen) -> None:
    error, doubt, true = columns(a_dozen, "bite_radius_mm")
    assert (np.abs(error) < 4 * doubt).all()
    assert np.median(np.abs(error) / true) < 0.05


@pytest.mark.slow
def test_two_hundred_rims_have_small_errors_as_large_as_stated() -> None:
    trips = [trip(seed, draws=100) for seed in range(200)]
    for name in SHARP:
        error, doubt, _ = columns(trips, name)
        assert np.abs(error).max() < 0.04, name
        assert (np.abs(error) < 0.02).mean() > 0.98, name
        assert abs(error.mean()) < 0.001, name
        assert 0.85 < np.std(error / doubt) < 1.25, name
    for name in ("high_point_radius_mm", "bite_radius_mm", "inner_crown_radius_mm", "shoulder_radius_mm"):
        error, doubt, _ = columns(trips, name)
        told = np.isfinite(error) & np.isfinite(doubt)  # a crown taken for flat has no radius to be wrong by
        assert told.mean() > 0.95, name
        assert 0.8 < np.std(error[told] / doubt[told]) < 1.3, name
    error, _, true = columns(trips, "bite_radius_mm")
    assert (np.abs(error / true) < 0.1).mean() > 0.9


def bound(d: RimDimensions, points: np.ndarray, noise: float) -> np.ndarray:
    """Cramer-Rao bound: least standard deviations of the nine dimensions, whatever the estimator.

    From difference quotients of exact distances with respect to the dimensions that draw the rim, which shares
    nothing with the fit but the distance (Kay 1993, Fundamentals of Statistical Signal Processing, section 3.7).
    """
    x = np.array([*(getattr(d, f) for f in d.__dataclass_fields__), 0.0])

    def distances(y: np.ndarray) -> np.ndarray:
        curve = rim_from_dimensions(RimDimensions(*y[:9])).curve
        return curve.translated(0.0, y[9]).nearest(points).distance

    j = np.array([(distances(x + h) - distances(x - h)) / 2e-4 for h in 1e-4 * np.eye(10)]).T
    return noise * np.sqrt(np.diag(np.linalg.inv(j.T @ j)))


def test_stated_uncertainty_is_the_least_there_can_be() -> None:
    rim = gauge_rims.plain_rim()
    clean = rim.curve.at(np.arange(0.01, rim.curve.length, gauge_rims.SPACING_MM))
    least = dict(zip(RimDimensions.__dataclass_fields__, bound(gauge_rims.PLAIN, clean, gauge_rims.NOISE_MM),
                     strict=False))
    found = gauged(rim_of_points(gauge_rims.sampled(rim, 3)), draws=400)
    for name, reading in {"inner_diameter_mm": "tangent_45", "width_mm": "width_mm", "bite_radius_mm": "bite_radius_mm",
                          "inner_crown_radius_mm": "inner_crown_radius_mm",
                          "shoulder_radius_mm": "shoulder_radius_mm"}.items():
        assert found.reading(reading).uncertainty == pytest.approx(least[name], rel=0.2), name
