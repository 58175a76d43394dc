"""Rims drawn from dimensions: against coordinates worked out by hand and by solving for tangency."""

from dataclasses import replace
from math import cos, inf, pi, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import fsolve

from labrum.meshes.faults import GeometryError
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions

DEMO = RimDimensions(
    inner_diameter_mm=16.5, width_mm=5.2, high_point=0.45, bite_radius_mm=0.6, inner_crown_radius_mm=6.0,
    outer_crown_radius_mm=8.0, shoulder_radius_mm=1.8, cup_wall_angle_deg=60.0, cup_depth_mm=10.0,
)
ROOT_HALF = sqrt(0.5)
quick = settings(deadline=None, max_examples=150, derandomize=True)


@st.composite
def dimensions(draw: st.DrawFn) -> RimDimensions:
    """Rims that can be, up to and including the limits."""
    width, high_point = draw(st.floats(2.0, 9.0)), draw(st.floats(0.1, 0.9))
    inner, outer = sqrt(2) * high_point * width, (1 - high_point) * width
    share = st.one_of(st.floats(0.15, 1.0), st.just(1.0))
    crown = st.one_of(st.floats(1.0, 20.0), st.just(1.0), st.just(inf))
    return RimDimensions(
        inner_diameter_mm=draw(st.floats(14.0, 34.0)), width_mm=width, high_point=high_point,
        bite_radius_mm=inner * draw(share), inner_crown_radius_mm=inner * draw(crown),
        outer_crown_radius_mm=outer * draw(crown), shoulder_radius_mm=outer * draw(share),
        cup_wall_angle_deg=draw(st.floats(46.0, 90.0)), cup_depth_mm=draw(st.floats(9.0, 30.0)),
    )


def faults_of(d: RimDimensions) -> dict[str, str]:
    with pytest.raises(GeometryError) as caught:
        rim_from_dimensions(d)
    return {f.key: f.allowed for f in caught.value.faults}


def test_every_vertex_against_a_rim_worked_out_by_hand() -> None:
    # Triangles of sides 3, 4, 5 throughout: crown less bite 5, outer crown less shoulder 10, wall 4 in 3.
    high = 8 + ROOT_HALF + 3
    width = ROOT_HALF + 3 + 6 + 2
    rim = rim_from_dimensions(RimDimensions(
        inner_diameter_mm=16, width_mm=width, high_point=(ROOT_HALF + 3) / width, bite_radius_mm=1,
        inner_crown_radius_mm=6, outer_crown_radius_mm=12, shoulder_radius_mm=2,
        cup_wall_angle_deg=np.degrees(np.arctan2(4, 3)), cup_depth_mm=5,
    ))
    bite_s = 2 - ROOT_HALF
    wall_end = (8 + ROOT_HALF - 0.8, 2 - 0.6)
    floor = bite_s + 5
    assert rim.curve.vertices[:, :2] == pytest.approx(np.array([
        (0, floor),
        (wall_end[0] - 0.75 * (floor - wall_end[1]), floor),
        wall_end,
        (high - 3.6, 1.2),
        (high, 0),
        (high + 7.2, 2.4),
        (8 + width, 4),
        (8 + width, 9),
    ]), abs=1e-12)
    assert rim.curve.radius[2:6] == pytest.approx([1, 6, 12, 2])
    assert rim.curve.centre[2] == pytest.approx([8 + ROOT_HALF, 2])
    assert rim.curve.centre[5] == pytest.approx([8 + width - 2, 4])
    assert rim.bite == pytest.approx((8, bite_s))
    assert rim.cup_floor == pytest.approx(floor)
    assert rim.cup_end == pytest.approx(rim.curve.offset[2])
    assert (rim.high_point_radius, rim.outer_radius) == pytest.approx((high, 8 + width))
    assert (rim.bite_radius, rim.source) == (1, "dimensions")


def test_flat_crowns_by_hand() -> None:
    rim = rim_from_dimensions(replace(DEMO, inner_crown_radius_mm=inf, outer_crown_radius_mm=inf))
    assert rim.bite == pytest.approx((8.25, 0.6 * (1 - ROOT_HALF)))
    level = rim.curve.at(np.linspace(rim.curve.offset[3], rim.curve.offset[5], 50))
    assert level[:, 1] == pytest.approx(0)
    assert level[0, 0] == pytest.approx(8.25 + 0.6 * ROOT_HALF)
    assert level[-1, 0] == pytest.approx(8.25 + 5.2 - 1.8)


