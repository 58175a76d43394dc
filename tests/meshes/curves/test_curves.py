"""Chains of arcs and lines: places along them, joints, crossings, mirror images."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labrum.meshes.curves.curve import STRAIGHT_BULGE, Curve

QUARTER = np.tan(np.pi / 8)
finite = st.floats(-1.0, 1.0)


@st.composite
def chains(draw: st.DrawFn) -> Curve:
    """Chains that run outwards, of lines and arcs up to about 250 degrees, with corners of every kind."""
    count = draw(st.integers(1, 6))
    steps = [draw(st.floats(0.2, 3.0)) for _ in range(count)]
    heights = [2.0 * draw(finite) for _ in range(count + 1)]
    bulges = [draw(st.one_of(st.just(0.0), st.floats(-2.0, 2.0))) for _ in range(count)]
    return Curve.from_vertices(np.column_stack([np.cumsum([5.0, *steps]), heights, [*bulges, 0.0]]))


def test_quarter_circle_against_the_circle_drawn_by_hand() -> None:
    # From (8, 2) down to (10, 0) about the centre (10, 2): anticlockwise, the metal above.
    arc = Curve.from_vertices([[8, 2, QUARTER], [10, 0, 0]])
    assert arc.centre[0] == pytest.approx([10, 2])
    assert arc.radius[0] == pytest.approx(2)
    assert arc.length == pytest.approx(np.pi)
    assert arc.at(np.pi / 2)[0] == pytest.approx([10 - np.sqrt(2), 2 - np.sqrt(2)])
    assert arc.tangent_at([0.0, np.pi / 2, np.pi]) == pytest.approx(
        np.array([[0, -1], [np.sqrt(0.5), -np.sqrt(0.5)], [1, 0]]), abs=1e-15)
    assert arc.normal_at(np.pi)[0] == pytest.approx([0, -1])
    assert arc.curvature_at([0.1, 3.0]) == pytest.approx([0.5, 0.5])


def test_clockwise_arc_is_hollow() -> None:
    # From (0, 0) over (1, 1) to (2, 0) about (1, 0): metal outside the circle, tissue within.
    arc = Curve.from_vertices([[0, 0, -1], [2, 0, 0]])
    assert arc.centre[0] == pytest.approx([1, 0])
    assert arc.curvature_at(1.0) == pytest.approx([-1])
    assert arc.at(np.pi / 2)[0] == pytest.approx([1, 1])
    assert arc.normal_at(np.pi / 2)[0] == pytest.approx([0, -1])


@pytest.mark.parametrize("bulge", [0.1, QUARTER, 1.0, 2.0, 5.0, -0.3, -1.0, -3.0])
def test_bulge_is_the_tangent_of_a_quarter_of_the_angle(bulge: float) -> None:
    curve = Curve.from_vertices([[1, 2, bulge], [4, 6, 0]])
    angle = 4 * np.arctan(bulge)
    assert curve.sweep[0] == pytest.approx(angle)
    spoke_in, spoke_out = curve.start[0] - curve.centre[0], curve.end[0] - curve.centre[0]
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    assert turn @ spoke_in == pytest.approx(spoke_out, abs=1e-12)
    assert np.hypot(*spoke_in) == pytest.approx(curve.radius[0])
    assert curve.length == pytest.approx(abs(angle) * curve.radius[0])


def test_slightest_bulges_are_lines_and_the_change_is_invisible() -> None:
    just_line = Curve.from_vertices([[0, 0, STRAIGHT_BULGE], [3, 0, 0]])
    just_arc = Curve.from_vertices([[0, 0, 1.01 * STRAIGHT_BULGE], [3, 0, 0]])
    assert not just_line.is_arc[0]
    assert just_arc.is_arc[0]
    probe = np.array([[1.5, -0.7], [0.4, 0.2], [1.5, 0.0]])
    assert just_arc.nearest(probe).distance == pytest.approx(just_line.nearest(probe).distance, abs=1e-7)


@settings(deadline=None, max_examples=100, derandomize=True)
@given(chains())
def test_arc_length_measures_the_way_along_the_chain(curve: Curve) -> None:
    where = np.linspace(0, curve.length, 20001)
    steps = np.hypot(*np.diff(curve.at(where), axis=0).T)
    assert steps.max() <= where[1] * (1 + 1e-9)
    # Chords fall short of arcs by the square of the step; those over corners by no more than themselves.
    arcs_short = curve.length * (np.abs(curve.curvature).max() * where[1]) ** 2
    assert curve.length - steps.sum() <= arcs_short + len(curve.bulge) * where[1]
    assert curve.at(curve.offset) == pytest.approx(curve.vertices[:, :2], abs=1e-9)


@settings(deadline=None, max_examples=100, derandomize=True)
@given(chains(), st.floats(-0.2, 1.2))
def test_tangent_and_curvature_are_derivatives_of_the_place(curve: Curve, share: float) -> None:
    where, step = share * curve.length, 1e-5
    if np.abs(curve.offset - where).min() < 2 * step:
        return
    before, after = curve.at([where - step, where + step])
    tangent = (after - before) / (2 * step)
    assert curve.tangent_at(where)[0] == pytest.approx(tangent, abs=1e-7)
    headings = curve.tangent_at([where - step, where + step])
    turned = headings[0, 0] * headings[1, 1] - headings[0, 1] * headings[1, 0]
    assert curve.curvature_at(where)[0] == pytest.approx(turned / (2 * step), abs=1e-6)


def test_beyond_its_ends_the_chain_goes_on_straight() -> None:
    arc = Curve.from_vertices([[8, 2, QUARTER], [10, 0, 0]])
    assert arc.at([-3.0, np.pi + 2.0]) == pytest.approx(np.array([[8, 5], [12, 0]]))
    assert arc.curvature_at([-3.0, np.pi + 2.0]) == pytest.approx([0, 0])


@pytest.mark.parametrize("tolerance", [1e-4, 0.01, 0.2])
@pytest.mark.parametrize("bulge", [0.2, -QUARTER, 1.5])
def test_samples_of_an_arc_stand_off_it_by_the_tolerance_at_most(bulge: float, tolerance: float) -> None:
    arc = Curve.from_vertices([[5, 0, bulge], [8, 1, 0]])
    points = arc.sample(tolerance)
    rise = arc.radius[0] - np.hypot(*(0.5 * (points[1:] + points[:-1]) - arc.centre[0]).T)
    assert rise.max() <= tolerance * (1 + 1e-9)
    fewer = np.hypot(*(arc.at(np.linspace(0, arc.length, len(points) - 1)) - arc.centre[0]).T)
    chord = arc.length / max(1, len(fewer) - 1)
    assert arc.radius[0] * (1 - np.cos(chord / arc.radius[0] / 2)) > tolerance or len(points) == 2


@settings(deadline=None, max_examples=100, derandomize=True)
@given(chains())
def test_samples_hold_every_joint(curve: Curve) -> None:
    points = curve.sample(0.05)
    assert points[0] == pytest.approx(curve.start[0])
    apart = np.hypot(*(points[:, None] - curve.vertices[None, :, :2]).transpose(2, 0, 1))
    assert apart.min(axis=0).max() < 1e-9


def test_joints_turn_by_the_angle_drawn() -> None:
    # Floor, then a wall going down at 60 degrees (hollow corner), then a floor again (convex corner).
    foot = 2 + np.sqrt(3) / 3
    chain = Curve.from_vertices([[0, 3, 0], [2, 3, 0], [foot, 2, 0], [5, 2, QUARTER], [6, 3, 0]])
    hollow, convex = chain.corners(np.radians(1))
    assert (hollow.joint, convex.joint) == (1, 2)
    assert hollow.turn == pytest.approx(-np.pi / 3)
    assert convex.turn == pytest.approx(np.pi / 3)
    assert hollow.point == pytest.approx((2, 3))
    assert convex.arc_length == pytest.approx(2 + 2 / np.sqrt(3))
    assert chain.turns[2] == pytest.approx(0, abs=1e-12)


def test_a_chain_that_doubles_back_turns_by_half_a_circle() -> None:
    assert Curve.from_vertices([[0, 0, 0], [2, 0, 0], [1, 0, 0]]).turns == pytest.approx([np.pi])


@settings(deadline=None, max_examples=100, derandomize=True)
@given(chains())
def test_mirror_image_keeps_lengths_curvatures_and_sides(curve: Curve) -> None:
    image = curve.mirrored()
    where = np.linspace(0, 1, 41) * curve.length
    flip = np.array([-1.0, 1.0])
    assert image.at(curve.length - where) == pytest.approx(curve.at(where) * flip, abs=1e-9)
    assert image.piece_length[::-1] == pytest.approx(curve.piece_length)
    assert image.curvature[::-1] == pytest.approx(curve.curvature)
    assert image.turns[::-1] == pytest.approx(curve.turns, abs=1e-9)
    inner = where[1:-1][np.abs(curve.offset[:, None] - where[None, 1:-1]).min(axis=0) > 1e-6]
    assert image.normal_at(curve.length - inner) == pytest.approx(curve.normal_at(inner) * flip, abs=1e-9)


@settings(deadline=None, max_examples=100, derandomize=True)
@given(chains())
def test_vertices_draw_the_same_chain_again(curve: Curve) -> None:
    again = Curve.from_vertices(curve.vertices)
    assert (again.start == curve.start).all()
    assert (again.end == curve.end).all()
    assert (again.bulge == curve.bulge).all()


@pytest.mark.parametrize(
    ("vertices", "words"),
    [
        ([[0, 0, 0]], "two rows"),
        ([[0, 0], [1, 1]], "two rows"),
        ([[0, 0, 0], [0, 0, 0]], "piece 0 has no length"),
        ([[0, 0, np.nan], [1, 0, 0]], "finite"),
        ([[0, np.inf, 0], [1, 0, 0]], "finite"),
    ],
)
def test_what_is_no_chain_is_refused(vertices: list[list[float]], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Curve.from_vertices(vertices)


def test_a_gap_in_the_chain_is_refused() -> None:
    with pytest.raises(ValueError, match="must begin where"):
        Curve(np.array([[0.0, 0.0], [1.1, 0.0]]), np.array([[1.0, 0.0], [2.0, 0.0]]), np.zeros(2))
