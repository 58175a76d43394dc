"""Fields: what is read at the nodes, and how the curved elements are cut up to be drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.collections import LineCollection
from matplotlib.contour import ContourSet

from labrum.reports.figures import fields
from labrum.reports.figures.fields import TISSUE_QUANTITIES, field_figure, field_table, subdivided
from labrum.simulate.outcome import Section


def with_stress(outcome, stress):
    return replace(outcome.section, cauchy_kpa=np.broadcast_to(stress, outcome.section.cauchy_kpa.shape))


def test_tissue_pressure_is_what_a_fluid_would_feel(outcome):
    assert fields.tissue_pressure(with_stress(outcome, [-7.0, -7.0, -7.0, 0.0])) == pytest.approx(7.0)
    assert fields.tissue_pressure(with_stress(outcome, [3.0, 0.0, 0.0, 5.0])) == pytest.approx(-1.0)


def test_largest_shear_agrees_with_the_eigenvalues_of_the_whole_tensor(outcome):
    rng = np.random.default_rng(3)
    stress = rng.normal(size=outcome.section.cauchy_kpa.shape)
    tensor = np.zeros((len(stress), 3, 3))
    tensor[:, 0, 0], tensor[:, 1, 1], tensor[:, 2, 2] = stress[:, :3].T
    tensor[:, 0, 1] = tensor[:, 1, 0] = stress[:, 3]
    principal = np.linalg.eigvalsh(tensor)
    assert fields.largest_shear(with_stress(outcome, stress)) == pytest.approx(np.ptp(principal, axis=1) / 2)


def at_rest(section):
    return replace(section, deformed=section.rest)


@pytest.mark.parametrize("parts", [2, 3, 4])
def test_cutting_up_reproduces_quadratics_exactly(outcome, parts):
    section = at_rest(outcome.section)

    def quadratic(places):
        r, z = places.T
        return 1.0 + r - 2.0 * z + 0.1 * r**2 - 0.3 * r * z + 0.2 * z**2

    places, triangles, values = subdivided(section, quadratic(section.rest), parts)
    assert values == pytest.approx(quadratic(places), abs=1e-9)
    assert len(triangles) == len(section.quads) * 2 * parts**2


def test_the_pieces_fit_together_without_gap_or_overlap(outcome):
    places, triangles, _ = subdivided(at_rest(outcome.section), outcome.section.stretch, 4)
    a, b, c = places[triangles].transpose(1, 0, 2)
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    assert np.all(double > 0)
    assert double.sum() / 2 == pytest.approx(25.0 * 11.5)
    edges = np.unique(np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1), axis=0)
    assert len(places) - len(edges) + len(triangles) == 1, "Euler: one sheet without holes"


def test_curved_edges_are_followed_at_second_order():
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0.5, 0], [1, 0.5], [0.5, 1.3], [0, 0.5], [0.5, 0.5]])
    section = Section(square, square, np.arange(9)[None], np.zeros(1, int), ("one",), np.zeros((9, 4)), np.ones(9))
    missing = []
    for parts in (2, 4, 8):
        places, triangles, _ = subdivided(section, section.stretch, parts)
        a, b, c = places[triangles].transpose(1, 0, 2)
        area = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]).sum() / 2
        missing.append(1.0 + 0.2 - area)
    assert np.log2(np.array(missing[:-1]) / missing[1:]) == pytest.approx(2.0, abs=1e-6)


def test_values_between_nodes_stay_within_the_nodes_range(outcome):
    spike = np.zeros(len(outcome.section.rest))
    spike[outcome.section.quads[100, 4]] = 1.0
    assert subdivided(outcome.section, spike, 4)[2].min() == 0.0


@pytest.mark.parametrize("name", TISSUE_QUANTITIES)
def test_every_quantity_is_drawn_with_symbol_unit_and_a_scale_that_holds_it(outcome, name):
    quantity = TISSUE_QUANTITIES[name]
    figure = field_figure(outcome, quantity)
    axes, bar = figure.axes
    assert bar.get_xlabel() == quantity.label
    assert quantity.symbol in quantity.label
    assert quantity.label.endswith("(kPa)") or name == "stretch"
    shades = next(c for c in axes.collections if isinstance(c, ContourSet) and c.filled)
    values = quantity.values(outcome.section)
    assert shades.levels[0] <= values.min() <= values.max() <= shades.levels[-1]
    assert np.diff(shades.levels) == pytest.approx(np.diff(shades.levels)[0])
    if quantity.signed:
        assert shades.norm.vmin == -shades.norm.vmax
    else:
        assert shades.norm.vmin >= 0.0


def test_the_sign_can_be_told_without_colour(outcome):
    figure = field_figure(outcome, fields.SHEAR)
    rules = next(c for c in figure.axes[0].collections if isinstance(c, ContourSet) and not c.filled)
    for level, dashes in zip(rules.levels, rules.linestyles, strict=True):
        assert dashes == ("dashed" if level < 0 else "solid")


def test_an_even_field_still_has_a_scale(outcome):
    even = replace(outcome, section=replace(outcome.section, stretch=np.ones(len(outcome.section.rest))))
    figure = field_figure(even, fields.STRETCH)
    assert figure.axes[1].get_xlim()[0] < 1.0 < figure.axes[1].get_xlim()[1]


def test_the_mesh_is_ruled_only_when_asked_each_edge_once(outcome):
    def rules(**how):
        drawn = field_figure(outcome, fields.STRETCH, **how).axes[0].collections
        return [c for c in drawn if type(c) is LineCollection]

    assert rules() == []
    (mesh,) = rules(show_mesh=True)
    quads = outcome.section.quads
    assert len(mesh.get_segments()) == len(np.unique(quads[:, 4:8]))


def test_the_table_pairs_places_and_values(outcome):
    table = field_table(outcome, fields.LARGEST_SHEAR)
    assert table.columns == ("r_rest_mm", "z_rest_mm", "r_mm", "z_mm", "largest_shear_kpa")
    rows = np.array(table.rows)
    assert np.array_equal(rows[:, :4], np.hstack([outcome.section.rest, outcome.section.deformed]))
    assert np.array_equal(rows[:, 4], fields.largest_shear(outcome.section))
    assert field_table(outcome, fields.STRETCH).columns[-1] == "stretch"