@pytest.mark.parametrize("bite", [0.2, 0.6, 1.2])
def test_tangency_solved_for_independently(bite: float) -> None:
    # From the bite point along the bite's arc and the crown's to the high point, as sums of steps.
    d = replace(DEMO, bite_radius_mm=bite)
    rim = rim_from_dimensions(d)
    crown, shoulder = d.inner_crown_radius_mm, d.shoulder_radius_mm

    def inner_miss(unknown: np.ndarray) -> list[float]:
        bite_s, angle = unknown
        r = 8.25 + bite * (sin(pi / 4) - sin(angle)) + crown * sin(angle)
        s = bite_s - bite * (cos(angle) - cos(pi / 4)) - crown * (1 - cos(angle))
        return [r - rim.high_point_radius, s]

    def outer_miss(unknown: np.ndarray) -> list[float]:
        top_s, angle = unknown
        r = rim.high_point_radius + d.outer_crown_radius_mm * sin(angle) + shoulder * (1 - sin(angle))
        s = d.outer_crown_radius_mm * (1 - cos(angle)) + shoulder * cos(angle)
        return [r - 8.25 - d.width_mm, s - top_s]

    bite_s, angle = fsolve(inner_miss, [0.3, 0.3], xtol=1e-13)
    assert rim.bite == pytest.approx((8.25, bite_s), abs=1e-10)
    assert rim.curve.at(rim.curve.offset[3])[0, 0] == pytest.approx(10.59 - crown * sin(angle), abs=1e-10)
    top_s, angle = fsolve(outer_miss, [1.0, 0.3], xtol=1e-13)
    assert rim.curve.vertices[-2, 1] == pytest.approx(top_s, abs=1e-10)
    assert rim.curve.vertices[5, 0] == pytest.approx(10.59 + 8 * sin(angle), abs=1e-10)


@quick
@given(dimensions())
def test_every_rim_is_tangent_throughout_and_has_the_dimensions_asked_for(d: RimDimensions) -> None:
    rim = rim_from_dimensions(d)
    curve = rim.curve
    corners = curve.corners(1e-6)
    assert all(c.arc_length < rim.cup_end - 1e-9 and c.turn < 0 for c in corners)
    assert len(corners) <= 1
    assert curve.self_intersections().size == 0
    assert rim.bite[0] == pytest.approx(d.inner_diameter_mm / 2)
    at_bite = curve.nearest(np.array([rim.bite]))
    assert at_bite.distance == pytest.approx([0], abs=1e-10)
    assert at_bite.normal[0] == pytest.approx([-ROOT_HALF, -ROOT_HALF], abs=1e-6)
    assert rim.outer_radius - rim.bite[0] == pytest.approx(d.width_mm)
    assert rim.high_point_radius - rim.bite[0] == pytest.approx(d.high_point * d.width_mm)
    assert curve.vertices[:, 0].max() == pytest.approx(rim.outer_radius)
    assert curve.tangent_at(curve.length)[0] == pytest.approx([0, 1], abs=1e-9)
    assert curve.radius[curve.piece_at(rim.cup_end)[0]] == pytest.approx(d.bite_radius_mm)


@quick
@given(dimensions())
def test_nothing_lies_nearer_the_teeth_than_the_high_point(d: RimDimensions) -> None:
    rim = rim_from_dimensions(d)
    where = np.linspace(0, rim.curve.length, 3001)
    assert rim.curve.at(where)[:, 1].min() >= -1e-12
    high = rim.curve.nearest(np.array([[rim.high_point_radius, 0.0]]))
    assert high.distance == pytest.approx([0], abs=1e-12)
    assert high.normal[0] == pytest.approx([0, -1], abs=1e-7)


@quick
@given(dimensions())
def test_the_cup_has_its_wall_angle_and_depth_or_ends_in_a_point(d: RimDimensions) -> None:
    rim = rim_from_dimensions(d)
    wall = rim.curve.tangent_at(rim.cup_end - 1e-6)[0]
    angle = radians(d.cup_wall_angle_deg)
    assert wall == pytest.approx([cos(angle), -sin(angle)], abs=1e-6)
    first = rim.curve.start[0]
    assert first == pytest.approx([0, rim.cup_floor])
    depth = first[1] - rim.bite[1]
    assert depth == pytest.approx(d.cup_depth_mm) or (depth < d.cup_depth_mm and not rim.curve.corners(1e-6))


