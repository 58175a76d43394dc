"""What the page remembers, and how near it takes two cases to be."""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.exploring import memory as memory_module
from labrum.cases.exploring.memory import Memory, Remembered
from labrum.cases.exploring.tables import case_from_page, tables_of
from labrum.cases.library.shelf import demo_names
from labrum.cases.solving.nearness import features
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem


def one(key: str) -> Remembered:
    return Remembered(key, f'{{"k": "{key}"}}')


@pytest.fixture
def outcome(outcome_of: Callable[[Problem], Outcome]) -> Outcome:
    return outcome_of(read_case("demo").problem)


def test_a_case_is_found_by_its_key(outcome: Outcome) -> None:
    memory = Memory(None, "solver")
    memory.keep(one("a"), outcome)
    assert memory.find("a").shown == '{"k": "a"}'
    assert memory.find("c") is None


def test_the_nearest_press_is_where_the_next_begins() -> None:
    memory = Memory(None, "solver")
    assert memory.start_near(np.zeros(2)) is None
    for name, place in (("a", [0.0, 0.0]), ("b", [3.0, 4.0])):
        memory.keep_start(np.array(place), name)  # type: ignore[arg-type]
    assert memory.start_near(np.array([2.0, 2.0])) == "b"


def test_a_file_outlives_the_program_but_not_the_solver(tmp_path: Path, outcome: Outcome) -> None:
    path = tmp_path / "deep" / "solved.sqlite"
    memory = Memory(path, "one")
    memory.keep(one("a"), outcome)
    memory.close()
    again = Memory(path, "one")
    assert again.find("a").shown == '{"k": "a"}'
    assert again.outcome("a") is None
    again.close()
    other = Memory(path, "another")
    assert len(other) == 0
    other.close()


def test_a_file_that_is_none_costs_the_memory_only(tmp_path: Path, outcome: Outcome) -> None:
    path = tmp_path / "solved.sqlite"
    path.write_bytes(b"not a database at all, but long enough to be looked at as one" * 30)
    memory = Memory(path, "one")
    memory.keep(one("a"), outcome)
    assert memory.find("a") is not None
    memory.close()


def test_whole_outcomes_are_let_go_when_there_are_many(monkeypatch: pytest.MonkeyPatch, outcome: Outcome) -> None:
    monkeypatch.setattr(memory_module, "OUTCOMES_KEPT", 2)
    memory = Memory(None, "one")
    for key in "abc":
        memory.keep(one(key), outcome)
    assert memory.outcome("a") is None
    assert memory.outcome("c") is outcome
    assert memory.find("a") is not None


def away(key: str, value: float) -> float:
    table, name = key.split(".")
    tables = tables_of(read_case("demo"))
    changed = copy.deepcopy(tables)
    changed[table][name] = value
    there, here = (features(case_from_page(t).problem) for t in (changed, tables))
    return float(np.linalg.norm(there - here))


@pytest.mark.parametrize(
    ("key", "little", "more"),
    [
        ("rim.inner_diameter_mm", 16.6, 17.5),
        ("rim.width_mm", 5.3, 6.0),
        ("rim.high_point", 0.46, 0.55),
        ("rim.bite_radius_mm", 0.65, 1.2),
        ("rim.outer_crown_radius_mm", 8.2, 14.0),
        ("rim.shoulder_radius_mm", 1.9, 2.4),
        ("load.force_n", 21.0, 40.0),
        ("load.friction", 0.05, 0.5),
        ("lip.opening_radius_mm", 0.2, 3.0),
    ],
)
def test_a_knob_turned_farther_leads_farther_away(key: str, little: float, more: float) -> None:
    assert 0.0 < away(key, little) < away(key, more)


def test_every_shipped_case_can_be_compared() -> None:
    rows = [features(read_case(name).problem) for name in demo_names()]
    assert len({len(row) for row in rows}) == 1
    assert np.isfinite(rows).all()


def test_an_outline_is_as_near_as_the_dimensions_it_came_from() -> None:
    case = read_case("demo")
    tables = tables_of(case)
    drawn = {**tables, "rim": {"outline_mm": case.problem.rim.curve.vertices.tolist()}}
    assert features(case_from_page(drawn).problem) == pytest.approx(features(case.problem), abs=0.05)
