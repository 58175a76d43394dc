"""The section shows layers, metal, bite plane, tissue past it, and the pressure to scale."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib import colormaps
from matplotlib.figure import Figure

from labrum.reports.figures.mouth import mouth_figure, mouth_table
from labrum.reports.figures.section import (
    BAND_MM,
    Window,
    draw_metal,
    pressed_runs,
    pressure_scale,
    section_figure,
    section_table,
    spread_apart,
)
from tests.reports import sample_outcome as sample


@pytest.fixture(scope="module")
def axes(outcome):
    return section_figure(outcome).axes[0]


def patch(axes, label):
    return next(p for p in axes.patches if p.get_label() == label)


def test_axes_are_at_one_scale_with_units(axes):
    assert axes.get_aspect() == 1.0
    assert axes.get_xlabel() == "radius from the axis, r (mm)"
    assert axes.get_ylabel() == "height, z (mm)"


def test_the_window_holds_the_press_the_rim_and_the_tissue_past_the_bite(axes, outcome):
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    assert left == 0.0
    assert outcome.rim.outer_radius < right <= 25.0
    assert -11.5 < bottom < -outcome.measures.sink_mm - 3.0
    assert Window.around([outcome]).bottom < -11.5, "other figures show the whole depth"
    assert top > outcome.section.deformed[:, 1].max()
    assert top > outcome.rim.bite[1] - outcome.measures.sink_mm


def test_every_layer_is_drawn_between_its_nodes_and_named(axes, outcome):
    for number, name in enumerate(outcome.section.layer_names):
        nodes = outcome.section.deformed[np.unique(outcome.section.quads[outcome.section.layer == number])]
        drawn = patch(axes, name).get_path().vertices
        assert drawn.min(axis=0) == pytest.approx(nodes.min(axis=0), abs=0.02)
        assert drawn.max(axis=0) == pytest.approx(nodes.max(axis=0), abs=0.02)
    said = [t.get_text() for t in axes.texts]
    assert said == ["skin", "core", "the lip goes on, mucosa, teeth at z = −11.5 mm"], "what is left out is told"


def test_a_thin_lip_is_shown_to_the_teeth(outcome):
    deep = replace(outcome, measures=replace(outcome.measures, sink_mm=7.0))
    axes = section_figure(deep).axes[0]
    assert axes.get_ylim()[0] < -11.5
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


def bands_of(axes):
    return [c for c in axes.collections if c.get_label() == "contact pressure"]


def test_the_pressure_is_a_band_on_the_metal_that_covers_no_tissue(axes, outcome):
    contact, (band,) = outcome.contact, bands_of(axes)
    strips = np.array([path.vertices[:4] for path in band.get_paths()])
    normal = np.column_stack([np.interp(strips[:, 0, 0], contact.place[:, 0], contact.normal[:, k]) for k in (0, 1)])
    across = np.einsum("nd,nd->n", strips[:, 3] - strips[:, 0], normal)
    assert across == pytest.approx(-BAND_MM, abs=0.02), "against the normal, which points into the tissue"


def test_the_bands_colours_are_those_of_the_scale(axes, outcome):
    (band,) = bands_of(axes)
    strips = np.array([path.vertices[:4] for path in band.get_paths()])
    place = strips[:, :2, 0].mean(axis=1)
    pressed = np.interp(place, *outcome.pressure_profile.T)
    wanted = colormaps["viridis_r"](pressure_scale([outcome])(pressed))
    inside = (place > place.min() + 0.3) & (place < place.max() - 0.3)
    assert band.get_facecolors()[inside] == pytest.approx(wanted[inside], abs=0.06)


def test_compared_rims_share_the_scale_that_is_given(outcome):
    figure = section_figure(outcome, pressure_to_kpa=400.0)
    assert figure.axes[-1].get_xlim() == (0.0, 400.0)
    assert pressure_scale([outcome]).vmax == outcome.measures.peak_pressure_kpa


def test_the_close_up_is_about_the_bite_and_marks_it(outcome):
    close = section_figure(outcome).axes[1]
    height = outcome.rim.bite[1] - outcome.measures.sink_mm
    assert np.mean(close.get_xlim()) == pytest.approx(8.25)
    assert np.mean(close.get_ylim()) == pytest.approx(height)
    (point,) = [line for line in close.get_lines() if line.get_label() == "bite point"]
    assert point.get_xydata()[0] == pytest.approx([8.25, height])
    assert [t.get_text() for t in close.texts] == ["bite point", f"peak {outcome.measures.peak_pressure_kpa:.0f} kPa"]


def test_the_legend_says_the_intrusion_and_the_bar_the_pressure(outcome):
    figure = section_figure(outcome)
    said = [t.get_text() for t in figure.legends[0].get_texts()]
    m = outcome.measures
    assert f"past the bite: {m.intrusion_height_mm:.2f} mm, {m.intrusion_volume_mm3:.0f} mm³" in said
    assert figure.axes[-1].get_xlabel() == "contact pressure, p (kPa): the band on the metal"


def test_two_runs_of_contact_are_two_bands(outcome):
    pressure = outcome.contact.pressure_kpa.copy()
    pressure[4:7] = 30.0
    touched = replace(outcome, contact=replace(outcome.contact, pressure_kpa=pressure))
    assert len(bands_of(section_figure(touched).axes[0])) == 2


def test_an_outline_that_ends_early_is_broken_off_where_it_ends(outcome):
    axes = Figure().add_subplot()
    draw_metal(axes, outcome.rim, 0.0, 40.0)
    body = patch(axes, "rim, cut").get_path().vertices
    ends = outcome.rim.curve.sample(0.01)[[0, -1], 1]
    assert body[:, 1].max() == pytest.approx(ends.min(), abs=1e-6)


def test_the_mouth_has_both_lips_and_names_its_parts(outcome):
    figure = mouth_figure(replace(outcome, tooth_gap_mm=4.0), "A mouth", "A caution.")
    axes = figure.axes[0]
    said = [t.get_text() for t in axes.texts]
    assert said == ["upper lip", "lower lip", "teeth", "teeth", "cup", "rim", "mouth"]
    skins = [p.get_path().vertices for p in axes.patches if p.get_label() == "skin"]
    assert sorted(np.sign(v[:, 1].sum()) for v in skins) == [-1.0, 1.0]
    teeth = [p for p in axes.patches if p.get_hatch() == "...."]
    assert sorted(p.get_y() if p.get_y() > 0 else p.get_y() + p.get_height() for p in teeth) == [-4.0, 4.0]
    assert axes.get_aspect() == 1.0


def test_an_opening_is_named_in_the_mouth(outcome):
    opened = sample.invent(sample.demo_rim(), sample.Invented(opening=2.0))
    assert "opening" in [t.get_text() for t in mouth_figure(opened).axes[0].texts]
    assert set(mouth_table(outcome).column("part")) == {"skin", "core", "mucosa", "rim"}


def test_runs_take_in_one_free_node_at_either_end():
    runs = [(s.start, s.stop) for s in pressed_runs(np.array([2.0, 0, 0, 1, 3, 0, 4]))]
    assert runs == [(0, 2), (2, 6), (5, 8)]


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