def test_a_wall_that_reaches_the_axis_ends_there_in_a_point() -> None:
    rim = rim_from_dimensions(replace(DEMO, cup_depth_mm=40))
    end = rim.curve.at(rim.cup_end)[0]
    assert rim.curve.start[0] == pytest.approx([0, end[1] + end[0] * sqrt(3)])
    assert rim.cup_end == pytest.approx(2 * end[0])
    assert rim.cup_floor == pytest.approx(rim.curve.start[0, 1])


def test_fully_round_edges_are_single_arcs() -> None:
    # With crown and edge of one radius the two arcs are one circle, and the bite's reaches the high point.
    inner = 2.5 * sqrt(2)
    d = replace(DEMO, width_mm=5, high_point=0.5, bite_radius_mm=inner, inner_crown_radius_mm=inner,
                shoulder_radius_mm=2.5, outer_crown_radius_mm=2.5, cup_wall_angle_deg=90)
    curve = rim_from_dimensions(d).curve
    assert curve.radius[curve.is_arc] == pytest.approx([2.5 * sqrt(2), 2.5])
    assert np.degrees(curve.sweep[curve.is_arc]) == pytest.approx([90, 90])


def test_all_faults_come_at_once_with_their_limits() -> None:
    wrong = RimDimensions(inner_diameter_mm=-1, width_mm=5.2, high_point=0.45, bite_radius_mm=4,
                          inner_crown_radius_mm=2, outer_crown_radius_mm=1, shoulder_radius_mm=3,
                          cup_wall_angle_deg=30, cup_depth_mm=float("nan"))
    allowed = faults_of(wrong)
    assert list(allowed) == ["rim.inner_diameter_mm", "rim.cup_wall_angle_deg", "rim.cup_depth_mm",
                             "rim.bite_radius_mm", "rim.inner_crown_radius_mm", "rim.shoulder_radius_mm",
                             "rim.outer_crown_radius_mm"]
    # sqrt(2) x 0.45 x 5.2 = 3.3093; 0.55 x 5.2 = 2.86.
    assert allowed["rim.bite_radius_mm"] == "at most 3.309 mm for this width and high point"
    assert allowed["rim.inner_crown_radius_mm"] == 'at least 3.31 mm for this width and high point, or "flat"'
    assert allowed["rim.shoulder_radius_mm"] == "at most 2.86 mm for this width and high point"
    assert allowed["rim.outer_crown_radius_mm"] == 'at least 2.86 mm for this width and high point, or "flat"'
    assert allowed["rim.cup_wall_angle_deg"] == "more than 45 and at most 90 degrees"


@pytest.mark.parametrize(
    ("key", "good", "bad"),
    [
        ("bite_radius_mm", 3.309, 3.31), ("bite_radius_mm", 0.02, 0.0199),
        ("inner_crown_radius_mm", 3.31, 3.309), ("inner_crown_radius_mm", inf, 0.0),
        ("shoulder_radius_mm", 2.86, 2.861), ("shoulder_radius_mm", 0.02, 0.0),
        ("outer_crown_radius_mm", 2.86, 2.859), ("high_point", 0.65, 1.0), ("high_point", 0.3, 0.0),
        ("cup_wall_angle_deg", 90.0, 90.1), ("cup_wall_angle_deg", 45.1, 45.0),
        ("cup_depth_mm", 0.125, 0.124), ("width_mm", 4.0, inf),
        ("inner_diameter_mm", 0.191, 0.19), ("inner_diameter_mm", 20.0, float("nan")),
    ],
)
def test_the_limits_are_where_the_messages_say(key: str, good: float, bad: float) -> None:
    # Cup: 0.6 (sqrt(1/2) - cos 60) = 0.1243 mm deep; 1.2 (sin 60 - sqrt(1/2)) = 0.1907 mm wide.
    rim_from_dimensions(replace(DEMO, **{key: good}))
    assert f"rim.{key}" in faults_of(replace(DEMO, **{key: bad}))


def test_too_long_a_run_outside_names_the_crown_it_needs() -> None:
    allowed = faults_of(replace(DEMO, high_point=0.1, width_mm=10))
    assert allowed == {"rim.outer_crown_radius_mm": 'at least 9 mm for this width and high point, or "flat"'}


def test_high_point_moves_along_the_profile_in_proportion() -> None:
    # The bite point stays where it is in r, and comes to stand deeper below a high point further away.
    rims = [rim_from_dimensions(replace(DEMO, high_point=f)) for f in (0.35, 0.45, 0.55)]
    steps = np.diff([rim.high_point_radius for rim in rims])
    assert steps == pytest.approx([0.52, 0.52])
    assert {rim.bite[0] for rim in rims} == {8.25}
    assert rims[0].bite[1] < rims[1].bite[1] < rims[2].bite[1]
