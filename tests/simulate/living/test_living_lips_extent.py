"""A living lip's answer does not hang on how large a disc was drawn, and its back stays on the jaw beyond the fold."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import solve
from labrum.simulate.contact.supports import fold_springs, grown_to_the_jaw
from labrum.simulate.living.breath_and_muscle import enlivened
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.build import Stage, model_on, resting_grid
from labrum.simulate.load_path.press import press
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.problem import Problem
from labrum.simulate.solving import silent

LOAD = {"force_n": 20.0, "mouth_pressure_kpa": 4.0, "friction": 0.15, "muscle_activation": 0.3}
LIP = {"backing": "sliding", "tooth_gap_radius_mm": 6.0, "opening_radius_mm": 1.5}


def living(lip: str, radius: float = 25.0, load: dict[str, float] | None = None) -> Problem:
    table = {
        "schema": 1, "title": "extent", "rim": {"inner_diameter_mm": 16.5, "width_mm": 5.2},
        "lip": {"type": lip, "radius_mm": radius, **LIP}, "load": LOAD | (load or {}),
    }  # fmt: skip
    return case_from_table(table).problem


@cache
def measured(lip: str, radius: float) -> Measures:
    return solve(living(lip, radius)).measures


@pytest.mark.parametrize("lip", ["average", pytest.param("fleshy", marks=pytest.mark.slow)])
def test_the_discs_radius_hardly_matters(lip: str) -> None:
    """22 against 35 mm: sink, crest, closing and peak of a sliding, contracting, blown lip within 3 %."""
    small, large = (measured(lip, radius) for radius in (22.0, 35.0))
    for name in ("sink_mm", "height_past_high_point_mm", "closing_travel_ratio", "peak_pressure_kpa"):
        assert getattr(small, name) == pytest.approx(getattr(large, name), rel=0.03), name


@pytest.mark.slow
@pytest.mark.parametrize("lip", ["thin", "average", "fleshy"])
def test_contraction_makes_less_than_half_of_the_crest(lip: str) -> None:
    m = measured(lip, 25.0)
    assert m.height_by_muscle_mm is not None
    assert m.height_past_high_point_mm is not None
    assert 0.1 < m.height_by_muscle_mm / m.height_past_high_point_mm < 0.4


@pytest.mark.parametrize("fold", [18.0, 21.5])
def test_the_jaw_holds_the_back_beyond_the_fold_along_the_axis_only(fold: float) -> None:
    problem = living("average")
    problem = replace(problem, lip=replace(problem.lip, fold_radius=fold))
    grid = model_on(problem, resting_grid(problem, Fineness()), Stage("rest")).elements.grid
    held, springs = grown_to_the_jaw(problem.lip, grid), fold_springs(problem.lip, grid)
    radii = grid.nodes[:, 0]
    assert not held[:, 0].any()
    assert np.array_equal(np.nonzero(held[:, 1])[0], grid.back[grid.node_columns >= fold + 2.0])
    assert not springs[:, 0].any()
    assert not springs[(radii < fold) | (radii > fold + 2.0)].any()
    for lip in (replace(problem.lip, edge="free"), replace(problem.lip, backing="bonded")):
        assert not grown_to_the_jaw(lip, grid).any()
        assert not fold_springs(lip, grid).any()


def test_breath_lifts_the_lip_off_the_teeth_and_not_off_the_jaw() -> None:
    """15 kPa under a rim of 10 N: the air would carry 15 N within the fold, more than the rim presses with."""
    problem = living("thin", load={"force_n": 10.0, "mouth_pressure_kpa": 15.0})
    pressed, _ = enlivened(problem, press(problem, Fineness(), silent), silent)
    model, state = pressed.model, pressed.equilibrium.state
    grid = model.elements.grid
    rise = state.u[grid.back, 1]
    flange = (grid.node_columns > 14.0) & (grid.node_columns < problem.lip.fold_radius)
    assert rise[flange].max() > 0.05
    assert np.abs(rise[grid.node_columns >= problem.lip.fold_radius + 2.0]).max() < 1e-12


@pytest.mark.parametrize("lip", ["thin", "average", "fleshy"])
def test_library_lips_sink_plausibly(lip: str) -> None:
    """1.5 to 4 mm under 20 N, bonded and passive: a judgement, no source; relaxed tissue would sink through."""
    rim = {"inner_diameter_mm": 16.5, "width_mm": 5.2}
    table = {"schema": 1, "title": "sink", "rim": rim, "lip": {"type": lip}, "load": {"force_n": 20.0}}
    assert 1.5 < press(case_from_table(table).problem, Fineness(), silent).equilibrium.state.travel < 4.0
