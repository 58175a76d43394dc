"""The benchmarks' own logic: whose time it was, the floor, the goals, the comparison. Nothing is timed."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.sparse as sp

from labrum.simulate.equilibrium import linearised, sparse
from labrum.simulate.equilibrium.linearised import linearise
from labrum.simulate.equilibrium.sparse import factorise, standard_solvers
from labrum.simulate.equilibrium.system import System
from tests import bodies
from tests.benchmarks import accounting, compare, floor, isolated, recording, solvers, suite, sweeps, table

ROOT = Path(__file__).parents[2]
LAPLACE = sp.csc_matrix(sp.diags_array([-1.0, 2.5, -1.0], offsets=[-1, 0, 1], shape=(40, 40)))


class Clock:
    """Tells the seconds it has been told to let pass."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


def test_time_counts_for_the_innermost_category(clock: Clock) -> None:
    account = accounting.Account(clock)
    with account.at("outer"):
        clock.now += 1.0
        with account.at("inner"):
            clock.now += 2.0
            with account.at("outer"):
                clock.now += 4.0
        clock.now += 8.0
    clock.now += 16.0
    assert account.seconds == {"outer": 13.0, "inner": 2.0}


def test_time_is_kept_where_a_function_raises(clock: Clock) -> None:
    account = accounting.Account(clock)

    def fail() -> None:
        clock.now += 2.0
        raise ValueError("of its own")

    with account.at("outer"):
        with pytest.raises(ValueError, match="of its own"), account.at("inner"):
            fail()
        clock.now += 1.0
    assert account.seconds == {"outer": 1.0, "inner": 2.0}


def test_the_shares_and_what_is_left_make_the_whole(clock: Clock) -> None:
    account = accounting.Account(clock)
    for category, seconds in zip(accounting.CATEGORIES, (1.0, 2.0, 3.0), strict=True):
        with account.at(category):
            clock.now += seconds
    shares = account.shares(10.0)
    assert shares == pytest.approx({"assembly_percent": 10, "factorisation_percent": 20, "contact_search_percent": 30,
                                    "all_else_percent": 40})  # fmt: skip


def test_every_entry_point_is_there() -> None:
    """Whoever renames one of them edits the table, or the suite's shares would be wrong."""
    for entry in accounting.ENTRY_POINTS:
        assert callable(accounting.found(entry)[2])
    assert {entry.category for entry in accounting.ENTRY_POINTS} == set(accounting.CATEGORIES)


@pytest.mark.parametrize(
    ("module", "name"),
    [("labrum.simulate.equilibrium.sparse", "gone"), ("labrum.simulate.gone", "factorise"),
     ("labrum.simulate.tissue.elements", "Elements.gone"), ("labrum.simulate.equilibrium.sparse", "LARGEST_RESIDUAL")],
)  # fmt: skip
def test_an_entry_point_that_has_vanished_is_an_error(module: str, name: str) -> None:
    with (
        pytest.raises(LookupError, match=name),
        accounting.accounted_for(accounting.Account(), [accounting.EntryPoint(module, name, "none")]),
    ):
        pass


@pytest.fixture
def linear_system() -> System:
    """That of a small disc at rest."""
    mesh = bodies.grid([0.0, 0.7, 1.5, 2.0], [-1.5, -0.6, 0.0])
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.4), bodies.disc_fixed(mesh))
    state = bodies.at_rest(model, bodies.FAR)
    return linearise(model, state, bodies.frames(model, state)).system


def test_functions_are_replaced_wherever_they_were_imported_and_put_back(clock: Clock, linear_system: System) -> None:
    account = accounting.Account(clock)
    methods = {entry.name: accounting.found(entry)[2] for entry in accounting.ENTRY_POINTS}
    wanted = np.where(linear_system.known, 0.0, 1.0)[None]
    with accounting.accounted_for(account):
        assert sparse.factorise is linearised.factorise is not factorise
        solve = linearised.factorise(linear_system, wanted, standard_solvers())[0]
        solve(wanted)
    assert sparse.factorise is linearised.factorise is factorise
    assert {entry.name: accounting.found(entry)[2] for entry in accounting.ENTRY_POINTS} == methods
    assert account.calls == {"factorise": 1, "factorise's solve": 1}


