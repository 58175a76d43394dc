"""The jobs of the page's worker processes: press a case, solve one for a report, write a report.

A press tells twice. First comes an equilibrium on the coarsest grid that is read: the solver's own first stage, handed
over as soon as it is there, and begun where a like case ended. It is a true equilibrium of this very case, but its
discretisation error is not known yet. Then comes the solution, refined until its estimated error is small enough.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.exploring.halfway import Start
from labrum.cases.solving.result import converged_result, measured
from labrum.reports.pages.content import NoSolution, Paper
from labrum.reports.pages.first_answers import Read, first_answers
from labrum.reports.pages.next_step import next_step
from labrum.reports.pages.picture import picture, picture_of
from labrum.simulate.conclusions.measure_errors import doubt
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.main_job.neighbour import Neighbour
from labrum.simulate.main_job.ways import AtFirst, Readable, unheard
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.outcome import Contact, Outcome
from labrum.simulate.problem import KPA_PER_MPA, NotConverged, Problem, Progress
from labrum.simulate.readings.fields import section_of
from labrum.simulate.readings.measures import measures_of
from labrum.simulate.readings.pressure import on_rim, profile
from labrum.simulate.solving import Solved, solve_near

Tell = Callable[[Any], None]
UNCHECKED_PERCENT = 1.0  # the peak's error on a grid nobody has checked


@dataclass(frozen=True)
class AtOnce:
    """The first equilibrium: ``text`` is what a page draws, ``pressed`` where a like case may begin."""

    text: str
    pressed: Pressed


@dataclass(frozen=True)
class Shown:
    """A pressed case: what a page draws it from, as JSON, the outcome itself, and where a like one may begin."""

    text: str
    outcome: Outcome
    pressed: Pressed


@dataclass(frozen=True)
class PressJob:
    """Press a case and draw it, beginning at ``start`` where there is one; tells an `AtOnce` on its way."""

    case: Case
    start: Start | None = None

    def run(self, tell: Tell) -> Shown | NoSolution:
        """Return what a page shows, or why there is nothing."""

        def at_first(first: Readable) -> None:
            tell(AtOnce(first_text(self.case, first.standing), first.start))

        near = None if self.start is None else self.start.towards(self.case)
        found = pressed(self.case.problem, tell, near, at_first)
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


def pressed(
    problem: Problem, tell: Tell, near: Neighbour | None = None, at_first: AtFirst = unheard
) -> Solved | NoSolution:
    """Solve, with news of every iteration: the share of the force that is reached, and the stage in words."""
    try:
        return solve_near(problem, near, progress=news_of(problem, tell), at_first=at_first)
    except NotConverged as stop:
        return NoSolution(stop.force_reached, stop.cause, stop.advice)


def news_of(problem: Problem, tell: Tell) -> Callable[[Progress], None]:
    """A listener that passes on where a solve stands."""

    def listen(progress: Progress) -> None:
        share = min(max(progress.force / problem.load.force, 0.0), 1.0)
        tell({"share": round(share, 3), "words": words_of(progress, problem)})

    return listen


def words_of(progress: Progress, problem: Problem) -> str:
    """Say in a few words where a solve stands."""
    if progress.stage.startswith("press"):
        return f"pressing: {max(0.0, progress.force):.1f} of {problem.load.force:g} N"
    return f"checking on a finer grid: {progress.unknowns} unknowns"


def shown_text(case: Case, outcome: Outcome) -> str:
    """Write what a page draws a pressed case from: its picture, its numbers and its inputs."""
    result = converged_result(case, outcome)
    for bulky in ("lip_surface", "pressure_profile", "cautions"):
        del result[bulky]  # the picture holds the lines, the page the cautions
    return _written(case, picture(outcome), result, Read(outcome.measures, True, _contracts(case)))


def first_text(case: Case, standing: Pressed) -> str:
    """Write what a page draws a first equilibrium from.

    What only the solution tells is left out, and the errors are the least ever told.
    """
    model, state = standing.model, standing.equilibrium.state
    problem, contact = case.problem, traction(model, state)
    names = tuple(layer.name for layer in problem.lip.layers)
    side = Contact(
        contact.place, contact.normal, KPA_PER_MPA * contact.pressure, KPA_PER_MPA * contact.shear,
        on_rim(problem.rim, contact),
    )  # fmt: skip
    drawn = picture_of(problem.rim, state.travel, section_of(model, state, names), side, profile(contact))
    found = replace(measures_of(problem, model, state, contact), peak_pressure_error_percent=UNCHECKED_PERCENT)
    numbers = {name: value for name, value in measured(found).items() if not CATALOGUE[name].more_than_one}
    errors = {name: doubt(found, name) for name, v in numbers.items() if v is not None and CATALOGUE[name].error}
    result = {"title": problem.title, **numbers, "errors": errors, "warnings": list(case.warnings)}
    return _written(case, drawn, result, Read(found, False, _contracts(case)))


def _written(case: Case, drawn: dict[str, Any], result: dict[str, Any], read: Read) -> str:
    whole = {
        "picture": {**drawn, "tooth_gap_mm": case.problem.lip.tooth_gap_radius},
        "answers": [asdict(answer) for answer in first_answers(read)],
        "next": next_step(read.measures, keys=False),
        "result": result,
        "inputs": case.resolved,
    }
    return json.dumps(whole, allow_nan=False)


def _contracts(case: Case) -> bool:
    return case.problem.load.muscle_activation > 0.0 and any(layer.muscle for layer in case.problem.lip.layers)
