"""What is advised where nothing converged fits what failed, and a refusal comes soon."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import solve
from labrum.simulate.load_path.advice import advice
from labrum.simulate.main_job.effort import Effort
from labrum.simulate.problem import NotConverged, Problem, Progress


def problem_of(layer: dict[str, Any] | None = None, **load: float) -> Problem:
    own = {"thickness_mm": 11.0, "shear_modulus_kpa": 30.0, **(layer or {})}
    lip = {"type": "average"} if layer is None else {"layer": [own]}
    tables = {"schema": 1, "rim": {"inner_diameter_mm": 16.5, "width_mm": 5.2}, "lip": lip,
              "load": {"force_n": 20.0, **load}}  # fmt: skip
    return case_from_table(tables).problem


def test_less_force_is_advised_only_where_some_was_carried() -> None:
    assert "force_n" not in advice(problem_of(), 0.0)
    assert "lower force_n, to 9.5 at most" in advice(problem_of(), 9.5)


@pytest.mark.parametrize(("layer", "load", "tip"), [
    ({}, {}, "stiffen the lip (stiffening_kpa)"),
    ({"stiffening_kpa": [5000.0, 0.0]}, {}, "lower stiffening_kpa"),
    ({"stiffening_kpa": [15.0, 0.0]}, {"friction": 0.8}, "lower friction"),
    ({"stiffening_kpa": [15.0, 0.0]}, {}, "round the bite (bite_radius_mm)"),
])  # fmt: skip
def test_each_tip_goes_to_those_it_can_help(layer: dict[str, Any], load: dict[str, float], tip: str) -> None:
    asked = problem_of(layer, **load)
    assert tip in advice(asked, 0.0)
    round_bite = replace(asked, rim=replace(asked.rim, bite_radius=2.0))
    assert "bite_radius_mm" not in advice(round_bite, 0.0)


def test_layers_much_unlike_are_pointed_at() -> None:
    asked = problem_of({"stiffening_kpa": [15.0, 0.0]})
    (layer,) = asked.lip.layers
    lip = replace(asked.lip, layers=(replace(layer, shear_modulus=3.0), layer))
    assert "less unlike (shear_modulus_kpa)" in advice(replace(asked, lip=lip), 0.0)


def test_where_nothing_stands_out_that_is_said() -> None:
    asked = problem_of({"stiffening_kpa": [15.0, 0.0]})
    assert "nothing about this one stands out" in advice(replace(asked, rim=replace(asked.rim, bite_radius=2.0)), 0.0)


def test_a_way_that_leads_nowhere_is_ended_by_its_work_not_by_the_clock() -> None:
    done = []

    def hear(progress: Progress) -> None:
        done.append(progress.unknowns)

    with pytest.raises(NotConverged, match="more iterations than are worth while") as stop:
        solve(problem_of(), hear, Effort(most_work=24_000))
    assert 0.0 < stop.value.force_reached < 20.0
    assert "lower force_n, to " in stop.value.advice
    assert sum(done) <= 24_000
