"""Gauging does not change when the rim is moved, mirrored, measured at other places or in another unit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labrum.meshes.gauges.readings import diameters, dimensions
from labrum.meshes.traces.trace import rim_of_points
from tests import gauge_rims

# Each example is a whole fit; the shrinking of a failure would cost minutes.
FEW = settings(max_examples=5, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
NAMES = ("tangent_45", "arc_apex", "sharp_corner", "at_depth", "largest_curvature", "width_mm",
         "high_point_radius_mm", "bite_radius_mm", "shoulder_radius_mm")


def readings(points: np.ndarray, counts: str = "axis") -> np.ndarray:
    rim = rim_of_points(points, counts).rim
    read = {**diameters(rim), **dimensions(rim)}
    return np.array([read[name] for name in NAMES])


@pytest.fixture(scope="module")
def half() -> np.ndarray:
    return gauge_rims.sampled(gauge_rims.plain_rim(cup_depth_mm=3.0), 1, spacing=0.04)


@pytest.fixture(scope="module")
def read(half: np.ndarray) -> np.ndarray:
    return readings(half)


@pytest.fixture(scope="module")
def whole() -> np.ndarray:
    return gauge_rims.both_halves(gauge_rims.plain_rim(cup_depth_mm=3.0), 1, spacing=0.06)


@FEW
@given(lift=st.floats(-50.0, 50.0))
def test_height_may_count_from_anywhere(lift: float, half: np.ndarray, read: np.ndarray) -> None:
    assert np.allclose(readings(half + np.array([0.0, lift])), read, atol=2e-5)


@FEW
@given(flip=st.booleans(), over=st.booleans())
def test_mirrored_and_turned_over(flip: bool, over: bool, half: np.ndarray, read: np.ndarray) -> None:
    turn = (-1.0 if flip else 1.0, -1.0 if over else 1.0)
    assert np.allclose(readings(half * turn), read, atol=2e-5)


@FEW
@given(seed=st.integers(0, 2**32 - 1))
def test_in_any_order(seed: int, half: np.ndarray, read: np.ndarray) -> None:
    assert np.allclose(readings(np.random.default_rng(seed).permutation(half)), read, atol=2e-4)


@FEW
@given(unit=st.sampled_from([25.4, 1e-3, 10.0]))
def test_in_any_unit(unit: float, half: np.ndarray, read: np.ndarray) -> None:
    assert np.allclose(readings((half / unit) * unit), read, atol=2e-5)


@FEW
@given(axis=st.floats(-30.0, 30.0), tilt=st.floats(-1.0, 1.0), flip=st.booleans())
def test_the_whole_diameter_may_lie_anywhere(axis, tilt, flip, whole) -> None:
    rim = gauge_rims.plain_rim(cup_depth_mm=3.0)
    points = gauge_rims.laid(whole * (-1.0 if flip else 1.0, 1.0), axis, tilt)
    true = {**diameters(rim), **dimensions(rim)}
    off = readings(points, "anywhere") - [true[name] for name in NAMES]
    # Against the rim that was drawn, for the folding is a fit of its own: five standard uncertainties or so.
    assert np.abs(off).max() < 0.12
    assert np.abs(off[[0, 5]]).max() < 0.015


@FEW
@given(spacing=st.floats(0.015, 0.06), phase=st.floats(0.0, 1.0))
def test_wherever_it_is_sampled(spacing: float, phase: float) -> None:
    """Without noise the same arcs come back from any points on them, to the stated half micrometre's order."""
    rim = gauge_rims.plain_rim(cup_depth_mm=3.0)
    points = rim.curve.at(np.arange(0.5 * phase * spacing, rim.curve.length, spacing))
    true = {**diameters(rim), **dimensions(rim)}
    assert np.allclose(readings(points), [true[name] for name in NAMES], atol=2e-4)
