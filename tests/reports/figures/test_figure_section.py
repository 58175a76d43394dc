"""The section shows layers, metal, bite plane, tissue past it, and the pressure to scale."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.patches import PathPatch

from labrum.reports.figures.section import Window, band_scale, pressed_runs, section_figure, section_table, spread_apart
from tests.reports import sample_outcome as sample


@pytest.fixture(scope="module")
def axes(outcome):
    return section_figure(outcome).axes[0]


def patch(axes, label):
    return next(p for p in axes.patches if p.get_label() == label)


def test_axes_are_at_one_scale_with_units(axes):
    assert axes.get_aspect() == 1.0
    assert axes.get_xlabel() == "radius from the axis, r (mm)"
    assert axes.get_ylabel() == "height above the resting lip, z (mm)"


def test_the_window_holds_the_lip_the_rim_and_the_tissue_past_the_bite(axes, outcome):
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    assert left == 0.0
    assert outcome.rim.outer_radius < right <= 25.0
    assert bottom < -11.5
    assert top > outcome.section.deformed[:, 1].max()
    assert top > outcome.rim.bite[1] - outcome.measures.sink_mm


def test_every_layer_is_drawn_between_its_nodes_and_named(axes, outcome):
    for number, name in enumerate(outcome.section.layer_names):
        nodes = outcome.section.deformed[np.unique(outcome.section.quads[outcome.section.layer == number])]
        drawn = patch(axes, name).get_path().vertices
        assert drawn.min(axis=0) == pytest.approx(nodes.min(axis=0), abs=0.02)
        assert drawn.max(axis=0) == pytest.approx(nodes.max(axis=0), abs=0.02)
    assert [t.get_text() for t in axes.texts] == ["skin", "core", "mucosa"]


def test_the_metal_is_hatched_and_stands_sunk_by_the_sink(axes, outcome):
    metal = patch(axes, "rim, cut")
    assert metal.get_hatch()
    assert metal.get_path().vertices[:, 1].min() == pytest.approx(-outcome.measures.sink_mm, abs=0.005)


def test_the_bite_plane_runs_from_the_axis_to_the_bite(axes, outcome):
    (plane,) = (line for line in axes.get_lines() if line.get_label() == "bite plane")
    height = outcome.rim.bite[1] - outcome.measures.sink_mm
    assert plane.get_xydata() == pytest.approx(np.array([[0.0, height], [8.25, height]]))


def test_only_tissue_past_the_bite_plane_and_inside_the_bite_is_shaded(axes, outcome):
    drawn = patch(axes, "past the bite").get_path().vertices
    assert drawn[:, 1].min() >= outcome.rim.bite[1] - outcome.measures.sink_mm - 1e-12
    assert drawn[:, 0].max() <= 8.25 + 1e-12


def test_nothing_is_shaded_or_explained_where_nothing_is_past_the_bite():
    shallow = sample.invent(sample.demo_rim(), sample.Invented(sink=0.3, middle=-0.25, inside_bite=-0.1, force=1.0))
    figure = section_figure(shallow)
    assert not [p for p in figure.axes[0].patches if p.get_label() == "past the bite"]
    assert not [t for t in figure.legends[0].get_texts() if "past the bite" in t.get_text()]


def test_the_pressure_band_stands_on_the_contact_along_the_normal_to_scale(axes, outcome):
    contact = outcome.contact
    (span,) = pressed_runs(contact.pressure_kpa)
    outline = patch(axes, "contact pressure").get_path().vertices[:-1]
    foot, head = np.split(outline, 2)
    head = head[::-1]
    assert foot == pytest.approx(contact.place[span])
    scale = band_scale(outcome.measures.peak_pressure_kpa)
    along = np.einsum("nd,nd->n", head - foot, contact.normal[span])
    assert along * scale == pytest.approx(contact.pressure_kpa[span])
    tallest = np.argmax(along)
    assert head[tallest, 1] < foot[tallest, 1], "the band lies in the tissue"
    assert np.hypot(*(head - foot).T) == pytest.approx(along, abs=1e-12)


def test_the_legend_says_the_bands_scale_and_the_intrusion(outcome):
    said = [t.get_text() for t in section_figure(outcome).legends[0].get_texts()]
    assert "pressure, 100 kPa per mm" in said
    m = outcome.measures
    assert f"past the bite: {m.intrusion_height_mm:.2f} mm, {m.intrusion_volume_mm3:.0f} mm³" in said


def test_two_runs_of_contact_are_two_bands(outcome):
    pressure = outcome.contact.pressure_kpa.copy()
    pressure[4:7] = 30.0
    touched = replace(outcome, contact=replace(outcome.contact, pressure_kpa=pressure))
    bands = [p for p in section_figure(touched).axes[0].patches if p.get_label() == "contact pressure"]
    assert len(bands) == 2
    assert all(isinstance(p, PathPatch) for p in bands)


def test_runs_take_in_one_free_node_at_either_end():
    runs = [(s.start, s.stop) for s in pressed_runs(np.array([2.0, 0, 0, 1, 3, 0, 4]))]
    assert runs == [(0, 2), (2, 6), (5, 8)]


@given(st.floats(1e-3, 1e5))
def test_the_bands_scale_is_round_and_keeps_the_peak_within_three_millimetres(peak):
    scale = band_scale(peak)
    assert 1.0 < peak / scale <= 3.0 * (1 + 1e-9)
    assert f"{scale:e}"[0] in "125"


@given(st.lists(st.floats(-12.0, 0.0), min_size=1, max_size=8), st.floats(0.1, 2.0))
def test_names_keep_their_order_and_their_distance(levels, gap):
    levels = sorted(levels, reverse=True)
    moved = spread_apart(levels, gap)
    assert all(a - b >= gap - 1e-9 for a, b in pairwise(moved))
    if all(a - b >= gap for a, b in pairwise(levels)):
        assert moved == pytest.approx(levels)
    assert np.mean(moved) == pytest.approx(np.mean(levels), abs=1e-9)


def test_an_opening_is_left_empty():
    opened = sample.invent(sample.demo_rim(), sample.Invented(opening=2.0))
    figure = section_figure(opened)
    assert patch(figure.axes[0], "skin").get_path().vertices[:, 0].min() > 1.9
    assert Window.around([opened]).right == pytest.approx(17.45)


def test_the_table_holds_the_drawn_lines(outcome):
    table = section_table(outcome)
    assert table.columns == ("part", "r_mm", "z_mm", "pressure_kpa")
    parts = np.array(table.column("part"))
    assert set(parts) == {"rim", "lip surface", "bite plane"}
    surface = np.array([row[1:] for row in table.rows if row[0] == "lip surface"])
    assert np.array_equal(surface, np.column_stack([outcome.contact.place, outcome.contact.pressure_kpa]))
    assert min(z for part, _, z, _ in table.rows if part == "rim") == pytest.approx(-3.0)
