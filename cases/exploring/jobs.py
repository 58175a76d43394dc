"""The jobs of the page's worker processes: press a case, write a report."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.reports.pages.content import NoSolution, Paper
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged, Problem, Progress
from labrum.simulate.solving import Solved, solve_near

Tell = Callable[[Any], None]


@dataclass(frozen=True)
class Shown:
    """A pressed case: what a page draws it from, as JSON, the outcome itself, and where a like one may begin."""

    text: str
    outcome: Outcome
    pressed: Pressed


@dataclass(frozen=True)
class PressJob:
    """Press a case and draw it, beginning at ``start`` where there is one."""

    case: Case
    start: Pressed | None = None

    def run(self, tell: Tell) -> Shown | NoSolution:
        """Return what a page shows, or why there is nothing."""
        found = pressed(self.case.problem, tell, self.start)
        if isinstance(found, NoSolution):
            return found
        return Shown(shown_text(self.case, found.outcome), found.outcome, found.pressed)


@dataclass(frozen=True)
class SolveJob:
    """Press a problem of which only the outcome is wanted."""

    problem: Problem

    def run(self, tell: Tell) -> Outcome | NoSolution:
        """Return the outcome, or why there is none."""
        found = pressed(self.problem, tell)
        return found if isinstance(found, NoSolution) else found.outcome


@dataclass(frozen=True)
class PaperJob:
    """Write a report."""

    paper: Paper

    def run(self, tell: Tell) -> str:
        """Return the page."""
        from labrum.reports.pages.report import report_page  # loads the plotting library

        tell(None)
        return report_page(self.paper)


def pressed(problem: Problem, tell: Tell, start: Pressed | None = None) -> Solved | NoSolution:
    """Solve, with news of every iteration: the share of the force that is reached, and the stage in words."""

    def listen(progress: Progress) -> None:
        share = min(max(progress.force / problem.load.force, 0.0), 1.0)
        tell({"share": round(share, 3), "words": words_of(progress, problem)})

    try:
        return solve_near(problem, start, progress=listen)
    except NotConverged as stop:
        return NoSolution(stop.force_reached, stop.cause, stop.advice)


def words_of(progress: Progress, problem: Problem) -> str:
    """Say in a few words where a solve stands."""
    if progress.stage.startswith("press"):
        return f"pressing: {max(0.0, progress.force):.1f} of {problem.load.force:g} N"
    return f"checking on a finer grid: {progress.unknowns} unknowns"


def shown_text(case: Case, outcome: Outcome) -> str:
    """Write what a page draws a pressed case from: its picture, its numbers and its inputs."""
    from labrum.cases.solving.result import converged_result
    from labrum.reports.pages.picture import picture

    result = converged_result(case, outcome)
    for bulky in ("lip_surface", "pressure_profile", "cautions"):
        del result[bulky]  # the picture holds the lines, the page the cautions
    return json.dumps({"picture": picture(outcome), "result": result, "inputs": case.resolved}, allow_nan=False)
