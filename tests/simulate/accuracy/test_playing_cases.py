"""Presses at playing loads converge, balance and are as accurate as they say.

The rim is an invented one of 16.5 mm; lips and forces span those of playing (forces: Mayer & Bertsch's review
of 5 to 40 N; lips: the library's calibration). The accuracy is checked against a grid of four times the
unknowns.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import solve
from labrum.simulate.accuracy.refinement import ANSWER, BESIDE, reading_of, refine_until_accurate
from labrum.simulate.living.breath_and_muscle import final_stage
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import WAYPOINT, Last, hold, press
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem
from labrum.simulate.solving import silent

LIPS, BITES, FORCES = ("thin", "average", "fleshy"), (0.2, 0.6, 1.2), (5.0, 20.0, 40.0)
PLAYING = [(lip, bite, force) for lip in LIPS for bite in BITES for force in FORCES]
RIM = {
    "inner_diameter_mm": 16.5, "width_mm": 5.2, "high_point": 0.45, "inner_crown_radius_mm": 6.0,
    "outer_crown_radius_mm": 8.0, "shoulder_radius_mm": 1.8, "cup_wall_angle_deg": 60.0, "cup_depth_mm": 10.0,
}  # fmt: skip


def problem(lip: str, bite: float, force: float, **load: float) -> Problem:
    table = {
        "schema": 1,
        "title": f"{lip} lip, bite {bite} mm, {force} N",
        "rim": {**RIM, "bite_radius_mm": bite},
        "lip": {"type": lip},
        "load": {"force_n": force, **load},
    }
    return case_from_table(table).problem


@pytest.fixture(scope="module", params=[("thin", 0.2, 40.0), ("average", 0.6, 20.0), ("fleshy", 1.2, 40.0)], ids=str)
def outcome(request: pytest.FixtureRequest) -> Outcome:
    return solve(problem(*request.param))


def test_the_pressure_carries_the_force(outcome: Outcome) -> None:
    """The axial component of the drawn pressure, integrated over the drawn surface, is the force given."""
    contact = outcome.contact
    r, p = contact.place[:, 0], contact.pressure_kpa * 1e-3
    # pressure times projected area: the normal's axial share of the surface element is its shadow, 2 pi r dr
    first = np.arange(0, len(r) - 2, 2)
    simpson = sum(
        w * p[first + k] * r[first + k] * slope
        for k, w, slope in zip(
            range(3), (1 / 3, 4 / 3, 1 / 3), _radial_slopes(r[first], r[first + 1], r[first + 2]), strict=True
        )
    )
    assert 2 * np.pi * simpson.sum() == pytest.approx(outcome.force_n, rel=5e-3)


def _radial_slopes(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """dr/dxi of a quadratic edge at its three nodes."""
    return -1.5 * a + 2 * b - 0.5 * c, 0.5 * (c - a), 0.5 * a - 2 * b + 1.5 * c


def test_every_step_ends_quadratically(outcome: Outcome) -> None:
    """Once the contact set stands still, each residual is about the square of the one before, down to rounding:
    within a factor of a hundred, or by the order that the last three show, whatever the factor.

    Waypoints of the press and the grid an answer is compared with, which is where the press ends, end sooner, and may
    end just after the set's last change; the answer does not. A chord step's residual is about the one before times
    that at which its matrix was made, twice Newton's own factor at most to first order (Ortega, Rheinboldt 1970, 10.2;
    from memory); Newton's are those ahead of it.
    """
    pressed = [step for step in outcome.history if step.stage == "press"]
    limits = [WAYPOINT.residual] * (len(pressed) - 1) + [BESIDE.residual]
    limits += [BESIDE.residual] * (len(outcome.history) - len(pressed) - 1) + [1e-9]
    for step, limit in zip(outcome.history, limits, strict=True):
        assert step.residuals[-1] < limit
        newton = step.residuals[: len(step.residuals) - step.chords]
        for one, other in pairwise(step.residuals[len(newton) - 1 :]):
            fall = newton[-1] / newton[-2]
            assert other < max(1e2 * newton[-2] * one, 1e-12) or other < 3.0 * fall * one, step
        before, last, end = newton[-3:]
        order = np.log(end / last) / np.log(last / before)
        just_changed = limit > 1e-9 and step.contact_changes[-2 - step.chords] > 0
        assert end < max(1e2 * last**2, 1e-12) or order > 1.8 or just_changed, step
        assert step.contact_changes[-1] == 0


def test_the_rim_holds_the_tissue_out(outcome: Outcome) -> None:
    assert outcome.largest_penetration_mm < 5e-3


def test_the_estimate_is_within_what_was_asked(outcome: Outcome) -> None:
    assert outcome.measures.peak_pressure_error_percent <= 1.0
    assert outcome.warnings == ()


def test_the_average_lip_reaches_sixty_newtons_under_the_sharpest_bite() -> None:
    pressed = press(problem("average", 0.2, 60.0), Fineness(), silent)
    assert pressed.equilibrium.force == pytest.approx(60.0, rel=1e-6)


def test_a_press_that_fails_says_how_far_it_got() -> None:
    from labrum.simulate import NotConverged

    soft = case_from_table(
        {
            "schema": 1,
            "title": "neo-Hookean jelly",
            "rim": {**RIM, "bite_radius_mm": 0.2},
            "lip": {"layer": [{"name": "jelly", "thickness_mm": 8.0, "shear_modulus_kpa": 2.0, "poisson_ratio": 0.5}]},
            "load": {"force_n": 400.0},
        }
    ).problem
    with pytest.raises(NotConverged) as caught:
        solve(soft)
    assert 0.0 < caught.value.force_reached < 400.0
    assert caught.value.history
    assert "force_n" in caught.value.advice


@pytest.mark.slow
def test_all_playing_cases_are_as_accurate_as_they_say() -> None:
    """27 cases: the peak within its own estimate, at most 1 %, of a grid of four times the unknowns."""
    near, bounded = 0, 0
    for lip, bite, force in PLAYING:
        asked = problem(lip, bite, force)
        pressed = press(asked, Fineness(), silent, last=Last(ANSWER, BESIDE))
        refined = refine_until_accurate(asked, pressed, final_stage(asked), silent, ANSWER, 400_000)
        finer = hold(asked, refined.finest, refined.finest.fineness.refined(), final_stage(asked), silent)
        peak, better = reading_of(asked.rim, refined.finest).peak, reading_of(asked.rim, finer).peak
        error = 100.0 * abs(peak / better - 1.0)
        near, bounded = near + (error <= 1.0), bounded + (error <= refined.error_percent)
        print(
            f"{lip:8s} bite {bite} {force:4.0f} N  peak {1e3 * peak:7.2f} kPa  estimate {refined.error_percent:.2f} %  "
            f"error {error:.2f} %  unknowns {refined.finest.model.unknowns}"
        )
    assert near == len(PLAYING)
    assert bounded == len(PLAYING)
