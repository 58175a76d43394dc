"""Rims read from outlines: high point and bite point on shapes known by hand, and every fault."""

from dataclasses import replace
from math import inf, pi, sqrt, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labrum.meshes.curves.curve import Curve
from labrum.meshes.faults import Fault, GeometryError
from labrum.meshes.rims.outline import lowest_place, rim_from_outline
from labrum.meshes.rims.rim import Rim, RimDimensions, rim_from_dimensions

DEMO = RimDimensions(16.5, 5.2, 0.45, 0.6, 6.0, 8.0, 1.8, 60.0, 10.0)
ROOT_HALF = sqrt(0.5)
QUARTER = tan(pi / 8)
EIGHTH = tan(pi / 16)


def faults_of(vertices: object, source: str = "outline") -> tuple[Fault, ...]:
    with pytest.raises(GeometryError) as caught:
        rim_from_outline(vertices, source)  # type: ignore[arg-type]
    return caught.value.faults


def same_places(one: Rim, other: Rim) -> bool:
    def places(rim: Rim) -> list[float]:
        return [*rim.bite, rim.high_point_radius, rim.outer_radius, rim.bite_radius, rim.cup_end]

    return places(one) == pytest.approx(places(other), abs=1e-9)


@settings(deadline=None, max_examples=150, derandomize=True)
@given(
    st.floats(3.0, 9.0), st.floats(0.2, 0.8), st.floats(0.1, 0.9), st.floats(1.05, 20.0),
    st.floats(46.0, 90.0), st.floats(-50.0, 50.0),
)
def test_the_vertices_of_a_drawn_rim_give_it_again(
    width: float, high_point: float, edge: float, crown: float, wall: float, lift: float
) -> None:
    inner, outer = sqrt(2) * high_point * width, (1 - high_point) * width
    drawn = rim_from_dimensions(RimDimensions(
        24.0, width, high_point, edge * inner, crown * inner, crown * outer, edge * outer, wall, 10.0))
    read = rim_from_outline(drawn.curve.vertices + np.array([0, lift, 0]))
    assert same_places(read, drawn)
    assert read.cup_floor == pytest.approx(drawn.cup_floor)
    assert read.source == "outline"


def test_at_the_limit_the_sharper_piece_gives_the_bite_its_radius() -> None:
    # The crown's arc ends just at 45 degrees, where the bite's begins.
    drawn = rim_from_dimensions(replace(DEMO, inner_crown_radius_mm=sqrt(2) * 0.45 * 5.2))
    assert same_places(rim_from_outline(drawn.curve.vertices), drawn)


def test_a_flat_rim_has_its_high_point_in_the_middle_of_the_flat() -> None:
    drawn = rim_from_dimensions(replace(DEMO, inner_crown_radius_mm=inf, outer_crown_radius_mm=inf))
    read = rim_from_outline(drawn.curve.vertices)
    assert read.high_point_radius == pytest.approx(0.5 * (8.25 + 0.6 * ROOT_HALF + 8.25 + 5.2 - 1.8))
    assert read.bite == pytest.approx(drawn.bite)


@pytest.mark.parametrize("pieces", [1, 2, 4, 12])
def test_a_round_rim_alone_has_no_cup(pieces: int) -> None:
    # A half circle of radius 2 about (10, 2), in one arc or several.
    angle = np.linspace(pi, 2 * pi, pieces + 1)
    bulges = [*np.full(pieces, tan(pi / pieces / 4)), 0.0]
    rim = rim_from_outline(np.column_stack([10 + 2 * np.cos(angle), 2 + 2 * np.sin(angle), bulges]))
    assert rim.bite == pytest.approx((10 - 2 * ROOT_HALF, 2 - 2 * ROOT_HALF))
    assert rim.high_point_radius == pytest.approx(10)
    assert (rim.outer_radius, rim.bite_radius) == pytest.approx((12, 2))
    assert rim.cup_end == 0
    assert rim.cup_floor is None


def test_outer_radius_is_read_on_the_arc_where_that_bulges_beyond_its_ends() -> None:
    # Three quarters of a circle of radius 2 about (10, 2), from the inside to the top.
    rim = rim_from_outline([[8, 2, tan(3 * pi / 8)], [10, 4, 0]])
    assert rim.outer_radius == pytest.approx(12)


