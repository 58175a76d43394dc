"""The command ``labrum cut``: a rim's outline for the lathe, written as files that are never dated."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import read_case
from labrum.cases.cutting.files import Cut, cut_files, cut_report, lay_out
from labrum.cases.cutting.options import CutOptions, read_options, unknown_dimensions
from labrum.cases.exits import DONE, BadInput, CannotDo
from labrum.cases.library.shelf import demo_names
from labrum.cases.manner import USUAL, Manner
from labrum.cases.places import is_file
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.run_folder import free_name, usual_stem, whole_or_gone
from labrum.cases.solving.screen import Narrator, show
from labrum.meshes.faults import Fault, GeometryError


@dataclass(frozen=True)
class CutOrder:
    """What the command line asked for: ``out`` is the folder to make, None for the usual place."""

    place: str
    options: CutOptions
    out: Path | None = None
    manner: Manner = USUAL


class BadCutOptions(CannotDo):
    """Options that cannot be used: every fault found."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(_said(fault) for fault in faults))


def run_cut(order: CutOrder) -> int:
    """Do the job and return its exit code: the report goes to stdout, all else to stderr."""
    return conducted(partial(_cut, order), order.manner, reading="case")


def _cut(order: CutOrder, narrator: Narrator) -> int:
    plan, faults = read_options(order.options)
    if plan is None:
        raise BadCutOptions(faults)
    case = read_case(order.place)
    if unknown := unknown_dimensions(plan, case.problem.rim):
        raise BadCutOptions(unknown)
    for text in case.warnings:
        narrator.say(f"warning: {text}")
    try:
        cut = lay_out(case.problem.rim, plan)
    except GeometryError as error:
        raise BadInput(_no_way(order.place, error)) from error
    kept = _write(order, case, cut)
    for text in cut.warnings:
        narrator.say(f"warning: {text}")
    narrator.say(f"kept in {kept}")
    show(cut_report(case.problem.title, cut))
    return DONE


def _write(order: CutOrder, case: Case, cut: Cut) -> Path:
    """Write every file under a temporary name and rename the folder when it is whole."""
    invented = order.place in demo_names() and not is_file(Path(order.place))
    target = order.out or free_name(Path("cuts", usual_stem(order.place)))
    with whole_or_gone(target, order.manner.force) as kept:
        for name, content in cut_files(case.problem.title, case.problem.rim, cut, invented).items():
            kept.folder.write(name, content)
    return kept.at


def _no_way(place: str, error: GeometryError) -> str:
    return "\n".join(f"{place}: {_said(replace(f, key='--nose-radius'))}" for f in error.faults)


def _said(fault: Fault) -> str:
    hint = f" ({fault.hint})" if fault.hint else ""
    return f"{fault.key}: got {fault.got}, allowed {fault.allowed}{hint}"