def test_what_is_factorised_is_recorded_with_the_largest_right_hand_side(linear_system: System) -> None:
    ones = np.where(linear_system.known, 0.0, 1.0)
    with recording.recorded() as kept:
        sides = np.stack([0.0 * ones, 2.0 * ones, ones])
        linearised.factorise(linear_system, sides, standard_solvers())
    (recorded,) = kept
    assert abs(recorded.matrix - linear_system.matrix).max() == 0.0
    np.testing.assert_array_equal(recorded.wanted, 2.0 * np.ones(linear_system.pattern.size))


def test_a_factorisation_without_a_system_is_an_error() -> None:
    with pytest.raises(LookupError, match="no system"):
        recording.system_of([np.ones(3)])


def system(matrix: sp.csc_matrix, pattern: bytes = b"one") -> Any:
    return recording.System(matrix, np.arange(1.0, matrix.shape[0] + 1), pattern)


def fake_solver(clock: Clock, wrong: float = 0.0) -> Any:
    """A solver that takes 3 s for an analysis and 1 s for the rest."""

    def solved(matrix: sp.csc_matrix, b: np.ndarray) -> np.ndarray:
        clock.now += 1.0
        return np.linalg.solve(matrix.toarray(), b) + wrong

    def fresh(matrix: sp.csc_matrix, b: np.ndarray) -> tuple[np.ndarray, str]:
        clock.now += 3.0
        return solved(matrix, b), "kept"

    def again(matrix: sp.csc_matrix, b: np.ndarray, kept: str) -> np.ndarray:
        assert kept == "kept"
        return solved(matrix, b)

    return solvers.Solver(f"wrong by {wrong:g}" if wrong else "right", lambda matrix: matrix, fresh, again)


def test_the_floor_adds_up_and_keeps_the_analysis_within_a_grid_only(clock: Clock) -> None:
    systems = [system(LAPLACE), system(LAPLACE), system(LAPLACE, b"two"), system(LAPLACE)]
    times = floor.times_of(fake_solver(clock), systems, repeats=2, clock=clock)
    assert (times.fresh_seconds, times.reused_seconds) == (16.0, 13.0)
    assert times.right


def test_the_floor_is_the_fastest_right_solvers(clock: Clock) -> None:
    right = floor.Times("right", 4.0, 3.0, 1e-12)
    fast_fresh, wrong = floor.Times("no analysis", 2.0, 5.0, 1e-12), floor.Times("wrong", 1.0, 1.0, 1e-3)
    refused = floor.Times("refused", np.inf, np.inf, np.inf, "not positive definite")
    found = floor.floor_of([right, fast_fresh, wrong, refused])
    assert (found["fresh_solver"], found["reused_solver"], found["cpu_seconds"]) == ("no analysis", "right", 2.0)
    assert not floor.times_of(fake_solver(clock, wrong=1e-3), [system(LAPLACE)], 1, clock).right


def test_a_solver_of_one_triangle_refuses_an_unsymmetric_matrix(clock: Clock) -> None:
    skew = LAPLACE.copy()
    skew[0, 1] = -0.5
    one_sided = solvers.Solver("half", lambda m: m, lambda m, b: (b, None), lambda m, b, k: b, symmetric=True)
    times = floor.times_of(one_sided, [system(skew)], 1, clock)
    assert "not symmetric" in times.refused
    assert not times.right


def test_every_solver_there_is_solves_and_solves_again_with_another_matrix(clock: Clock) -> None:
    """SuperLU always, the others where they are installed; the second matrix has the pattern of the first."""
    other = LAPLACE.copy()
    other.data = other.data * 1.5
    for solver in solvers.available():
        times = floor.times_of(solver, [system(LAPLACE), system(other)], 2, clock)
        assert times.right, f"{solver.name}: {times.residual:.0e} {times.refused}"


def test_a_job_runs_in_a_process_of_its_own(tmp_path: Path) -> None:
    words = ["-m", "tests.benchmarks.isolated", "machine", json.dumps({"cores": 1}), str(tmp_path / "found.json")]
    subprocess.run([sys.executable, *words], cwd=ROOT, check=True)
    found = json.loads((tmp_path / "found.json").read_text())
    assert "superlu symmetric" in found["solvers"]
    assert found["peak_memory_mb"] > found["own_memory_mb"] >= 0.0


