"""Where contraction squeezes elements flat a new grid keeps their lines, and the state on them as it was."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from labrum.cases.case_file.reading import case_from_table, read_case
from labrum.simulate import solve
from labrum.simulate.load_path.adaptive_grid import Fineness, deformed_surfaces
from labrum.simulate.load_path.build import Stage, fitted_grid, model_on
from labrum.simulate.load_path.press import Pressed, move_on, press, refitted
from labrum.simulate.load_path.squeezed import SQUEEZED, merged, squeezed_lines
from labrum.simulate.load_path.transfer import displacement_at, transferred
from labrum.simulate.problem import Problem
from labrum.simulate.solving import silent

CONTRACTED = Stage("contract", 0.98)


def problem(rim: dict[str, float], lip: dict[str, Any], load: dict[str, float]) -> Problem:
    outline = {"high_point": 0.45, "inner_crown_radius_mm": 8.0, "outer_crown_radius_mm": 7.0}
    shape = {"shoulder_radius_mm": 1.5, "cup_wall_angle_deg": 55.0, "cup_depth_mm": 12.0}
    table = {"schema": 1, "title": "squeezed", "rim": outline | shape | rim, "lip": lip, "load": load}
    return case_from_table(table).problem


@pytest.fixture(scope="module")
def strong() -> Problem:
    """A fleshy lip grown to what is behind it, whose muscle all but closes the opening."""
    rim = {"inner_diameter_mm": 27.6, "width_mm": 5.1, "bite_radius_mm": 1.3}
    lip = {"type": "fleshy", "backing": "bonded", "radius_mm": 30.5, "opening_radius_mm": 2.04}
    return problem(rim, lip, {"force_n": 17.0, "muscle_activation": CONTRACTED.activation})


@pytest.fixture(scope="module")
def contracted(strong: Problem) -> Pressed:
    fineness = Fineness(largest=0.8)
    pressed = press(strong, fineness, silent)
    for share in (0.5, 1.0):
        pressed = move_on(strong, pressed, Stage("contract", share * CONTRACTED.activation), silent)
    return pressed


COARSE = Fineness(touching=0.09, ends=0.015, span=0.35, growth=1.0, hump=0.36)


def test_the_state_on_kept_lines_is_carried_over_as_it_stands(strong: Problem, contracted: Pressed) -> None:
    model, state = contracted.model, contracted.equilibrium.state
    kept = squeezed_lines(model, state)
    assert kept is not None
    new, carried = refitted(strong, model, state, COARSE, CONTRACTED)
    assert np.isin(kept.columns, new.elements.grid.columns).all()
    assert np.isin(kept.rows, new.elements.grid.rows).all()
    nodes = new.elements.grid.nodes
    inside = (nodes[:, 0] <= kept.columns[-1]) & (nodes[:, 1] <= kept.rows[-1])
    np.testing.assert_allclose(
        carried.u[inside], displacement_at(model.elements.grid, state.u, nodes[inside]), atol=1e-12
    )
    assert new.elements.smallest_ratio(carried.u) == pytest.approx(model.elements.smallest_ratio(state.u), rel=1e-9)


def test_on_lines_of_its_own_the_same_grid_turns_elements_inside_out(strong: Problem, contracted: Pressed) -> None:
    """Else nothing would be kept: what is measured here is why."""
    model, state = contracted.model, contracted.equilibrium.state
    surfaces = deformed_surfaces(model, state, pressed=True)
    new = model_on(strong, fitted_grid(strong, surfaces, COARSE), CONTRACTED)
    kept, free = (one.elements.smallest_ratio(transferred(model, state, one).u) for one in (model, new))
    assert kept < SQUEEZED
    assert free < 0.5 * kept


def test_nothing_is_kept_where_nothing_is_squeezed() -> None:
    demo = read_case("demo").problem
    pressed = press(demo, Fineness(), silent)
    assert squeezed_lines(pressed.model, pressed.equilibrium.state) is None


def test_layers_and_the_rims_columns_stay_where_they_were_asked_for(strong: Problem, contracted: Pressed) -> None:
    new, _ = refitted(strong, contracted.model, contracted.equilibrium.state, COARSE, CONTRACTED)
    grid, kept = new.elements.grid, squeezed_lines(contracted.model, contracted.equilibrium.state)
    assert kept is not None
    interfaces = -np.cumsum([layer.thickness for layer in strong.lip.layers])
    assert np.abs(grid.rows[:, None] - interfaces).min(axis=0).max() < 1e-9
    middle = 0.5 * (grid.rows[1:] + grid.rows[:-1])
    np.testing.assert_array_equal(grid.row_layer, np.searchsorted(-interfaces, -middle))
    assert kept.columns[-1] < 13.8  # the rim's inner radius


def test_lines_are_merged() -> None:
    lines, kept = np.linspace(0.0, 10.0, 11), np.array([2.1, 2.6, 3.1])
    got = merged(lines, kept, lines[[0, -1]])
    np.testing.assert_allclose(got, [0, 1, 2.1, 2.6, 3.1, 4, 5, 6, 7, 8, 9, 10])  # 2.0 is too near, 3.0 inside
    np.testing.assert_array_equal(merged(lines, lines[:4], lines[[0, -1]]), lines)
    edge = np.sort(np.append(lines, 3.2))
    np.testing.assert_allclose(merged(edge, kept, np.array([0.0, 3.2, 10.0]))[2:6], [2.1, 2.6, 3.1, 3.2])


LOST_BEFORE = {
    "no opening, teeth apart": (
        {"inner_diameter_mm": 28.3, "width_mm": 5.4, "bite_radius_mm": 0.35},
        {"type": "fleshy", "backing": "sliding", "radius_mm": 26.8, "tooth_gap_radius_mm": 2.03},
        {"force_n": 12.3, "muscle_activation": 0.55},
    ),
    "opening, bonded": (
        {"inner_diameter_mm": 27.6, "width_mm": 5.1, "bite_radius_mm": 1.3},
        {"type": "fleshy", "backing": "bonded", "radius_mm": 30.5, "opening_radius_mm": 2.04},
        {"force_n": 17.0, "muscle_activation": 0.98, "mouth_pressure_kpa": 5.2},
    ),
}


@pytest.mark.parametrize("which", LOST_BEFORE)
def test_strongly_contracting_lips_are_solved(which: str) -> None:
    measures = solve(problem(*LOST_BEFORE[which])).measures
    assert measures.peak_pressure_error_percent < 1.0
