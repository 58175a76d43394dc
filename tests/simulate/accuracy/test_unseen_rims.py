"""The estimated error bounds the error on rims that had no part in setting it.

The estimate's weights were set on the playing cases of `test_playing_cases`. Here rims, lips, supports and forces are
drawn at random over the ranges a fitter works in (common practice, no source), from a seed.
"""

from __future__ import annotations

import numpy as np
import pytest

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.simulate.accuracy.refinement import reading_of
from labrum.simulate.living.breath_and_muscle import final_stage
from labrum.simulate.load_path.press import hold
from labrum.simulate.problem import Problem
from labrum.simulate.solving import silent, solve_refined

COUNT = 30


def drawn(rng: np.random.Generator) -> Problem:
    """A problem without faults; some draws make a rim that cannot be."""
    while True:
        rim = {
            "inner_diameter_mm": rng.uniform(14.5, 26.0), "width_mm": rng.uniform(3.5, 7.5),
            "high_point": rng.uniform(0.3, 0.6), "bite_radius_mm": float(np.exp(rng.uniform(*np.log([0.15, 1.5])))),
            "inner_crown_radius_mm": rng.uniform(3.0, 12.0), "outer_crown_radius_mm": rng.uniform(3.0, 12.0),
            "shoulder_radius_mm": rng.uniform(0.8, 2.5), "cup_wall_angle_deg": rng.uniform(50.0, 75.0),
            "cup_depth_mm": 10.0,
        }  # fmt: skip
        lip = {
            "type": str(rng.choice(["thin", "average", "fleshy"])),
            "backing": str(rng.choice(["bonded", "bonded", "sliding"])),
        }
        load = {"force_n": float(rng.choice([5.0, 10.0, 20.0, 30.0, 40.0])), "friction": float(rng.choice([0, 0, 0.3]))}
        try:
            return case_from_table({"schema": 1, "title": "drawn", "rim": rim, "lip": lip, "load": load}).problem
        except InvalidCase:
            continue


@pytest.mark.slow
def test_the_estimate_bounds_the_error_of_rims_it_was_not_set_on() -> None:
    rng, bounded = np.random.default_rng(2024), 0
    for _ in range(COUNT):
        asked = drawn(rng)
        stage, (_, answer) = final_stage(asked), solve_refined(asked)
        finer = hold(asked, answer.finest, answer.finest.fineness.sharper().sharper(), stage, silent)
        peak, better = reading_of(asked.rim, answer.finest).peak, reading_of(asked.rim, finer).peak
        error = 100.0 * abs(peak / better - 1.0)
        assert error <= 1.0
        bounded += error <= answer.error_percent
        print(f"error {error:.2f} %, estimate {answer.error_percent:.2f} %, friction {asked.load.friction}")
    assert bounded >= COUNT - 1
