"""Outlines, cuts and arc lengths against plain geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from labrum.meshes.curves.polygons import enclosed, half_plane
from labrum.reports.house_style import shapes
from labrum.simulate.outcome import Section
from tests.reports import sample_outcome as sample

SQUARE = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0.5, 0], [1, 0.5], [0.5, 1], [0, 0.5], [0.5, 0.5]], dtype=float)


def section_of(deformed):
    n = len(deformed)
    return Section(deformed, deformed, np.arange(9)[None], np.array([0]), ("one",), np.zeros((n, 4)), np.ones(n))


def bulged(height):
    """A unit square whose top edge is a parabola of the given height."""
    places = SQUARE.copy()
    places[6, 1] += height
    return section_of(places)


def test_a_curved_edge_encloses_the_parabolas_area_at_second_order():
    # Archimedes: a parabola's segment is two thirds of its box.
    exact = 1.0 + 2.0 / 3.0 * 0.3
    errors = [exact - enclosed(shapes.outlines(bulged(0.3), chord_mm=0.3001 / n**2)[0]) for n in (2, 4, 8, 16)]
    assert np.log2(np.array(errors[:-1]) / errors[1:]) == pytest.approx(2.0, abs=1e-6)
    assert errors[-1] < 1e-3


def test_straight_edges_cost_a_point_each_and_bent_ones_stray_no_further_than_asked():
    assert len(shapes.outlines(bulged(0.0))[0]) == 4
    (outline,) = shapes.outlines(bulged(0.3), chord_mm=0.01)
    arch = outline[outline[:, 1] > 0.0]
    r = np.linspace(0.0, 1.0, 2001)
    chords = np.interp(r, *arch[np.argsort(arch[:, 0])].T)
    assert np.abs(chords - (1.0 + 1.2 * r * (1.0 - r))).max() <= 0.01


def test_the_outline_of_a_grid_is_one_loop_with_the_tissue_on_its_left(outcome):
    rest = outcome.section.__class__(
        outcome.section.rest,
        outcome.section.rest,
        *(getattr(outcome.section, k) for k in ("quads", "layer", "layer_names", "cauchy_kpa", "stretch")),
    )
    (loop,) = shapes.outlines(rest)
    assert enclosed(loop) == pytest.approx(25.0 * 11.5, rel=1e-12)
    layers = [shapes.outlines(rest, rest.layer == k)[0] for k in range(3)]
    assert [enclosed(p) for p in layers] == pytest.approx([25 * 1.2, 25 * 9.4, 25 * 0.9], rel=1e-12)


def test_a_hole_gives_a_second_loop_the_other_way_round():
    _, quads, _, _ = sample.grid(0.0, (8.0, 12.0))
    rest = sample.grid(0.0, (8.0, 12.0))[0]
    kept = np.delete(quads, 200, axis=0)
    hole = rest[quads[200, :4]]
    loops = shapes.boundary_loops(kept)
    areas = sorted(enclosed(rest[loop[:, 0]]) for loop in loops)
    assert len(areas) == 2
    assert areas[0] == pytest.approx(-np.ptp(hole[:, 0]) * np.ptp(hole[:, 1]))


coordinate = st.floats(-5.0, 5.0, allow_nan=False)


@given(st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=12), st.sampled_from((0, 1)), coordinate)
def test_the_two_sides_of_a_cut_share_out_the_area(points, axis, limit):
    polygon = np.array(points)
    sides = [half_plane(polygon, axis, limit, above) for above in (True, False)]
    assert sum(enclosed(s) for s in sides if len(s)) == pytest.approx(enclosed(polygon), abs=1e-9)
    assert np.all(sides[0][:, axis] >= limit - 1e-12)
    assert np.all(sides[1][:, axis] <= limit + 1e-12)


def test_cutting_nothing_leaves_nothing():
    assert len(half_plane(np.empty((0, 2)), 0, 1.0, above=True)) == 0


def test_tissue_past_the_bite_lies_beyond_the_plane_and_inside_the_bite(outcome):
    radius, plane = shapes.bite_plane(outcome)
    (polygon,) = shapes.past_bite(outcome)
    assert polygon[:, 1].min() == pytest.approx(plane)
    assert polygon[:, 0].max() <= radius + 1e-12
    assert polygon[:, 1].max() - plane == pytest.approx(outcome.measures.intrusion_height_mm)


def test_tissue_past_the_bite_has_the_section_and_the_volume_the_surface_tells(outcome):
    radius, plane = shapes.bite_plane(outcome)
    (polygon,) = shapes.past_bite(outcome)
    r = np.linspace(0.0, radius, 20001)
    height = np.clip(np.interp(r, *outcome.lip_surface[:, 1:].T) - plane, 0.0, None)
    assert enclosed(polygon) == pytest.approx(trapezoid(height, r), rel=1e-3)
    x, y = polygon.T
    x1, y1 = np.roll(x, -1), np.roll(y, -1)
    # Pappus: the turned volume is 2 pi times the section's first moment about the axis.
    moment = np.sum((x + x1) * (x * y1 - x1 * y)) / 6.0
    assert 2 * np.pi * moment == pytest.approx(outcome.measures.intrusion_volume_mm3, rel=5e-3)


def test_nothing_is_past_the_bite_of_a_rim_that_hardly_sinks():
    shallow = sample.invent(sample.demo_rim(), sample.Invented(sink=0.3, middle=-0.25, inside_bite=-0.1))
    assert not shallow.measures.past_bite
    assert shapes.past_bite(shallow) == []


def test_the_metal_is_where_metal_is(outcome):
    rim, sink = outcome.rim, outcome.measures.sink_mm
    body = shapes.compound([shapes.metal(rim, sink, 4.0)])
    inside, cup, tissue, outside = (10.6, -1.0), (2.0, 1.0), (10.6, -3.5), (14.0, 0.0)
    assert [body.contains_point(p) for p in (inside, cup, tissue, outside)] == [True, False, False, False]


def test_arc_length_along_a_crown_is_its_radius_times_the_angle(outcome):
    rim, sink = outcome.rim, outcome.measures.sink_mm
    angle = np.array([-0.2, -0.1, 0.0, 0.05])
    crown = np.where(angle < 0, 6.0, 8.0)
    places = np.column_stack([rim.high_point_radius + crown * np.sin(angle), crown * (1 - np.cos(angle)) - sink])
    assert shapes.along_rim(rim, sink, places) == pytest.approx(crown * angle, abs=1e-9)
    # A point off the curve counts as its foot.
    lifted = places + 0.1 * np.column_stack([-np.sin(angle), np.cos(angle)])
    assert shapes.along_rim(rim, sink, lifted) == pytest.approx(crown * angle, abs=1e-9)
