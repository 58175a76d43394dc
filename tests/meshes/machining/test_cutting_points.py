"""Points for the lathe: on the curve, close enough together, in the unit asked for."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.meshes.curves.curve import Curve
from labrum.meshes.machining.lathe_view import (
    MM_PER_INCH,
    UNITS,
    Unit,
    joints,
    points_on,
    rim_part,
    rounding_mm,
    scaled,
    to_lathe,
)
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions

DEMO = RimDimensions(16.5, 5.2, 0.45, 0.6, 6.0, 8.0, 1.8, 60.0, 10.0)


@pytest.fixture
def outline() -> Curve:
    return to_lathe(rim_from_dimensions(DEMO).curve)


def brute_distance(places: np.ndarray, curve: Curve) -> np.ndarray:
    """Distance to a very fine polyline: independent of the curve's own distances."""
    fine = curve.at(np.linspace(0.0, curve.length, 40_001))
    return np.array([np.hypot(*(fine - p).T).min() for p in places])


def test_lathe_axes_are_a_quarter_turn(outline: Curve) -> None:
    rim = rim_from_dimensions(DEMO)
    np.testing.assert_allclose(outline.start[:, 0], -rim.curve.start[:, 1], atol=1e-15)
    np.testing.assert_allclose(outline.start[:, 1], rim.curve.start[:, 0], atol=1e-15)
    np.testing.assert_allclose(outline.radius, rim.curve.radius, rtol=1e-12)
    # The high point is Z = 0, and no metal stands before it.
    assert np.abs(outline.sample(1e-4)[:, 0].max()) < 1e-12
    # Metal on the left: just beyond the high point, towards +Z, is free.
    assert outline.nearest([(0.1, rim.high_point_radius)]).distance[0] == pytest.approx(0.1, abs=1e-9)


@pytest.mark.parametrize("unit", ["mm", "inch"])
@pytest.mark.parametrize("tolerance", [0.001, 0.01, 0.1])
def test_points_keep_to_the_tolerance_both_ways(outline: Curve, tolerance: float, unit: str) -> None:
    points = points_on(outline, tolerance, UNITS[unit])
    assert points.stray_mm <= tolerance
    assert brute_distance(points.places, outline).max() < rounding_mm(UNITS[unit]) + 0.0005
    # And the other way: no place of the curve is farther than the tolerance from the chords.
    chords = Curve.from_vertices(np.column_stack([points.places, np.zeros(len(points.places))]))
    assert np.abs(chords.nearest(outline.sample(1e-6)).distance).max() <= tolerance


def test_every_joint_is_a_point_and_rounded_as_written(outline: Curve) -> None:
    points = points_on(outline, 0.005, UNITS["inch"])
    inches = points.places / MM_PER_INCH
    np.testing.assert_allclose(inches, np.round(inches, 5), atol=1e-12)
    for joint in outline.vertices[:, :2]:
        assert np.hypot(*(points.places - joint).T).min() <= rounding_mm(UNITS["inch"])
    assert points.piece.tolist() == sorted(points.piece.tolist())
    assert points.piece[-1] == len(outline.bulge) - 1


def test_a_hundredth_of_the_tolerance_takes_ten_times_the_points(outline: Curve) -> None:
    """Sagitta of a chord c on a circle of radius R is c^2 / 8R, so the number of points grows as tolerance^-1/2."""
    fine = Unit("mm", 1.0, 9)
    counts = [len(points_on(outline, t, fine).places) - len(outline.bulge) for t in (1e-4, 1e-6)]
    assert counts[1] / counts[0] == pytest.approx(10.0, rel=0.05)


def test_a_tolerance_within_the_rounding_is_refused(outline: Curve) -> None:
    with pytest.raises(ValueError, match=r"chord tolerance: got 0\.0001 mm"):
        points_on(outline, 1e-4, UNITS["inch"])


def test_inches_are_millimetres_over_25_4(outline: Curve) -> None:
    inch = scaled(outline, UNITS["inch"])
    assert inch.length * 25.4 == pytest.approx(outline.length, rel=1e-14)
    np.testing.assert_allclose(inch.bulge, outline.bulge)


def test_the_rim_alone_begins_where_the_cup_wall_ends() -> None:
    rim = rim_from_dimensions(DEMO)
    part = rim_part(rim, "rim")
    assert part.length == pytest.approx(rim.curve.length - rim.cup_end, rel=1e-12)
    assert tuple(part.start[0]) == tuple(rim.curve.at(rim.cup_end)[0])
    assert rim_part(rim, "whole") is rim.curve


def test_joints_of_a_hand_drawn_ring() -> None:
    """Half a circle of radius 2.5 about (r, s) = (10.75, 2.5) between two straight sides, drawn by hand."""
    ring = rim_from_outline([[8.25, 6.0, 0.0], [8.25, 2.5, 1.0], [13.25, 2.5, 0.0], [13.25, 6.0, 0.0]])
    first, half, last = joints(to_lathe(ring.curve))
    assert first.angle_deg == pytest.approx(90.0)
    assert half.centre == pytest.approx((-2.5, 10.75), abs=1e-12)
    assert (half.radius, half.convex) == (pytest.approx(2.5), True)
    assert half.end == pytest.approx((-2.5, 13.25), abs=1e-12)
    assert np.isinf(last.radius)
    assert last.number == 3
