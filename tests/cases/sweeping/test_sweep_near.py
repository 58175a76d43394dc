"""A sweep's worker starts each case from the nearest it has solved; the answers stay those of cold starts."""

from __future__ import annotations

import pickle

import pytest

from labrum.cases.case_file.reading import case_from_table, read_case
from labrum.cases.sweeping.warm_start import NearSolver
from labrum.simulate import solve
from labrum.simulate.problem import Problem


def of_width(width: float) -> Problem:
    table = read_case("demo").resolved
    return case_from_table({**table, "rim": {**table["rim"], "width_mm": width}}).problem


def test_the_second_case_starts_from_the_first_and_answers_the_same() -> None:
    solver = NearSolver()
    first, second, cold = solver(of_width(5.2)), solver(of_width(5.3)), solve(of_width(5.3))
    assert first.history[0].stage == "press"
    assert second.history[0].stage == "press near"
    assert second.newton_iterations < cold.newton_iterations
    error = second.measures.peak_pressure_error_percent + cold.measures.peak_pressure_error_percent
    assert second.measures.peak_pressure_kpa == pytest.approx(cold.measures.peak_pressure_kpa, rel=error / 100)


def test_a_case_too_far_off_starts_cold() -> None:
    solver = NearSolver()
    solver(read_case("thin-narrow").problem)
    assert solver(read_case("fleshy-loud").problem).history[0].stage == "press"


def test_it_goes_to_a_worker_with_an_empty_memory() -> None:
    solver = NearSolver()
    solver(of_width(5.2))
    sent = pickle.loads(pickle.dumps(solver))
    assert sent(of_width(5.25)).history[0].stage == "press"
