"""A press that starts from a neighbour's equilibrium gives what a cold one gives, in fewer iterations."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import Solved, solve, solve_near
from labrum.simulate.conclusions.measure_errors import doubt
from labrum.simulate.equilibrium import newton
from labrum.simulate.equilibrium.linearised import Linearised, linearise
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import press_near
from labrum.simulate.problem import Problem
from labrum.simulate.solving import silent

RIM = {
    "inner_diameter_mm": 16.5, "width_mm": 5.2, "high_point": 0.45, "bite_radius_mm": 0.6, "inner_crown_radius_mm": 6.0,
    "outer_crown_radius_mm": 8.0, "shoulder_radius_mm": 1.8, "cup_wall_angle_deg": 60.0, "cup_depth_mm": 10.0,
}  # fmt: skip


def problem(**change: float) -> Problem:
    rim, lip, load = {**RIM, **change}, {"type": "average"}, {"force_n": 20.0}
    return case_from_table({"schema": 1, "title": "near", "rim": rim, "lip": lip, "load": load}).problem


@pytest.fixture(scope="module")
def known() -> Solved:
    return solve_near(problem(), None)


@pytest.mark.parametrize(
    "change",
    [{"width_mm": 5.3}, {"bite_radius_mm": 0.7}, {"inner_diameter_mm": 16.6}, {"inner_crown_radius_mm": 6.5}],
    ids=str,
)
def test_a_near_start_agrees_with_a_cold_one(known: Solved, change: dict[str, float]) -> None:
    near, cold = solve_near(problem(**change), known.pressed).outcome, solve(problem(**change))
    assert near.history[0].stage == "press near"
    assert near.newton_iterations < 0.6 * cold.newton_iterations
    error = near.measures.peak_pressure_error_percent + cold.measures.peak_pressure_error_percent
    assert near.measures.peak_pressure_kpa == pytest.approx(cold.measures.peak_pressure_kpa, rel=error / 100.0)
    assert near.measures.sink_mm == pytest.approx(cold.measures.sink_mm, rel=3e-4)
    assert near.measures.felt_diameter_mm == pytest.approx(cold.measures.felt_diameter_mm, rel=3e-4)
    for drift in ("felt_drift_mm_per_10n", "edge_drift_mm_per_10n"):
        one, other = getattr(near.measures, drift), getattr(cold.measures, drift)
        assert (one is None) == (other is None)
        assert one is None or one == pytest.approx(other, abs=doubt(near.measures, drift) + doubt(cold.measures, drift))


def test_a_near_start_takes_few_factorisations(known: Solved, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its drift begins where the neighbour's ended, and the last steps of the answer share a matrix."""
    made = list[int]()

    def counted(*args: Any) -> Linearised:
        made.append(1)
        return linearise(*args)

    monkeypatch.setattr(newton, "linearise", counted)
    near = solve_near(problem(width_mm=5.3), known.pressed)
    assert near.pressed.beyond is not None
    assert near.pressed.beyond.equilibrium.force == pytest.approx(30.0, rel=1e-4)
    assert len(made) <= 9


def test_a_neighbour_too_far_is_left_and_the_start_is_cold(known: Solved) -> None:
    found = solve_near(problem(width_mm=7.0, high_point=0.3, inner_diameter_mm=15.0), known.pressed).outcome
    assert found.history[-1].force_n == pytest.approx(20.0)


def test_friction_never_starts_near(known: Solved) -> None:
    rough = problem()
    rough = replace(rough, load=replace(rough.load, friction=0.2))
    assert press_near(rough, known.pressed, Fineness(), silent) is None
