"""Signed distances to chains: against brute force, hand-drawn circles and difference quotients."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from labrum.meshes.curves.curve import Curve
from labrum.meshes.curves.distance import Nearest

QUARTER = np.tan(np.pi / 8)
FAR = 100.0


@st.composite
def simple_chains(draw: st.DrawFn) -> Curve:
    """Chains without crossings that end in lines, so that the metal is plain: all that lies above."""
    count = draw(st.integers(1, 5))
    steps = [draw(st.floats(0.5, 3.0)) for _ in range(count + 2)]
    heights = [draw(st.floats(-2.0, 2.0)) for _ in range(count + 3)]
    bulges = [draw(st.one_of(st.just(0.0), st.floats(-1.2, 1.2))) for _ in range(count)]
    rows = np.column_stack([np.cumsum([5.0, *steps]), heights, [0.0, *bulges, 0.0, 0.0]])
    curve = Curve.from_vertices(rows)
    assume(with_long_ends(curve).self_intersections().size == 0)
    return curve


def with_long_ends(curve: Curve) -> Curve:
    rows = curve.vertices.copy()
    rows[[0, -1], :2] = curve.at([-FAR, curve.length + FAR])
    return Curve.from_vertices(rows)


place = st.tuples(st.floats(0.0, 25.0), st.floats(-6.0, 6.0))
points = st.lists(place, min_size=1, max_size=20).map(np.array)
checked = settings(deadline=None, max_examples=100, derandomize=True)


def brute_distance(curve: Curve, places: np.ndarray) -> np.ndarray:
    """Least distance to densely sampled points, sampled again about the best; off by 3e-7 mm at most."""
    where = np.linspace(-30, curve.length + 30, 8001)
    step = where[1] - where[0]
    best = []
    for place in places:
        coarse = np.hypot(*(curve.at(where) - place).T)
        close = [where[i] + np.linspace(-step, step, 20001) for i in np.argsort(coarse)[:6]]
        best.append(min(np.hypot(*(curve.at(w) - place).T).min() for w in close))
    return np.array(best)


def inside_metal(curve: Curve, places: np.ndarray) -> np.ndarray:
    """Even-odd count of what a ray crosses that goes up from each place: the metal is above the chain."""
    outline = with_long_ends(curve).sample(1e-6)
    roof = np.array([[outline[-1, 0], 2 * FAR], [outline[0, 0], 2 * FAR]])
    a = np.vstack([outline, roof])
    b = np.roll(a, -1, axis=0)
    r, s = places[:, :1], places[:, 1:]
    spans = (a[:, 0] <= r) != (b[:, 0] <= r)
    slope = (b[:, 1] - a[:, 1]) / np.where(a[:, 0] == b[:, 0], 1.0, b[:, 0] - a[:, 0])
    return ((spans & (a[:, 1] + slope * (r - a[:, 0]) > s)).sum(axis=1) % 2).astype(bool)


@settings(checked, max_examples=40)
@given(simple_chains(), points)
def test_distance_is_the_least_there_is(curve: Curve, places: np.ndarray) -> None:
    brute = brute_distance(curve, places)
    assert np.abs(curve.nearest(places).distance) == pytest.approx(brute, abs=1e-6)


@checked
@given(simple_chains(), points)
def test_sign_tells_metal_from_tissue(curve: Curve, places: np.ndarray) -> None:
    distance = curve.nearest(places).distance
    clear = np.abs(distance) > 1e-5
    assert ((distance < 0) == inside_metal(curve, places))[clear].all()


@checked
@given(simple_chains(), points)
def test_foot_lies_on_the_chain_and_the_normal_points_along_the_way_there(
    curve: Curve, places: np.ndarray
) -> None:
    seen = curve.nearest(places)
    assert curve.at(seen.arc_length) == pytest.approx(seen.foot, abs=1e-9)
    assert np.hypot(*seen.normal.T) == pytest.approx(np.ones(len(places)), abs=1e-12)
    assert seen.foot + seen.distance[:, None] * seen.normal == pytest.approx(places, abs=1e-8)
    held = curve.piece_at(np.clip(seen.arc_length, 0, curve.length))
    at_joint = np.abs(seen.arc_length[:, None] - curve.offset).min(axis=1) < 1e-9
    assert (at_joint | (held == seen.piece)).all()


def smooth_around(curve: Curve, places: np.ndarray, step: float) -> tuple[Nearest, np.ndarray]:
    """Which places see one and the same piece, or one and the same corner, all around them."""
    here = curve.nearest(places)
    around = places[:, None, :] + 3 * step * np.array([[1, 0], [-1, 0], [0, 1], [0, -1]])
    near = curve.nearest(around.reshape(-1, 2))
    same_piece = (near.piece.reshape(-1, 4) == here.piece[:, None]).all(axis=1)
    foot_apart = np.abs(near.arc_length.reshape(-1, 4) - here.arc_length[:, None]).max(axis=1)
    clear_of_joints = np.abs(here.arc_length[:, None] - curve.offset).min(axis=1) > foot_apart
    stays = (foot_apart < 1e-12) | (same_piece & clear_of_joints)
    return here, stays & (foot_apart < 0.05) & (np.abs(here.distance) > 0.1)


@checked
@given(simple_chains(), points)
def test_normal_and_second_derivative_against_difference_quotients(curve: Curve, places: np.ndarray) -> None:
    step = 1e-5
    here, fine = smooth_around(curve, places, step)
    assume(fine.any())
    across = here.normal[:, ::-1] * (-1.0, 1.0)

    def quotient(way: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        ahead, behind = curve.nearest(places + step * way), curve.nearest(places - step * way)
        return (ahead.distance - behind.distance) / (2 * step), (ahead.normal - behind.normal) / (2 * step)

    along_slope, along_turn = quotient(here.normal)
    across_slope, across_turn = quotient(across)
    assert along_slope[fine] == pytest.approx(1.0, abs=1e-8)
    assert across_slope[fine] == pytest.approx(0.0, abs=1e-8)
    assert along_turn[fine] == pytest.approx(0.0, abs=1e-6)
    expected = here.hessian[:, None] * across
    assert across_turn[fine] == pytest.approx(expected[fine], rel=1e-5, abs=1e-6)


@checked
@given(simple_chains(), points, st.floats(-20, 20), st.floats(-20, 20))
def test_moving_everything_changes_nothing(curve: Curve, places: np.ndarray, dr: float, ds: float) -> None:
    here = curve.nearest(places)
    moved = curve.translated(dr, ds).nearest(places + np.array([dr, ds]))
    assert moved.distance == pytest.approx(here.distance, abs=1e-9)


@checked
@given(simple_chains(), points)
def test_the_mirror_image_has_the_same_distances(curve: Curve, places: np.ndarray) -> None:
    here, image = curve.nearest(places), curve.mirrored().nearest(places * (-1, 1))
    assert image.distance == pytest.approx(here.distance, abs=1e-9)


def test_convex_and_hollow_circles_by_hand() -> None:
    bowl = Curve.from_vertices([[7, 0, 1], [13, 0, 0]])
    seen = bowl.nearest(np.array([[10, -5], [10, -1], [6, -3]]))
    assert seen.distance == pytest.approx([2, -2, 2])
    assert seen.hessian == pytest.approx([1 / 5, 1, 1 / 5])
    assert seen.normal == pytest.approx(np.array([[0, -1], [0, -1], [-0.8, -0.6]]))
    assert seen.foot[2] == pytest.approx([10 - 2.4, -1.8])
    assert seen.arc_length[0] == pytest.approx(1.5 * np.pi)
    arch = Curve.from_vertices([[7, 0, -1], [13, 0, 0]])
    seen = arch.nearest(np.array([[10, 1], [10, 5]]))
    assert seen.distance == pytest.approx([2, -2])
    assert seen.hessian == pytest.approx([-1, -1 / 5])
    assert seen.normal == pytest.approx(np.array([[0, -1], [0, -1]]))


def test_at_the_centre_of_an_arc_everything_is_finite() -> None:
    seen = Curve.from_vertices([[7, 0, 1], [13, 0, 0]]).nearest(np.array([[10.0, 0.0]]))
    assert seen.distance == pytest.approx([-3])
    assert np.hypot(*seen.normal[0]) == pytest.approx(1)
    assert np.isfinite(seen.hessian).all()


def test_on_a_convex_corner_the_distance_is_a_circle_about_it() -> None:
    # A wall down, then a floor outwards: the corner at (5, 0) points down and inwards.
    corner = Curve.from_vertices([[5, 4, 0], [5, 0, 0], [9, 0, 0]])
    seen = corner.nearest(np.array([[2.0, -4.0], [5.0, 0.0], [5 - 3e-9, -4e-9]]))
    assert seen.distance == pytest.approx([5, 0, 5e-9], abs=1e-15)
    assert seen.normal == pytest.approx(np.array([[-0.6, -0.8], [-np.sqrt(0.5)] * 2, [-0.6, -0.8]]), abs=1e-6)
    assert seen.hessian[0] == pytest.approx(1 / 5)
    assert seen.arc_length == pytest.approx([4, 4, 4])


def test_in_a_hollow_corner_the_sign_comes_from_the_side() -> None:
    # A floor, then a wall down: tissue in the corner is below, metal above and outside.
    corner = Curve.from_vertices([[0, 3, 0], [4, 3, 0], [4, 0, 0]])
    seen = corner.nearest(np.array([[3.0, 1.0], [1.0, 2.5], [7.0, 7.0], [5.0, 1.0], [4.0, 3.0]]))
    assert seen.distance == pytest.approx([1, 0.5, -5, -1, 0], abs=1e-15)
    assert seen.normal[2] == pytest.approx([-0.6, -0.8])
    assert seen.hessian[2] == pytest.approx(-1 / 5)
    assert seen.normal[4] == pytest.approx([-np.sqrt(0.5), -np.sqrt(0.5)])


def test_on_the_chain_itself_the_normal_is_the_chains() -> None:
    # Down at 45 degrees, round an eighth of a circle of radius 4, and on level.
    low, ahead = 2 - 4 * (1 - np.sqrt(0.5)), 6 + 4 * np.sqrt(0.5)
    chain = Curve.from_vertices([[4, 4, 0], [6, 2, np.tan(np.pi / 16)], [ahead, low, 0], [14, low, 0]])
    where = np.linspace(-1, chain.length + 1, 4001)
    seen = chain.nearest(chain.at(where))
    assert seen.distance == pytest.approx(0, abs=1e-13)
    assert seen.normal == pytest.approx(chain.normal_at(where), abs=1e-12)
    assert seen.arc_length == pytest.approx(where, abs=1e-12)


@pytest.mark.parametrize("lift", [0.0, 1e-12, 1e-9, 1e-7, 1e-3, -1e-12, -1e-9, -1e-7, -1e-3])
def test_across_a_smooth_joint_nothing_jumps(lift: float) -> None:
    # Radius 0.6 to 6 with headings equal only to rounding; the foot slides over the joint in small steps.
    def spoke(heading: float) -> np.ndarray:
        return np.array([np.sin(heading), -np.cos(heading)])

    start = np.array([8.8, 0.1])
    end = start + 0.6 * (spoke(-0.6) - spoke(-1.0))
    far = end + 6 * (spoke(-0.3) - spoke(-0.6))
    chain = Curve.from_vertices([[*start, np.tan(0.1)], [*end, np.tan(0.3 / 4)], [*far, 0]])
    joint = chain.offset[1]
    where = joint + np.linspace(-1e-9, 1e-9, 41)
    seen = chain.nearest(chain.at(where) + lift * chain.normal_at(where))
    assert seen.distance == pytest.approx(lift, abs=1e-14)
    assert seen.normal == pytest.approx(np.broadcast_to(chain.normal_at(joint), (41, 2)), abs=1e-7)
    assert (seen.hessian > 1 / 6.1).all()
    assert (seen.hessian < 1 / 0.59).all()


@pytest.mark.parametrize("radius", [1e3, 1e6, 5e7])
def test_nearly_flat_arcs_lose_no_accuracy_worth_naming(radius: float) -> None:
    half = np.arcsin(2.0 / radius)
    arc = Curve.from_vertices([[8, 0, np.tan(half / 2)], [12, 0, 0]])
    assert arc.radius[0] == pytest.approx(radius, rel=1e-6)
    seen = arc.nearest(np.array([[10.0, -1.0], [10.0, 0.5]]))
    rise = 4 / (radius + np.sqrt(radius**2 - 4))
    assert seen.distance == pytest.approx([1 - rise, -0.5 - rise], abs=1e-15)


def test_beyond_an_end_the_distance_is_to_the_straight_continuation() -> None:
    arc = Curve.from_vertices([[8, 2, QUARTER], [10, 0, 0]])
    seen = arc.nearest(np.array([[7.5, 6.0], [8.5, 6.0], [15.0, -0.25]]))
    assert seen.distance == pytest.approx([0.5, -0.5, 0.25])
    assert seen.arc_length == pytest.approx([-4, -4, np.pi + 5])
    assert seen.piece.tolist() == [0, 0, 0]


def test_no_points_give_no_distances() -> None:
    assert Curve.from_vertices([[0, 0, 1], [2, 0, 0]]).nearest(np.empty((0, 2))).distance.shape == (0,)
