"""The path of the tool nose: against hand-worked offsets and a brute search over places for the nose."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from labrum.meshes.curves.curve import Curve
from labrum.meshes.faults import GeometryError
from labrum.meshes.machining.lathe_view import UNITS, points_on, to_lathe
from labrum.meshes.machining.tool_path import TOOL_POINTS, distance_to, gouge, moved_to, tool_path
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions

DEMO = RimDimensions(16.5, 5.2, 0.45, 0.6, 6.0, 8.0, 1.8, 60.0, 10.0)


def outline(*rows: tuple[float, float, float]) -> Curve:
    return Curve.from_vertices(rows)


def rim_outline(**changes: float) -> Curve:
    return to_lathe(rim_from_dimensions(RimDimensions(**{**DEMO.__dict__, **changes})).curve)


def test_round_a_convex_arc_the_nose_runs_on_a_larger_circle() -> None:
    """A ball of radius 2.5: the centre of a nose of 0.4 runs on a radius of 2.9 about the same centre."""
    ring = outline((-6.0, 8.25, 0.0), (-2.5, 8.25, 1.0), (-2.5, 13.25, 0.0), (-6.0, 13.25, 0.0))
    path = tool_path(ring, 0.4, 1e-4)
    assert path.left == ()
    np.testing.assert_allclose(path.centre.radius[1], 2.9, rtol=1e-12)
    np.testing.assert_allclose(path.centre.centre[1], (-2.5, 10.75), atol=1e-12)
    np.testing.assert_allclose(path.centre.start[0], (-6.0, 7.85), atol=1e-12)
    np.testing.assert_allclose(path.centre.end[-1], (-6.0, 13.65), atol=1e-12)


def test_every_arc_of_the_demo_keeps_its_centre_and_grows_by_the_nose() -> None:
    whole = rim_outline()
    path = tool_path(whole, 0.4, 1e-4)
    arcs, theirs = np.flatnonzero(path.centre.is_arc), np.flatnonzero(whole.is_arc)
    np.testing.assert_allclose(path.centre.radius[arcs], whole.radius[theirs] + 0.4, rtol=1e-9)
    np.testing.assert_allclose(path.centre.centre[arcs], whole.centre[theirs], atol=1e-8)


@pytest.mark.parametrize("nose", [0.1, 0.4, 1.2])
@pytest.mark.parametrize("turn_deg", [20.0, 60.0, 90.0, 130.0])
def test_metal_left_in_a_sharp_hollow_corner(nose: float, turn_deg: float) -> None:
    """The nose touches both walls from rho / cos(turn / 2) off the corner: it leaves rho (1 / cos - 1)."""
    turn = radians(turn_deg)
    corner = outline((0.0, 5.0, 0.0), (0.0, 15.0, 0.0), (10.0 * sin(turn), 15.0 + 10.0 * cos(turn), 0.0))
    (left,) = tool_path(corner, nose, 1e-5).left
    assert left.worst == pytest.approx((0.0, 15.0), abs=1e-9)
    assert left.left_mm == pytest.approx(nose * (1.0 / cos(0.5 * turn) - 1.0), rel=1e-9)
    # Where contact ends on the first wall: rho tan(turn / 2) before the corner, within a probe's step.
    assert left.start[1] == pytest.approx(15.0 - nose * tan(0.5 * turn), abs=0.02)


@pytest.mark.parametrize(("hollow", "nose"), [(0.2, 0.5), (0.05, 0.4), (0.39, 0.4)])
def test_metal_left_in_a_hollow_tighter_than_the_nose(hollow: float, nose: float) -> None:
    """In a right angle rounded by R < rho the two circles' bottoms stand (rho - R) (sqrt 2 - 1) apart."""
    quarter = -tan(pi / 8.0)
    corner = outline((0.0, 1.0, 0.0), (0.0, 5.0 - hollow, quarter), (hollow, 5.0, 0.0), (5.0, 5.0, 0.0))
    (left,) = tool_path(corner, nose, 1e-5).left
    assert left.left_mm == pytest.approx((nose - hollow) * (sqrt(2.0) - 1.0), abs=1e-6)
    middle = hollow * (1.0 - sqrt(0.5))
    assert left.worst == pytest.approx((middle, 5.0 - middle), abs=0.01)


