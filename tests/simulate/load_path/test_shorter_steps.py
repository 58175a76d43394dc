"""Shorter steps are shorter whichever way is taken, and never so short that first touch is lost in rounding."""

from __future__ import annotations

import pytest

from labrum.simulate.load_path.press import LEAST_FIRST, StepLengths
from labrum.simulate.main_job.effort import Effort


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
