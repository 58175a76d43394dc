"""The report: read some cases, press each, see what survives in other lips, and write one page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import read_all
from labrum.cases.exits import DONE, NOT_CONVERGED, CannotDo, OurFault
from labrum.cases.manner import USUAL, Manner
from labrum.cases.overwriting import refuse_taken_file
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.leftovers import sweep_files, written_whole
from labrum.cases.solving.run_folder import try_target, usual_stem
from labrum.cases.solving.screen import Narrator, show
from labrum.cases.workers.aloud import solver_told
from labrum.cases.workers.each import solve_each
from labrum.reports.pages.content import MOST_RIMS, NoSolution, Paper, RimSheet, Softened, Unsolved
from labrum.simulate.conclusions.robustness import Each, Result, Stopped
from labrum.simulate.conclusions.varied_lips import Variation, own_name, varied_lips
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem

PressedOrStopped = Outcome | NoSolution


class CannotReport(CannotDo):
    """A report that cannot be written as asked."""


@dataclass(frozen=True)
class ReportOrder:
    """What the command line asked for; ``workers`` processes solve, 0 being one a processor."""

    places: tuple[str, ...]
    out: Path | None = None
    robust: bool = True
    workers: int = 0
    manner: Manner = USUAL


@dataclass(frozen=True)
class PressedCase:
    """What came of a case in its ``own`` lip, and of the same in other lips; empty where those were not tried."""

    own: PressedOrStopped
    others: tuple[Softened, ...] = ()


class WorkerTrace(Exception):
    """Where in a worker a fault of ours arose, as the worker wrote it."""


def run_report(order: ReportOrder, command: tuple[str, ...], each: Each | None = None) -> int:
    """Do the job and return its exit code; whatever goes wrong becomes a sentence and a code.

    ``each`` solves the problems; without it worker processes do.
    """
    usual = partial(solve_each, workers=order.workers, solver=solver_told(order.manner))
    work = partial(_report, order, command, each=each or usual)
    return conducted(work, order.manner, interrupted="; no report was written")


def _report(order: ReportOrder, command: tuple[str, ...], narrator: Narrator, each: Each) -> int:
    started = datetime.now(UTC)
    if not 1 <= len(order.places) <= MOST_RIMS:
        raise CannotReport(f"cases: got {len(order.places)}, allowed 1 to {MOST_RIMS}")
    cases = read_all(order.places)
    target = order.out or Path(f"{usual_stem(order.places[0])}-report.html")
    if not target.parent.is_dir():
        raise CannotReport(f"cannot write {target}: there is no folder {target.parent}")
    refuse_taken_file(target, order.manner.force)
    try_target(target)
    sweep_files(target)
    found = _solve_all(cases, order.robust, narrator, each)
    paper = paper_of(cases, found, provenance_of(cases, command, started))
    if paper is None:
        for case, pressed in zip(cases, found, strict=True):
            if isinstance(pressed.own, NoSolution):
                narrator.tell(_sentence(case, pressed.own))
        return NOT_CONVERGED
    _write(paper, target)
    show(str(target))
    for rim in paper.unsolved:
        narrator.tell(f"labrum: {rim.name}: not converged: stopped at {rim.stopped.force_reached_n:.2f} N")
    return NOT_CONVERGED if paper.unsolved else DONE


def _solve_all(cases: Sequence[Case], robust: bool, narrator: Narrator, each: Each) -> list[PressedCase]:
    """Press every case in its own lip and, with ``robust``, in all varied ones."""
    problems = [case.problem for case in cases]
    lips = lips_tried(problems, robust)
    flat = [lip for several in lips for lip in several]
    found: dict[int, PressedOrStopped] = {}
    for number, result in each([lip.problem for lip in flat]):
        found[number] = shown_result(result)
        narrator.say(f"pressed {len(found)} of {len(flat)}: {flat[number].problem.title}, {flat[number].name}")
    results = iter([found[number] for number in range(len(flat))])
    return [pressed_case(p, some, [next(results) for _ in some]) for p, some in zip(problems, lips, strict=True)]


def lips_tried(problems: Sequence[Problem], robust: bool) -> list[tuple[Variation, ...]]:
    """Choose the lips each problem is pressed in: its own or, with ``robust``, all varied ones, the same for all."""
    return [varied_lips(p, problems) if robust else (Variation(own_name(p), p),) for p in problems]


def pressed_case(
    problem: Problem, lips: Sequence[Variation], results: Sequence[PressedOrStopped]
) -> PressedCase:
    """Tell what came of one problem in each of its lips, in their order."""
    own = results[[lip.name for lip in lips].index(own_name(problem))]
    if len(lips) == 1:
        return PressedCase(own)
    return PressedCase(own, tuple(_softened(problem, lip, r) for lip, r in zip(lips, results, strict=True)))


def shown_result(result: Result) -> PressedOrStopped:
    """What a report shows of a result; a fault of ours in a worker, or its death, is raised as `OurFault`."""
    if not isinstance(result, Stopped):
        return result
    if result.stop is None:
        raise OurFault(result.reason) from (WorkerTrace(result.trace) if result.trace else None)
    return NoSolution(result.stop.force_reached, result.stop.cause, result.stop.advice)


def paper_of(
    cases: Sequence[Case], found: Sequence[PressedCase], provenance: Mapping[str, Any]
) -> Paper | None:
    """Set a report together of the cases and what came of each; None where not one of the rims converged."""
    from labrum.cases.solving.result import CAUTIONS

    sheets, unsolved = [], []
    for name, case, pressed in zip(_names(cases), cases, found, strict=True):
        if isinstance(pressed.own, NoSolution):
            unsolved.append(Unsolved(name, pressed.own))
        else:
            sheets.append(replace(sheet_of(case, pressed.own), name=name, softened=pressed.others))
    if not sheets:
        return None
    return Paper(tuple(sheets), tuple(unsolved), _calibration(cases), CAUTIONS, provenance)


def sheet_of(case: Case, outcome: Outcome) -> RimSheet:
    """Turn one pressed case into a sheet of the report."""
    from labrum.cases.library.shelf import library_lip, library_load

    sources: dict[str, str] = {}
    if "lip" in case.presets:
        sources |= {f"lip {key}": text for key, text in library_lip(case.presets["lip"]).sources.items()}
    if "load" in case.presets:
        sources |= {f"load {key}": text for key, text in library_load(case.presets["load"]).sources.items()}
    return RimSheet(
        name=case.problem.title,
        outcome=outcome,
        inputs=case.resolved,
        given=case.given.decode("utf-8", "replace"),
        presets=case.presets,
        sources=sources,
        warnings=(*case.warnings, *outcome.warnings),
    )


def _calibration(cases: Sequence[Case]) -> str:
    """Say what the stiffness rests on: the library's words, and whose layers are the case's own."""
    from labrum.cases.library.shelf import library_lip, lip_names

    own = [case.problem.title for case in cases if "lip" not in case.presets]
    words = [library_lip(lip_names()[0]).calibration] if len(own) < len(cases) else []
    if own:
        words.append(
            f"Layers given by the case itself: {', '.join(own)}. What they rest on is for whoever gave them to say; "
            "the stiffness of a playing lip has not been measured anywhere."
        )
    return " ".join(words)


def _softened(problem: Problem, lip: Variation, result: PressedOrStopped) -> Softened:
    friction = None if lip.problem.load.friction == problem.load.friction else lip.problem.load.friction
    return Softened(lip.factor, result if isinstance(result, NoSolution) else result.measures, friction)


def _names(cases: Sequence[Case]) -> list[str]:
    """Titles, told apart where two are alike."""
    titles = [case.problem.title for case in cases]
    return [f"{t} ({k + 1})" if titles.count(t) > 1 else t for k, t in enumerate(titles)]


def provenance_of(cases: Sequence[Case], command: tuple[str, ...], started: datetime) -> dict[str, Any]:
    """Everything needed to tell two reports apart; files are hashed by the name they are known by."""
    from labrum.cases.solving.provenance import provenance

    inputs = {f"case {k}: {case.problem.title}": case.given for k, case in enumerate(cases, 1)}
    inputs |= {path.name: path.read_bytes() for case in cases for path in case.inputs}
    name = Path(command[0]).name if command else "labrum"
    return provenance((name, *command[1:]), started, datetime.now(UTC), inputs)


def _write(paper: Paper, target: Path) -> None:
    from labrum.reports.pages.report import report_page  # loads the plotting library

    page = report_page(paper).encode()
    try:
        written_whole(target, page)
    except OSError as error:
        raise CannotReport(f"cannot write {target}: {error.strerror}") from None


def _sentence(case: Case, stop: NoSolution) -> str:
    from labrum.cases.solving.result import stopped_at

    return (
        f"labrum: {case.problem.title}: not converged: {stopped_at(case, stop.force_reached_n)}\n"
        f"  likely cause: {stop.cause}\n  what to try: {stop.advice}"
    )
