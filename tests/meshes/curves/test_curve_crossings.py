"""Where a chain meets itself, against crossings worked out by hand."""

import numpy as np
import pytest

from labrum.meshes.curves.curve import Curve

QUARTER = np.tan(np.pi / 8)


def crossings(*vertices: tuple[float, float, float]) -> np.ndarray:
    return Curve.from_vertices(vertices).self_intersections()


def test_two_lines() -> None:
    found = crossings((0, 0, 0), (4, 4, 0), (4, 0, 0), (0, 4, 0))
    assert found == pytest.approx(np.array([[2, 2]]))


def test_a_line_through_an_arc() -> None:
    # The half circle about (1, 0) from (0, 0) below to (2, 0); the line s = -0.6 meets it at r = 1 -+ 0.8.
    found = crossings((0, 0, 1), (2, 0, 0), (3, -0.6, 0), (-1, -0.6, 0))
    assert found == pytest.approx(np.array([[0.2, -0.6], [1.8, -0.6]]))


def test_two_arcs() -> None:
    # Lower half circles of radius 1 about (1, 0) and (2, 0): they meet at r = 1.5, s = -sqrt(3) / 2.
    found = crossings((0, 0, 1), (2, 0, 0), (2, 1, 0), (1, 1, 0), (1, 0, 1), (3, 0, 0))
    assert [1.5, -np.sqrt(0.75)] == pytest.approx(found[np.argmin(found[:, 1])])
    # The line from (1, 1) to (1, 0) ends inside the first circle and touches nothing.
    assert len(found) == 1


def test_arcs_whose_circles_meet_outside_them_do_not_cross() -> None:
    assert crossings((0, 0, QUARTER), (1, -1, 0), (5, -1, 0), (6, 0, QUARTER), (6.5, 3, 0)).size == 0


def test_a_line_that_touches_an_arc_meets_it() -> None:
    found = crossings((0, 0, 1), (2, 0, 0), (3, -1, 0), (0.5, -1, 0))
    assert found == pytest.approx(np.array([[1, -1]]), abs=1e-7)


def test_doubling_back_is_a_meeting() -> None:
    assert crossings((0, 0, 0), (4, 0, 0), (1, 0, 0)) == pytest.approx(np.array([[1, 0]]))


def test_arcs_over_the_same_circle_meet_where_the_overlap_begins() -> None:
    # Three quarters of a circle, and then on along the same circle by half a circle.
    found = crossings((2, 0, np.tan(3 * np.pi / 8)), (1, -1, 1), (1, 1, 0))
    assert any(p == pytest.approx([2, 0], abs=1e-9) for p in found)


def test_a_closed_chain_meets_itself_where_it_closes() -> None:
    assert crossings((0, 0, 0), (2, 0, 0), (1, 1, 0), (0, 0, 0)) == pytest.approx(np.array([[0, 0]]))


@pytest.mark.parametrize("ratio", [1.0001, 1.01, 1.5, 10.0, 1e5])
def test_arcs_that_are_tangent_at_their_joint_do_not_cross(ratio: float) -> None:
    # Radius 3, then 3 times the ratio, tangent at the bottom (5, 0), then a line tangent to the second.
    big = 3 * ratio
    end = (5 + big * np.sin(0.3 / ratio), big * (1 - np.cos(0.3 / ratio)))
    ahead = (end[0] + 4 * np.cos(0.3 / ratio), end[1] + 4 * np.sin(0.3 / ratio))
    chain = Curve.from_vertices([(2, 3, QUARTER), (5, 0, np.tan(0.3 / ratio / 4)), (*end, 0), (*ahead, 0)])
    assert np.abs(chain.turns).max() < 1e-7
    assert chain.self_intersections().size == 0


def test_a_measured_chain_of_many_small_tangent_arcs_does_not_cross() -> None:
    # An ellipse through 60 points, its arcs rounded to a micrometre's thousandth as a file would.
    t = np.linspace(np.pi, 1.95 * np.pi, 61)
    place = np.column_stack([10 + 3 * np.cos(t), 2 + 2 * np.sin(t)])
    heading = np.unwrap(np.arctan2(2 * np.cos(t), -3 * np.sin(t)))
    bulges = np.append(np.tan(np.diff(heading) / 4), 0.0)
    assert crossings(*np.round(np.column_stack([place, bulges]), 6)).size == 0


@pytest.mark.parametrize("large", [1.0e3, 1.25e4, 1.0e6])
def test_a_nearly_flat_arc_still_meets_a_small_one(large: float) -> None:
    """A unit half circle over a chord 0.2 mm below its centre, once bent to a huge radius: it leaves the arc twice."""
    half = 3.0
    bulge = np.tan(np.arcsin(half / large) / 2.0)
    vertices = [(-half, -0.2, bulge), (half, -0.2, 0.0), (half, 2.0, 0.0), (1.0, 2.0, 0.0)]
    vertices += [(1.0, 0.0, -1.0), (-1.0, 0.0, 0.0)]
    found = Curve.from_vertices(vertices).self_intersections()
    assert len(found) == 2
    assert np.hypot(*found.T) == pytest.approx(1.0, abs=1e-9)
