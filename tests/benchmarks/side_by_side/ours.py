"""Ours, in a fresh process: the question for the libraries, the timed answer, and a finer one to measure all by.

Run as ``python -m tests.benchmarks.side_by_side.ours CASE RUNS QUESTION ANSWER``, which is what the driver does.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from labrum.cases.case_file.reading import read_case
from labrum.simulate import solve
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.build import Stage
from labrum.simulate.load_path.press import hold, press
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Accuracy, Problem, Progress
from labrum.simulate.solving import silent

from .question import description

REFERENCE_PERCENT = 0.1
GUIDING = Fineness(arc=0.15, touching=0.045, ends=0.015, span=0.175, growth=0.14, largest=0.8)
"""The grid whose lines guide the libraries: fine everywhere, as their settings were found for. Not that of our answer,
which would change with every change of ours and take their settings from under them."""
SETTLED = 1e-6  # of force and imbalance


class Moments:
    """A listener that keeps, for each report, the CPU seconds since its making and what was reached."""

    def __init__(self) -> None:
        self._start = time.process_time()
        self._seen: list[tuple[float, Progress]] = []

    def __call__(self, progress: Progress) -> None:
        self._seen.append((self.now(), progress))

    def now(self) -> float:
        """CPU seconds since this was made."""
        return time.process_time() - self._start

    def settled(self, force: float) -> list[tuple[float, Progress]]:
        """The reports of an equilibrium under the force."""
        return [
            (moment, progress)
            for moment, progress in self._seen
            if progress.residual < SETTLED and abs(progress.force - force) < SETTLED * force
        ]


def timed(problem: Problem) -> tuple[Outcome, dict[str, float]]:
    """One solve, with the seconds it took and those until its first and its finest equilibrium under the force."""
    wall = time.perf_counter()
    heard = Moments()
    outcome = solve(problem, heard)
    took = {"cpu_seconds": heard.now(), "wall_seconds": time.perf_counter() - wall}
    there = heard.settled(problem.load.force)
    finest = [moment for moment, progress in there if progress.unknowns == outcome.unknowns]
    if there and finest:
        took |= {"cpu_seconds_to_first": there[0][0], "cpu_seconds_to_finest": finest[0]}
    return outcome, took


def measured(problem: Problem, runs: int) -> tuple[Outcome, dict[str, Any]]:
    """The outcome, and the medians over so many runs after one that is not counted."""
    if runs > 1:
        timed(problem)
    found = [timed(problem) for _ in range(runs)]
    outcome = found[-1][0]
    medians = {key: float(np.median([took[key] for _, took in found])) for key in found[0][1]}
    return outcome, {"library": "Labrum", "way": "ours", **medians, **_numbers(outcome)}


def _numbers(outcome: Outcome) -> dict[str, Any]:
    measures = outcome.measures
    return {
        "peak_pressure_kpa": measures.peak_pressure_kpa,
        "peak_radius_mm": measures.peak_radius_mm,
        "sink_mm": measures.sink_mm,
        "felt_diameter_mm": measures.felt_diameter_mm,
        "largest_penetration_mm": outcome.largest_penetration_mm,
        "unknowns": outcome.unknowns,
        "iterations": outcome.newton_iterations,
    }


def main(case: str, runs: str, question: str, answer: str) -> None:
    """Solve, write the question and the answer."""
    problem = read_case(case).problem
    problem = replace(problem, lip=replace(problem.lip, edge="free"))  # as the libraries' scripts leave it
    _, found = measured(problem, int(runs))
    finer = solve(replace(problem, accuracy=Accuracy(REFERENCE_PERCENT)))
    reference = {"error_percent": finer.measures.peak_pressure_error_percent, **_numbers(finer)}
    guiding = hold(problem, press(problem, Fineness(), silent), GUIDING, Stage("hold"), silent).model.elements.grid
    Path(question).write_text(json.dumps(description(problem, guiding), indent=1), encoding="utf-8")
    Path(answer).write_text(json.dumps({"ours": found, "reference": reference}), encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
