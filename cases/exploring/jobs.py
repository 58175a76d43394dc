"""The jobs of the page's worker processes: press a case, write a report."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from cases.building import Case
from reports.page_content import Paper, Stopped
from simulate.outcome import Outcome
from simulate.problem import NotConverged, Problem, Progress

Tell = Callable[[Any], None]


@dataclass(frozen=True)
class Shown:
    """A pressed case: what a page draws it from, as JSON, and the outcome itself."""

    text: str
    outcome: Outcome


@dataclass(frozen=True)
class PressJob:
    """Press a case and draw it."""

    case: Case

    def run(self, tell: Tell) -> Shown | Stopped:
        """Return what a page shows, or why there is nothing."""
        outcome = pressed(self.case.problem, tell)
        if isinstance(outcome, Stopped):
            return outcome
        return Shown(shown_text(self.case, outcome), outcome)


@dataclass(frozen=True)
class SolveJob:
    """Press a problem of which only the outcome is wanted."""

    problem: Problem

    def run(self, tell: Tell) -> Outcome | Stopped:
        """Return the outcome, or why there is none."""
        return pressed(self.problem, tell)


@dataclass(frozen=True)
class PaperJob:
    """Write a report."""

    paper: Paper

    def run(self, tell: Tell) -> str:
        """Return the page."""
        from reports.page import report_page  # loads the plotting library

        tell(None)
        return report_page(self.paper)


def pressed(problem: Problem, tell: Tell) -> Outcome | Stopped:
    """Solve, with news of every iteration: the share of the force that is reached, and the stage in words."""
    from simulate import solve

    def listen(progress: Progress) -> None:
        share = min(max(progress.force / problem.load.force, 0.0), 1.0)
        tell({"share": round(share, 3), "words": words_of(progress, problem)})

    try:
        return solve(problem, progress=listen)
    except NotConverged as stop:
        return Stopped(stop.force_reached, stop.cause, stop.advice)


def words_of(progress: Progress, problem: Problem) -> str:
    """Say in a few words where a solve stands."""
    if progress.stage == "press":
        return f"pressing: {max(0.0, progress.force):.1f} of {problem.load.force:g} N"
    return f"checking on a finer grid: {progress.unknowns} unknowns"


def shown_text(case: Case, outcome: Outcome) -> str:
    """Write what a page draws a pressed case from: its picture, its numbers and its inputs."""
    from cases.result import converged_result
    from reports.explorer.picture import picture

    result = converged_result(case, outcome)
    for bulky in ("lip_surface", "pressure_profile", "cautions"):
        del result[bulky]  # the picture holds the lines, the page the cautions
    return json.dumps({"picture": picture(outcome), "result": result, "inputs": case.resolved}, allow_nan=False)
