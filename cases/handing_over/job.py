"""The job of ``labrum handover``: read a kept shortlist, press both rims again, and write everything."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.case_file.reading import read_case
from labrum.cases.cutting.files import lay_out
from labrum.cases.cutting.job import BadCutOptions
from labrum.cases.cutting.options import CutOptions, CutPlan, read_options, unknown_dimensions
from labrum.cases.exits import DONE, BadInput, NoEquilibrium, OurFault
from labrum.cases.handing_over.parcel import Parcel, archive, files_of
from labrum.cases.manner import USUAL, Manner
from labrum.cases.overwriting import refuse_taken_file
from labrum.cases.places import reason_of
from labrum.cases.shortlisting.kept import KEPT_AS, file_stem, kept_faults
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.leftovers import sweep_files
from labrum.cases.solving.run_folder import free_name, try_new_folder, try_target, whole_or_gone
from labrum.cases.solving.screen import Narrator, show
from labrum.meshes.faults import Fault, GeometryError
from labrum.simulate.conclusions.robustness import Each, Stopped
from labrum.simulate.outcome import Outcome

NOSE_RADIUS = {"mm": 0.4, "inch": 0.0157}
"""A usual insert's, in the unit asked for."""
PRESENT_CASE = "present"


@dataclass(frozen=True)
class HandoverOrder:
    """What the command line asked for: ``rim`` by its file's stem; ``out`` is the folder to make, None the usual."""

    folder: Path
    rim: str
    options: CutOptions
    out: Path | None = None
    workers: int = 0
    manner: Manner = USUAL


def run_handover(order: HandoverOrder) -> int:
    """Do the job and return its exit code: where it stands goes to stdout, all else to stderr."""
    return conducted(partial(_handover, order), order.manner, reading="shortlist")


def _handover(order: HandoverOrder, narrator: Narrator) -> int:
    plan, faults = read_options(order.options)
    if plan is None:
        raise BadCutOptions(faults)
    told, row = _shortlist(order)
    before, after = (read_case(str(order.folder / f"{name}.toml")) for name in (PRESENT_CASE, order.rim))
    if unknown := unknown_dimensions(plan, after.problem.rim):
        raise BadCutOptions(unknown)
    cut = _laid_out(order, after, plan)
    target = order.out or free_name(order.folder.with_name(f"{order.folder.name}-{order.rim}"))
    packed = target.with_name(f"{target.name}.zip")
    refuse_taken_file(packed, order.manner.force)
    try_target(packed)
    sweep_files(packed)
    try_new_folder(target, order.manner.force)
    narrator.say("both rims in the playing lip, loud")
    from labrum.cases.workers.aloud import solver_told  # both load the solver, and faults should come at once
    from labrum.cases.workers.each import solve_each

    each = partial(solve_each, workers=order.workers, solver=solver_told(order.manner))
    outcomes = outcomes_of([before, after], each)
    with whole_or_gone(target, order.manner.force) as kept:
        files = files_of(Parcel(told, row, (before, after), outcomes, cut))
        for name, content in files.items():
            kept.folder.write(name, content)
    archive(packed, files)  # after the folder: an archive alone would only be in the way of the next start
    for text in cut.warnings:
        narrator.say(f"warning: {text}")
    narrator.say(f"kept in {kept.at}, packed in {packed}")
    show(f"{kept.at}\n{packed}\nnext: open {kept.at / 'page.html'}, fill in and print it, and give the shop {packed}")
    return DONE


def _shortlist(order: HandoverOrder) -> tuple[dict[str, Any], dict[str, Any]]:
    """The kept shortlist and the rim asked for; every fault at once."""
    place = order.folder / KEPT_AS
    try:
        told = json.loads(place.read_text(encoding="utf-8"))
    except OSError as error:
        hint = "labrum shortlist SHEET --out FOLDER writes it"
        raise BadInput(f"{place}: cannot be read: {reason_of(error)} ({hint})") from None
    except ValueError as error:
        raise BadInput(f"{place}: got no JSON ({error}), allowed what labrum shortlist --out wrote") from None
    if wrong := kept_faults(told):
        raise InvalidCase(tuple(CaseFault(str(place), None, fault) for fault in wrong))
    rows = {file_stem(row["kind"]): row for row in told["rims"]}
    if order.rim not in rows:
        fault = Fault("--rim", order.rim, f"one of {', '.join(rows)}")
        raise InvalidCase((CaseFault(str(place), None, fault),))
    return told, rows[order.rim]


def _laid_out(order: HandoverOrder, case: Case, plan: CutPlan) -> Any:
    try:
        return lay_out(case.problem.rim, plan)
    except GeometryError as error:
        words = "; ".join(f"{fault.key}: got {fault.got}, allowed {fault.allowed}" for fault in error.faults)
        raise BadInput(f"{order.folder / order.rim}.toml: --nose-radius: {words}") from error


def outcomes_of(cases: Sequence[Case], each: Each) -> tuple[Outcome, ...]:
    """What came of the cases that are handed over; ``each`` solves.

    Raises
    ------
    labrum.cases.exits.NoEquilibrium
        Where one has none.
    labrum.cases.exits.OurFault
        Where one failed.
    """
    found: dict[int, Outcome] = {}
    for number, result in each([case.problem for case in cases]):
        if isinstance(result, Stopped):
            words = f"{cases[number].problem.title}: {result.reason}"
            raise NoEquilibrium(words) if result.kind == "not converged" else OurFault(words)
        found[number] = result
    return tuple(found[number] for number in range(len(cases)))
