"""The main job: read a case, solve it, show and keep the result, and say what happened as an exit code."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labrum.cases.case_file.building import Case, asking_off_axis, with_vibration
from labrum.cases.case_file.reading import read_case
from labrum.cases.drawing import AS_DRAWN, Drawn
from labrum.cases.exits import DONE, NOT_CONVERGED, CannotDo
from labrum.cases.manner import USUAL, Manner
from labrum.cases.places import reason_of
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.record import Draw, FolderRecord, NoRecord, Record
from labrum.cases.solving.result import (
    as_json,
    converged_result,
    figure_note,
    stopped_at,
    unconverged_result,
)
from labrum.cases.solving.screen import Narrator, cautions_text, may_colour, result_table, show
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged, Problem, Progress

if TYPE_CHECKING:
    from labrum.simulate.conclusions.robustness import Each, Trial

NarratedSolver = Callable[[Problem, Callable[[Progress], None]], Outcome]


@dataclass(frozen=True)
class Order:
    """What the command line asked for: ``out`` is the run folder, None for the usual place."""

    place: str
    out: Path | None = None
    robust: bool = False
    all_figures: bool = False
    off_axis: bool = False
    vibration: bool = False
    drawn: Drawn = AS_DRAWN
    manner: Manner = USUAL


def run(order: Order, command: tuple[str, ...], each: Each) -> int:
    """Do the job and return its exit code; ``each`` solves varied lips, where those are asked for.

    Data goes to stdout (with ``json``, one JSON object for a result, an invalid case or a solve that did not
    converge), narration and messages to stderr.
    """
    return conducted(partial(_solve, order, command, each), order.manner, reading="case")


def _solve(order: Order, command: tuple[str, ...], each: Each, narrator: Narrator) -> int:
    case = asking_off_axis(read_case(order.place)) if order.off_axis else read_case(order.place)
    case = with_vibration(case) if order.vibration else case
    for text in case.warnings:
        narrator.say(f"warning: {text}")
    varied: list[Trial] = []
    record = _record(order, case, command, varied)
    narrator.say(f"solving: {case.problem.title}")
    try:
        outcome = _solver()(case.problem, _both(narrator.listener(case.problem), record.progress))
    except NotConverged as stop:
        _say_where(narrator, record.failed(stop, str(stop)))
        return _unconverged(order, case, stop, narrator)
    except BaseException as error:
        _say_where(narrator, record.failed(error, traceback.format_exc()))
        raise
    robustness = None
    try:
        if order.robust:
            varied += _varied(case, outcome, each, narrator)
            robustness = _robustness(case, varied)
        _deliver(order, case, outcome, robustness, narrator)
    finally:  # an interrupt of this, or a reader that hung up, must not cost the result there is
        _keep(record, outcome, robustness, narrator)
    return DONE


def _deliver(
    order: Order, case: Case, outcome: Outcome, robustness: dict[str, Any] | None, narrator: Narrator
) -> None:
    """Show the result, before any of its files is written: a full disk must not cost it."""
    for text in outcome.warnings:
        narrator.say(f"warning: {text}")
    narrator.say(cautions_text())
    if order.manner.json:
        show(as_json(converged_result(case, outcome, robustness)))
    else:
        show(result_table(case.problem.title, outcome, may_colour(sys.stdout)) + _section(robustness))


def _keep(record: Record, outcome: Outcome, robustness: dict[str, Any] | None, narrator: Narrator) -> None:
    try:
        _say_where(narrator, record.converged(outcome, robustness))
    except OSError as error:
        what = f"{error.filename}: {reason_of(error)}" if error.filename else reason_of(error)
        kept = f"what there is stands in {record.place}"
        raise CannotDo(f"solved, but not all of it could be written ({what}); {kept}") from error
    except BaseException as error:
        _say_where(narrator, record.failed(error, traceback.format_exc()))
        raise


def _unconverged(order: Order, case: Case, stop: NotConverged, narrator: Narrator) -> int:
    narrator.tell(
        f"labrum: not converged: {stopped_at(case, stop.force_reached)}\n"
        f"  likely cause: {stop.cause}\n  what to try: {stop.advice}"
    )
    if order.manner.json:
        show(as_json(unconverged_result(case, stop)))
    return NOT_CONVERGED


def _varied(case: Case, outcome: Outcome, each: Each, narrator: Narrator) -> Sequence[Trial]:
    from labrum.cases.solving.robust import varied_trials  # loads the solver

    return varied_trials(case.problem, outcome, each, narrator)


def _robustness(case: Case, trials: Sequence[Trial]) -> dict[str, Any]:
    from labrum.cases.solving.robust import robustness

    return robustness(case.problem, trials)


def _section(robustness: dict[str, Any] | None) -> str:
    from labrum.cases.solving.robust import robustness_text

    return "" if robustness is None else f"\n{robustness_text(robustness)}"


def _record(order: Order, case: Case, command: tuple[str, ...], varied: Sequence[Trial]) -> Record:
    """Choose the run folder; with ``json`` alone the data on stdout is all that was asked for."""
    if order.out is None and order.manner.json:
        return NoRecord()
    from labrum.cases.solving.run_folder import free_name, usual_stem

    target = order.out or free_name(Path("runs", f"{usual_stem(order.place)}-{_clock():%Y%m%d-%H%M%S}"))
    return FolderRecord.begin(target, case, command, _drawing(order, case, varied), _clock, order.manner.force)


def _both(
    first: Callable[[Progress], None], second: Callable[[Progress], None]
) -> Callable[[Progress], None]:
    def tell(report: Progress) -> None:
        first(report)
        second(report)

    return tell


def _say_where(narrator: Narrator, kept: Path | None) -> None:
    if kept is not None:
        narrator.say(f"kept in {kept}")


def _clock() -> datetime:
    return datetime.now(UTC)


def _solver() -> NarratedSolver:
    from labrum.simulate import solve  # only a solve needs the solver, and faults of a case should come at once

    return lambda problem, progress: solve(problem, progress=progress)


def _drawing(order: Order, case: Case, varied: Sequence[Trial]) -> Draw:
    """How the run's figures are drawn; ``varied`` holds by then what other lips came to, where those were asked for."""
    size, note, top = order.drawn.size(), figure_note(case), order.drawn.pressure_to_kpa
    formats = ("svg", "pdf", "png") if order.all_figures else ("svg", "png")

    def draw(outcome: Outcome, title: str, folder: Path) -> None:
        from labrum.reports.figures.catalogue import write_figures  # loads the plotting library

        how: dict[str, Any] = {"note": note, "formats": formats, "pressure_to_kpa": top, "size": size}
        if order.all_figures:
            from labrum.reports.figures.catalogue import plots_of

            write_figures(outcome, title, folder, names=tuple(plots_of(outcome)), **how)
        else:
            write_figures(outcome, title, folder, **how)
        if varied:
            from labrum.cases.solving.robust import lip_bands
            from labrum.reports.figures.catalogue import write_lip_bands

            write_lip_bands(outcome, lip_bands(case.problem, varied), title, folder, **how)

    return draw
