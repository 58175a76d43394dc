"""The time left, on solves that go exactly as the usual one does."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.solving.meter import Meter
from labrum.simulate.problem import Aim, Problem, Progress


class Clock:
    """Tells the time it is set to."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


def at(force: float, stage: str = "press") -> Progress:
    return Progress(stage, force, 1, 0.1, 1.0, 900)


def demo(friction: float = 0.0) -> Problem:
    problem = read_case("demo").problem
    return replace(problem, load=replace(problem.load, friction=friction))


def test_a_press_whose_force_goes_as_usual_has_its_time_told() -> None:
    clock = Clock()
    meter = Meter(demo(), clock)
    for share in (0.2, 0.5, 0.9):
        clock.now = 10.0 * 0.45 * share**0.4  # of ten seconds the press takes 4.5
        meter.line(at(20.0 * share))
        assert meter.seconds_left(at(20.0 * share)) == pytest.approx(10.0 - clock.now)


def test_with_friction_the_passes_ahead_are_counted_and_grow() -> None:
    clock = Clock()
    meter = Meter(demo(0.3), clock)
    meter.line(at(20.0))
    clock.now = 1.0
    meter.line(at(0.1))  # a second pass begins
    begun = meter.seconds_left(at(0.0))
    assert begun == pytest.approx(1.35 * (1.0 + 1.35 + 1.5 * 1.35**2), rel=0.03)
    clock.now = 2.0
    meter.line(at(20.0))
    assert meter.seconds_left(at(20.0)) < begun


def test_no_time_is_told_before_it_rests_on_something_nor_where_the_force_is_not_known() -> None:
    clock = Clock()
    meter = Meter(demo(), clock)
    clock.now = 0.1
    assert meter.line(at(5.0)) == "pressing: 5.0 of 20 N"
    problem = demo()
    sought = Meter(replace(problem, load=replace(problem.load, aim=Aim("sink_mm", 2.0))), clock)
    clock.now = 9.0
    assert sought.line(at(5.0)) == "pressing: 5.0 N"
    assert sought.line(at(21.0, "a stage of its own")) == "a stage of its own: 21.0 N"
