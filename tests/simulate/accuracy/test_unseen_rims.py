"""The estimated error bounds the error on rims that had no part in setting it.

The estimate's weights were set on the playing cases of `test_playing_cases`. Here rims, lips, supports and forces are
drawn at random by `tests.studies.designs`, every third with friction.
"""

from __future__ import annotations

import numpy as np
import pytest

from labrum.simulate.accuracy.refinement import reading_of
from labrum.simulate.living.breath_and_muscle import final_stage
from labrum.simulate.load_path.press import hold
from labrum.simulate.solving import silent, solve_refined
from tests.studies.designs import drawn

COUNT = 30


@pytest.mark.slow
def test_the_estimate_bounds_the_error_of_rims_it_was_not_set_on() -> None:
    rng, bounded = np.random.default_rng(2024), 0
    for number in range(COUNT):
        asked = drawn(rng, friction=number % 3 == 0, living=False)
        stage, (_, answer) = final_stage(asked), solve_refined(asked)
        finer = hold(asked, answer.finest, answer.finest.fineness.sharper().sharper(), stage, silent)
        peak, better = reading_of(asked.rim, answer.finest).peak, reading_of(asked.rim, finer).peak
        error = 100.0 * abs(peak / better - 1.0)
        assert error <= 1.0
        bounded += error <= answer.error_percent
        print(f"error {error:.2f} %, estimate {answer.error_percent:.2f} %, friction {asked.load.friction}")
    assert bounded >= COUNT - 1
