"""The report: read some cases, press each, see what survives another stiffness, and write one page."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import read_all
from labrum.cases.exits import DONE, NOT_CONVERGED, CannotDo, Ending, OurFault, ended
from labrum.cases.solving.leftovers import sweep_files, written_whole
from labrum.cases.solving.run_folder import try_target, usual_stem
from labrum.cases.solving.screen import Narrator, show
from labrum.cases.workers.each import solve_each
from labrum.reports.pages.content import MOST_RIMS, NoSolution, Paper, RimSheet, Softened, Unsolved
from labrum.simulate.conclusions.robustness import Each, Result, Stopped
from labrum.simulate.conclusions.varied_lips import EITHER_WAY, softened
from labrum.simulate.outcome import Outcome

PressedOrStopped = Outcome | NoSolution


class CannotReport(CannotDo):
    """A report that cannot be written as asked."""


@dataclass(frozen=True)
class ReportOrder:
    """What the command line asked for; ``workers`` processes solve, 0 being one a processor."""

    places: tuple[str, ...]
    out: Path | None = None
    quick: bool = False
    workers: int = 0
    quiet: bool = False
    debug: bool = False


class WorkerTrace(Exception):
    """Where in a worker a fault of ours arose, as the worker wrote it."""


def run_report(order: ReportOrder, command: tuple[str, ...], each: Each | None = None) -> int:
    """Do the job and return its exit code; whatever goes wrong becomes a sentence and a code.

    ``each`` solves the problems; without it worker processes do.
    """
    ending = Ending(order.debug, "; no report was written")
    work = partial(_report, order, command, each=each or partial(solve_each, workers=order.workers))
    return ended(work, Narrator(sys.stderr, order.quiet), ending)


def _report(order: ReportOrder, command: tuple[str, ...], narrator: Narrator, each: Each) -> int:
    started = datetime.now(UTC)
    if not 1 <= len(order.places) <= MOST_RIMS:
        raise CannotReport(f"cases: got {len(order.places)}, allowed 1 to {MOST_RIMS}")
    cases = read_all(order.places)
    target = order.out or Path(f"{usual_stem(order.places[0])}-report.html")
    if not target.parent.is_dir():
        raise CannotReport(f"cannot write {target}: there is no folder {target.parent}")
    if target.is_dir():
        raise CannotReport(f"cannot write {target}: it is a folder; name the page to write, as {target / 'rims.html'}")
    try_target(target)
    sweep_files(target)
    factors = () if order.quick else EITHER_WAY
    found = _solve_all(cases, factors, narrator, each)
    paper = paper_of(cases, found, factors, provenance_of(cases, command, started))
    if paper is None:
        for case, (first, *_) in zip(cases, found, strict=True):
            if isinstance(first, NoSolution):
                narrator.tell(_sentence(case, first))
        return NOT_CONVERGED
    _write(paper, target)
    show(str(target))
    for rim in paper.unsolved:
        narrator.tell(f"labrum: {rim.name}: not converged: stopped at {rim.stopped.force_reached_n:.2f} N")
    return NOT_CONVERGED if paper.unsolved else DONE


def _solve_all(
    cases: Sequence[Case], factors: tuple[float, ...], narrator: Narrator, each: Each
) -> list[list[PressedOrStopped]]:
    """Press every case as given and with every factor on its stiffness, in that order."""
    problems = [softened(case.problem, factor) for case in cases for factor in (1.0, *factors)]
    found: dict[int, PressedOrStopped] = {}
    for number, result in each(problems):
        found[number] = shown_result(result)
        narrator.say(f"pressed {len(found)} of {len(problems)}: {problems[number].title}")
    width = 1 + len(factors)
    return [[found[width * k + j] for j in range(width)] for k in range(len(cases))]


def shown_result(result: Result) -> PressedOrStopped:
    """What a report shows of a result; a fault of ours in a worker, or its death, is raised as `OurFault`."""
    if not isinstance(result, Stopped):
        return result
    if result.stop is None:
        raise OurFault(result.reason) from (WorkerTrace(result.trace) if result.trace else None)
    return NoSolution(result.stop.force_reached, result.stop.cause, result.stop.advice)


def paper_of(
    cases: Sequence[Case],
    found: Sequence[Sequence[PressedOrStopped]],
    factors: tuple[float, ...],
    provenance: Mapping[str, Any],
) -> Paper | None:
    """Set a report together; None where not one of the rims converged.

    Parameters
    ----------
    cases
        As read.
    found
        For each case what came of it as given, then with each of ``factors`` on its stiffness.
    """
    from labrum.cases.solving.result import CAUTIONS

    sheets, unsolved = [], []
    for name, case, (first, *others) in zip(_names(cases), cases, found, strict=True):
        if isinstance(first, NoSolution):
            unsolved.append(Unsolved(name, first))
            continue
        tried = tuple(_softened(f, result) for f, result in zip(factors, others, strict=True))
        sheets.append(replace(sheet_of(case, first), name=name, softened=tried))
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


def _softened(factor: float, result: PressedOrStopped) -> Softened:
    return Softened(factor, result if isinstance(result, NoSolution) else result.measures)


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
