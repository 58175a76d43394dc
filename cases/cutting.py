"""The command ``labrum cut``: a rim's outline for the lathe, written as files that are never dated."""

from __future__ import annotations

import shutil
import sys
import traceback
from dataclasses import dataclass, replace
from pathlib import Path

from cases.building import Case
from cases.cut_files import Cut, cut_files, cut_report, lay_out
from cases.cut_options import CutOptions, read_options, unknown_dimensions
from cases.faults import InvalidCase
from cases.job import DONE, INTERRUPTED, INVALID, OUR_FAULT, USAGE
from cases.library import demo_names
from cases.reading import read_case
from cases.runfolder import RunFolder, UnusableFolder, free_name
from cases.screen import Narrator
from meshes.faults import Fault, GeometryError


@dataclass(frozen=True)
class CutOrder:
    """What the command line asked for: ``out`` is the folder to make, None for the usual place."""

    place: str
    options: CutOptions
    out: Path | None = None
    quiet: bool = False
    debug: bool = False


class BadOptions(ValueError):
    """Options that cannot be used: every fault found."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(f"labrum: {_said(fault)}" for fault in faults))


def run_cut(order: CutOrder) -> int:
    """Do the job and return its exit code: the report goes to stdout, all else to stderr."""
    narrator = Narrator(sys.stderr, order.quiet)
    try:
        _cut(order, narrator)
        return DONE
    except (InvalidCase, GeometryError) as error:
        narrator.tell(_invalid(order, error))
        return INVALID
    except BadOptions as error:
        narrator.tell(str(error))
        return USAGE
    except UnusableFolder as error:
        narrator.tell(f"labrum: {error}")
        return USAGE
    except KeyboardInterrupt:
        narrator.tell("labrum: interrupted")
        return INTERRUPTED
    except BrokenPipeError:
        raise
    except Exception as error:  # the last line of defence: a person gets a sentence, not a traceback
        trace = traceback.format_exc() if order.debug else ""
        hint = "" if order.debug else "; --debug shows where"
        narrator.tell(f"{trace}labrum: a fault of our own, not of the case: {type(error).__name__}: {error}{hint}")
        return OUR_FAULT


def _cut(order: CutOrder, narrator: Narrator) -> None:
    plan, faults = read_options(order.options)
    if plan is None:
        raise BadOptions(faults)
    case = read_case(order.place)
    if unknown := unknown_dimensions(plan, case.problem.rim):
        raise BadOptions(unknown)
    for text in case.warnings:
        narrator.say(f"warning: {text}")
    cut = lay_out(case.problem.rim, plan)
    kept = _write(order, case, cut)
    for text in cut.warnings:
        narrator.say(f"warning: {text}")
    narrator.say(f"kept in {kept}")
    print(cut_report(case.problem.title, cut), flush=True)


def _write(order: CutOrder, case: Case, cut: Cut) -> Path:
    """Write every file under a temporary name and rename the folder when it is whole."""
    invented = order.place in demo_names() and not Path(order.place).is_file()
    target = order.out or free_name(Path("cuts", Path(order.place).stem))
    folder = RunFolder.begin(target)
    try:
        for name, content in cut_files(case.problem.title, case.problem.rim, cut, invented).items():
            folder.write(name, content)
        kept = free_name(folder.target)
        folder.place.rename(kept)
    except BaseException:
        shutil.rmtree(folder.place, ignore_errors=True)
        raise
    return kept


def _invalid(order: CutOrder, error: InvalidCase | GeometryError) -> str:
    if isinstance(error, InvalidCase):
        return str(error)
    return "\n".join(f"{order.place}: {_said(replace(f, key='--nose-radius'))}" for f in error.faults)


def _said(fault: Fault) -> str:
    hint = f" ({fault.hint})" if fault.hint else ""
    return f"{fault.key}: got {fault.got}, allowed {fault.allowed}{hint}"