def test_a_hollow_as_wide_as_the_nose_is_reached() -> None:
    quarter = -tan(pi / 8.0)
    corner = outline((0.0, 1.0, 0.0), (0.0, 4.5, quarter), (0.5, 5.0, 0.0), (5.0, 5.0, 0.0))
    assert tool_path(corner, 0.5, 1e-6).left == ()
    assert tool_path(corner, 0.45, 1e-6).left == ()


def test_a_slot_too_narrow_is_passed_over_and_told() -> None:
    slot = outline((0, 1, 0), (0, 5, 0), (-3, 5, 0), (-3, 5.6, 0), (0, 5.6, 0), (0, 9, 0))
    path = tool_path(slot, 0.5, 1e-4)
    # The nose hangs on the slot's two edges: sqrt(0.5^2 - 0.3^2) = 0.4 above them, half way between.
    assert distance_to(path.centre, np.array([(0.4, 5.3)]))[0] < 1e-9
    (left,) = path.left
    # The floor's corners are hypot(3.4, 0.3) from the nose's centre.
    assert left.left_mm == pytest.approx(hypot(3.4, 0.3) - 0.5, abs=1e-6)


def test_a_pocket_with_a_narrow_neck_is_not_entered() -> None:
    pocket = outline((0, 1, 0), (0, 5, 0), (-1, 5, 0), (-1, 3, 0), (-4, 3, 0), (-4, 8, 0), (-1, 8, 0),
                     (-1, 5.6, 0), (0, 5.6, 0), (0, 9, 0))
    path = tool_path(pocket, 0.5, 1e-4)
    assert path.centre.sample(1e-3)[:, 0].min() > 0.39
    assert path.left


@pytest.mark.parametrize("turn", [1e-9, 1e-7, 1e-5, 4e-5, 1e-4, 1e-3])
@pytest.mark.parametrize("way", [1.0, -1.0])
def test_joints_that_are_all_but_smooth(turn: float, way: float) -> None:
    bend = outline((0.0, 1.0, 0.0), (0.0, 5.0, 0.0), (way * 5.0 * sin(turn), 5.0 + 5.0 * cos(turn), 0.0))
    path = tool_path(bend, 0.4, 1e-6)
    assert path.left == ()
    assert gouge(path.centre.sample(1e-6), bend, 0.4) < 1e-6


def test_a_pointed_cup_stops_the_nose_on_the_axis() -> None:
    """A cone of 60 degrees from the rim plane: the nose stops rho / cos 60 before the apex, rho past it left."""
    cone = rim_outline(cup_depth_mm=40.0)
    path = tool_path(cone, 0.5, 1e-4)
    assert path.centre.start[0] == pytest.approx((cone.start[0, 0] + 1.0, 0.0), abs=1e-9)
    assert path.left[0].left_mm == pytest.approx(0.5, abs=1e-9)
    assert path.left[0].worst == pytest.approx(tuple(cone.start[0]), abs=1e-12)


def test_a_nose_with_no_way_through_is_refused() -> None:
    slot = outline((0, 5, 0), (-3, 5, 0), (-3, 6, 0), (0, 6, 0))
    assert tool_path(slot, 0.4, 1e-4).left
    with pytest.raises(GeometryError, match=r"nose radius: got 0\.6 mm"):
        tool_path(slot, 0.6, 1e-4)