def test_a_chamfer_at_45_degrees_has_its_bite_at_its_outer_end() -> None:
    # Wall, chamfer from (8, 1.5) to (9, 0.5), an arc of radius 1 down to the level, and up at the outside.
    ahead = 9 + ROOT_HALF
    low = 0.5 - (1 - ROOT_HALF)
    rows = [[8, 4, 0], [8, 1.5, 0], [9, 0.5, EIGHTH], [ahead, low, QUARTER], [ahead + 2, low + 2, 0]]
    first = faults_of(rows)
    assert [f.key for f in first] == ["rim.outline_mm[1]"]  # the wall meets the chamfer in a sharp edge
    rim = rim_from_outline(rows[1:])
    assert rim.bite == pytest.approx((9, 0.5 - low))
    assert rim.bite_radius == pytest.approx(1)
    assert rim.cup_end == pytest.approx(sqrt(2))
    assert rim.cup_floor == pytest.approx(1.5 - low)


def test_a_bite_divided_into_arcs_is_kept_whole() -> None:
    # Half circles of 0.6 mm in three unequal arcs, as a fit leaves them, on a wall of 80 degrees.
    headings = np.radians([-80, -55, -40, 0])
    radii = [0.9, 0.6, 0.7]
    r, s = [8.0], [3.0]
    for radius, a, b in zip(radii, headings, headings[1:], strict=False):
        r.append(r[-1] + radius * (np.sin(b) - np.sin(a)))
        s.append(s[-1] - radius * (np.cos(b) - np.cos(a)))
    bulges = [*np.tan(np.diff(headings) / 4), QUARTER]
    rows = [[8 - np.cos(headings[0]), 3 - np.sin(headings[0]), 0], *zip(r, s, bulges, strict=True),
            [r[-1] + 3, s[-1] + 3, 0]]
    rim = rim_from_outline(rows)
    assert rim.bite_radius == pytest.approx(0.6)
    assert rim.cup_end == pytest.approx(1)
    tangent = rim.curve.tangent_at(rim.curve.nearest(np.array([rim.bite])).arc_length)[0]
    assert tangent == pytest.approx([ROOT_HALF, -ROOT_HALF])


def test_a_polygon_fine_enough_to_pass_gives_the_bite_about_the_circles_radius() -> None:
    # 200 chords of a half circle turn by 0.9 degrees each.
    angle = np.linspace(pi, 2 * pi, 201)
    rim = rim_from_outline(np.column_stack([10 + 2 * np.cos(angle), 2 + 2 * np.sin(angle), np.zeros(201)]))
    assert rim.bite == pytest.approx((10 - 2 * ROOT_HALF, 2 - 2 * ROOT_HALF), abs=0.02)
    assert rim.bite_radius == pytest.approx(2, rel=1e-3)


def test_the_lower_of_two_ridges_is_the_high_point() -> None:
    # Two round ridges of radius 1, the outer 0.25 mm lower, a groove between them.
    left = [[6, 1.25, QUARTER], [7, 0.25, QUARTER]]
    groove = [[8, 1.25, 0], [8, 2, -1], [9, 2, 0]]
    right = [[9, 1, QUARTER], [10, 0, QUARTER], [11, 1, 0]]
    rim = rim_from_outline([*left, *groove, *right])
    assert rim.high_point_radius == pytest.approx(10)
    assert rim.bite == pytest.approx((10 - ROOT_HALF, 1 - ROOT_HALF))


def test_lowest_place_on_an_arc_between_its_ends() -> None:
    where, low = lowest_place(Curve.from_vertices([[4, 1, 0.3], [8, 2, 0]]))
    dense = Curve.from_vertices([[4, 1, 0.3], [8, 2, 0]]).at(np.linspace(0, 6, 200001))
    assert low == pytest.approx(dense[:, 1].min(), abs=1e-8)
    assert where == pytest.approx(6 * dense[:, 1].argmin() / 200000, abs=1e-4)


