"""Shorter steps are shorter whichever way is taken, and never so short that first touch is lost in rounding."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labrum.cases.case_file.reading import read_case
from labrum.simulate.accuracy.refinement import reading_of
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import HOME, LEAST_FIRST, StepLengths, press
from labrum.simulate.main_job.effort import Effort
from labrum.simulate.solving import silent


def test_halving_the_steps_halves_those_taken_with_care_too() -> None:
    plan = Effort()
    assert plan.halved.pace.longest == pytest.approx(0.5 * plan.pace.longest)
    assert plan.halved.careful.pace.longest == pytest.approx(0.5 * plan.careful.pace.longest)
    assert plan.careful.pace == plan.slow


def test_many_times_shorter_steps_may_still_be_halved() -> None:
    pace = StepLengths().times(1.0 / 512.0)
    assert pace.first == LEAST_FIRST
    assert pace.shortest < 0.2 * pace.longest
    assert StepLengths().times(2.0).shortest == StepLengths().shortest


def test_slip_does_not_feel_how_far_a_waypoint_is_iterated() -> None:
    problem = read_case("demo").problem
    rubbing = replace(problem, load=replace(problem.load, friction=0.3))
    usual = press(rubbing, Fineness(), silent)
    exact = press(rubbing, Fineness(), silent, waypoint=HOME)
    assert len(usual.history) == len(exact.history)
    assert sum(step.iterations for step in usual.history) < sum(step.iterations for step in exact.history)
    peaks = [reading_of(problem.rim, run).peak for run in (usual, exact)]
    assert peaks[0] == pytest.approx(peaks[1], rel=1e-5)