def test_goals_are_judged_and_never_raise() -> None:
    found = {
        "cold, 1 %, 1 core": {"newton_iterations": 40},
        "warm, 1 %, 1 core": {"most_newton_iterations": 8},
        "100,000 unknowns": {"failed": "no memory"},
    }
    judged = suite.judged(found)
    assert [(goal["value"], goal["goal"], goal["met"]) for goal in judged] == [(40, "< 40", False), (8, "<= 8", True)]


def test_every_goal_looks_at_something_that_is_measured() -> None:
    labels = {one.label for one in suite.measurements(quick=False)}
    assert {goal.label for goal in suite.GOALS} <= labels
    assert {one.group for one in suite.measurements(quick=False)} == set(suite.GROUPS)
    assert {one.job for one in suite.measurements(quick=False)} < set(isolated.JOBS)


def test_the_sweep_has_as_many_cases_as_asked_or_fewer() -> None:
    counts = {cases: sweeps._count(cases) for cases in (4, 50, 100)}
    assert counts[100] == 100
    assert all(0 < count <= cases for cases, count in counts.items())


def run_with(peak: float, error: float, seconds: float) -> dict[str, Any]:
    case = {"cpu_seconds": seconds, "numbers": {"peak_pressure_kpa": {"value": peak, "error": error}}}
    measurements = {"playing": {"each": {"thin": case}}, "cold": case}
    return {"machine": {"git": {"commit": "c" * 40}}, "measurements": measurements}


@pytest.mark.parametrize(("peak", "outside"), [(100.7, False), (99.2, True), (100.9, True)])
def test_a_number_is_flagged_where_both_errors_do_not_explain_its_change(peak: float, outside: bool) -> None:
    before, after = run_with(100.0, 0.5, 4.0), run_with(peak, 0.25, 1.0)
    changes = list(compare.changes_of(before["measurements"], after["measurements"]))
    assert {(change.case, change.outside) for change in changes} == {("playing: thin", outside), ("cold", outside)}
    text = compare.comparison(before, after)
    assert ("OUTSIDE" in text) == outside
    assert "0.25" in text


def test_what_only_one_run_has_or_was_asked_otherwise_is_told() -> None:
    before, after = run_with(100.0, 0.5, 4.0), run_with(100.0, 0.5, 4.0)
    before["measurements"]["cold"] = {**before["measurements"]["cold"], "asked": {"percent": 1.0}}
    after["measurements"]["playing"]["each"]["thin"] = {"cpu_seconds": 0.0, "failed_because": "stopped at 3 N"}
    text = compare.comparison(before, after)
    assert "not compared: cold, asked otherwise" in text
    assert "not compared: playing: thin, only before" in text
    assert "0 numbers of 0 cases" in text


def test_floors_of_other_solvers_are_not_compared() -> None:
    runs = [run_with(100.0, 0.5, 4.0), run_with(100.0, 0.5, 4.0)]
    for run, names in zip(runs, (["superlu", "qdldl"], ["superlu"]), strict=True):
        run["measurements"]["floor"] = {"ratio": 2.5, "solvers": [{"name": name} for name in names]}
    assert "not compared: floor, asked otherwise" in compare.comparison(*runs)


def test_a_floor_without_every_solver_says_so() -> None:
    told = table._missing(["cholmod"])
    assert "NOT THE FLOOR" in told
    assert "cholmod" in told
    assert table._missing([]) == ""


def test_the_report_shows_what_was_found_and_what_was_not() -> None:
    shares = {f"{name}_percent": 25.0 for name in ("assembly", "factorisation", "contact_search", "all_else")}
    memory = {"peak_memory_mb": 200.0, "own_memory_mb": 140.0}
    cold = {"cpu_seconds": 1.5, "wall_seconds": 1.6, "newton_iterations": 52, "shares": shares, **memory}
    goals = [{"what": "iterations", "value": 52, "goal": "< 40", "met": False}]
    found = {"cold": cold, "growth": {"failed": "no equilibrium"}}
    text = table.report({"machine": {"failed": "-"}, "measurements": found, "goals": goals})
    assert "1.50" in text
    assert "not met" in text
    assert "growth: not measured: no equilibrium" in text