def test_rows_that_are_no_rows() -> None:
    assert faults_of([[1, 2], [3, 4]])[0].allowed.startswith("two or more rows of three numbers")
    assert faults_of([[1, 2, 3], [1]])[0].key == "rim.outline_mm"
    assert faults_of([[1, 2, 0]])[0].got == "an array of shape (1, 3)"
    assert faults_of([["a", 2, 0], [3, 4, 0]])[0].got == "rows of different lengths, or not of numbers"


def test_every_bad_row_is_named() -> None:
    found = faults_of([[0, 0, np.nan], [1, 1, 0], [1, 1, 0], [2, inf, 0]])
    assert [f.key for f in found] == ["rim.outline_mm[0]", "rim.outline_mm[3]", "rim.outline_mm[2]"]
    assert found[1].got == "[2.0, inf, 0.0]"


def test_a_trace_names_itself() -> None:
    assert {f.key for f in faults_of([[0, 0, np.nan], [1, 1, 0], [1, 1, 0]], "trace")} == {"rim.trace"}


def test_the_wrong_way_round() -> None:
    rows = rim_from_dimensions(DEMO).curve.vertices
    backwards = np.column_stack([rows[::-1, :2], [*(-rows[-2::-1, 2]), 0]])
    (fault,) = faults_of(backwards)
    assert fault.got == "rows from the outside to the cup"


def test_upside_down_is_noticed() -> None:
    rows = rim_from_dimensions(DEMO).curve.vertices * (1, -1, -1)
    (fault,) = faults_of(rows)
    assert fault.got == "its lowest point at an end, r = 13.45 mm"
    assert fault.hint == "s grows away from the lip"


def test_no_inner_edge_steep_enough() -> None:
    # An arc of 40 degrees on either side of its lowest point.
    (fault,) = faults_of([[8, 1, tan(np.radians(80) / 4)], [12, 1, 0]])
    assert fault.got == "an inner edge that rises at 40.0 degrees at most"
    assert "45 degrees" in fault.allowed


def test_sharp_edges_are_named_with_the_radius_to_give_them() -> None:
    (fault,) = faults_of([[8, 3, 0], [8, 0.5, QUARTER], [8.5, 0, 0], [12, 0, 0], [12, 3, 0]])
    assert fault.key == "rim.outline_mm[3]"
    assert fault.got == "a sharp edge of 90.0 degrees at r = 12 mm"
    assert "0.02 mm" in fault.allowed


def test_edges_too_small_to_be_made_are_named() -> None:
    (fault,) = faults_of([[8, 3, 0], [8, 0.01, QUARTER], [8.01, 0, 0], [11, 0, QUARTER], [12, 1, 0]])
    assert fault.key == "rim.outline_mm[1]"
    assert fault.got == "an edge of radius 0.01 mm at r = 8 mm"


def test_hollow_corners_are_welcome() -> None:
    rim = rim_from_outline([[0, 5, 0], [7, 5, 0], [7, 2, QUARTER], [9, 0, QUARTER], [11, 2, 0]])
    assert rim.cup_floor == pytest.approx(5)
    assert rim.cup_end == pytest.approx(10)


def test_an_arc_that_reaches_over_the_axis() -> None:
    # Three quarters of a circle of radius 1.5 about (1, 3): both ends lie at r > 0.
    (fault,) = faults_of([[1, 4.5, tan(3 * pi / 8)], [2.5, 3, 0]])
    assert fault.got == "r = -0.5 mm"


def test_crossings_are_reported_where_they_are() -> None:
    found = faults_of([[7, 3, 0], [9, 1, QUARTER], [10, 0, QUARTER], [12, 2, 0], [6, 2.5, 0]])
    assert any("meets itself at r = 7.636 mm, s = 2.364 mm" in f.got for f in found)


def test_all_faults_come_at_once() -> None:
    found = faults_of([[-1, 2, 0], [3, 0, 0], [8, 0, 0], [4, 3, 0], [4, -1, 0.5], [9, 4, 0]])
    told = " ".join(f.got for f in found)
    assert "meets itself" in told
    assert "sharp edge" in told
    assert "r = -1 mm" in told