@pytest.mark.parametrize(("name", "towards"), [("centre", (0, 0)), ("outside", (-1, -1)), ("boring", (-1, 1))])
def test_the_imaginary_tip_lies_one_radius_off_each_way(name: str, towards: tuple[int, int]) -> None:
    path = tool_path(rim_outline(), 0.4, 1e-4)
    tip = moved_to(TOOL_POINTS[name], path.centre, 0.4)
    shift = np.tile(0.4 * np.array(towards), (len(tip.start), 1))
    np.testing.assert_allclose(tip.start - path.centre.start, shift, atol=1e-12)
    np.testing.assert_allclose(tip.radius, path.centre.radius, rtol=1e-9)


def test_the_outside_tip_stands_on_a_face_and_on_a_cylinder() -> None:
    """On faces its Z, on cylinders its X is the work's own: what the imaginary tip is for."""
    step = outline((0.0, 2.0, 0.0), (0.0, 5.0, 0.0), (-4.0, 5.0, 0.0))
    tip = moved_to(TOOL_POINTS["outside"], tool_path(step, 0.4, 1e-4).centre, 0.4)
    assert tip.start[0, 0] == pytest.approx(0.0, abs=1e-12)
    assert tip.end[-1, 1] == pytest.approx(5.0, abs=1e-12)


def test_the_gouge_check_sees_a_path_that_cuts() -> None:
    """A path moved 30 um into the metal gouges by 30 um, whoever made it."""
    whole = rim_outline()
    path = tool_path(whole, 0.4, 1e-4).centre
    assert gouge(path.sample(1e-5), whole, 0.4) <= 1.1e-5
    assert gouge(path.translated(-0.03, 0.0).sample(1e-5), whole, 0.4) == pytest.approx(0.03, abs=2e-5)


@pytest.mark.parametrize("tolerance", [0.002, 0.01, 0.05])
def test_written_points_gouge_no_deeper_than_their_tolerance(tolerance: float) -> None:
    whole = rim_outline()
    points = points_on(tool_path(whole, 0.4, tolerance).centre, tolerance, UNITS["mm"])
    assert 0.0 < gouge(points.places, whole, 0.4) <= tolerance


wavy = st.lists(
    st.tuples(st.floats(-1.5, 1.5), st.floats(0.3, 2.0), st.floats(-0.7, 0.7)), min_size=2, max_size=7
)


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(wavy, st.floats(0.05, 1.0))
def test_random_outlines_against_a_brute_search(steps: list[tuple[float, float, float]], nose: float) -> None:
    """Every place of the path touches; every place that the nose could touch from the front, it touches."""
    rows, x = [(0.0, 2.0, 0.0)], 4.0
    for z, dx, bulge in steps:
        rows.append((z, x, bulge))
        x += dx
    rows += [(0.0, x, 0.0), (0.0, x + 2.0, 0.0)]
    work = Curve.from_vertices(rows)
    # Flatter arcs than any rim has: where they cross is lost in rounding.
    assume(len(work.self_intersections()) == 0 and (work.radius[work.is_arc] < 1000.0).all())
    path = tool_path(work, nose, 1e-3)
    on_path = path.centre.sample(1e-4)
    assert np.abs(work.nearest(on_path).distance - nose).max() < 2e-4
    # A grid of places for the nose: those clear of the metal and joined to the free space in front.
    free = reachable_places(work, nose, step=0.04)
    probes = work.sample(0.01)
    brute = np.array([np.hypot(*(free - p).T).min() for p in probes]) - nose
    mine = distance_to(path.centre, probes) - nose
    # The grid finds places at most a step from the best one, and none better than it.
    assert (mine <= brute + 1e-6).all()


def reachable_places(work: Curve, nose: float, step: float) -> np.ndarray:
    """Grid places where the nose is clear, flooded from the front (large Z)."""
    from scipy.ndimage import label

    z = np.arange(-4.0, 4.0 + nose, step)
    x = np.arange(1.0, work.end[-1, 1] + 1.0, step)
    grid = np.stack(np.meshgrid(z, x, indexing="ij"), axis=-1)
    clear = (work.nearest(grid.reshape(-1, 2)).distance >= nose).reshape(grid.shape[:2])
    bodies, _ = label(clear)
    return grid[bodies == bodies[-1, len(x) // 2]]
