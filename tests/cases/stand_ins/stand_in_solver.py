"""Solvers that take no time, known to worker processes by this module's name."""

from __future__ import annotations

import os
import time
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from labrum.cases.manner import Manner
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.problem import NotConverged, Problem
from tests.some_measures import some_measures

SOLVES = "STAND_IN_SOLVES"
DEATHS = "STAND_IN_DEATHS"
SILENT = Manner(quiet=True)


def width_of(problem: Problem) -> float:
    return problem.rim.outer_radius - problem.rim.bite[0]


def made_up_peak(width: float, bite: float, force: float) -> float:
    """A wider rim and a rounder bite press less; the numbers mean nothing."""
    return force * (40.0 / width**2 + 0.3 / bite)


def measures(problem: Problem) -> Measures:
    """Smooth functions of width, bite and force that a test can work out for itself."""
    width, bite, force = width_of(problem), problem.rim.bite_radius, problem.load.force
    peak = made_up_peak(width, bite, force)
    return some_measures(
        peak_pressure_kpa=peak,
        peak_radius_mm=problem.rim.bite[0],
        peak_pressure_error_percent=0.1,
        mean_pressure_kpa=0.6 * peak,
        contact_area_mm2=60.0 * width,
        bearing_area_mm2=50.0 * width,
        edge_concentration=1.0 / 0.6,
        skin_stretch_max=1.2,
        contact_inner_radius_mm=problem.rim.bite[0],
        contact_outer_radius_mm=problem.rim.outer_radius,
        felt_diameter_mm=2.0 * problem.rim.bite[0] + width,
        felt_drift_mm_per_10n=0.05,
        sink_mm=force / (10.0 * width),
        past_bite=True,
        intrusion_height_mm=0.1 * force / width + 0.2 * bite,
        intrusion_volume_mm3=20.0 * force / width,
        drawn_in_volume_mm3=0.0,
        touches_cup=False,
        cup_clearance_mm=6.0,
        closing_travel_ratio=1.0 - 0.02 * width**2,
        muscle_shortening_ratio=1.0 - 0.02 * width**2,
    )


def at_once(problem: Problem) -> Any:
    return SimpleNamespace(measures=measures(problem), solve_seconds=0.0)


def noted(problem: Problem) -> Any:
    """Take some 10 ms, and write down that a solve began."""
    with open(os.environ[SOLVES], "a") as stream:
        stream.write(f"{width_of(problem):.9g} {problem.load.force:.9g}\n")
    time.sleep(0.01)
    return at_once(problem)


def troubled(problem: Problem) -> Any:
    """Converge for some widths only: 6 stops, 7 stumbles over a bug, 8 takes the process down."""
    width = round(width_of(problem))
    if width == 6:
        raise NotConverged(0.5 * problem.load.force, "it stopped", "press less")
    if width == 7:
        raise ZeroDivisionError("somebody's slip")
    if width == 8:
        os.kill(os.getpid(), 9)
    return at_once(problem)


def deadly_once(problem: Problem) -> Any:
    """Solve; but the first to come here at 6 mm takes its process down with it."""
    if round(width_of(problem)) == 6:
        try:
            Path(os.environ[DEATHS]).touch(exist_ok=False)
        except FileExistsError:
            pass
        else:
            os.kill(os.getpid(), 9)
    return noted(problem)


def really_noted(problem: Problem) -> Any:
    """Solve in earnest, and write down that a solve began."""
    from labrum.simulate import solve

    with open(os.environ[SOLVES], "a") as stream:
        stream.write(f"{width_of(problem):.9g} {problem.load.force:.9g}\n")
    return solve(problem)
