"""The jobs of ``labrum lip`` and ``labrum present``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from labrum.cases.advising.lip_told import lip_json, lip_text
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.case_file.toml_writer import case_text
from labrum.cases.exits import DONE
from labrum.cases.manner import USUAL, Manner
from labrum.cases.player.fitting import player_lip
from labrum.cases.player.sheet import KnownRim, Sheet, read_sheet
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.result import as_json
from labrum.cases.solving.run_folder import try_new_folder, whole_or_gone
from labrum.cases.solving.screen import Narrator, cautions_text, show
from labrum.meshes.faults import Fault


@dataclass(frozen=True)
class SheetOrder:
    """What the command line asked for: ``out`` is the folder to make, None for none."""

    place: str
    out: Path | None = None
    workers: int = 0
    manner: Manner = USUAL


Job = Callable[[SheetOrder, Narrator], int]


def run_lip(order: SheetOrder) -> int:
    """Do the job of ``labrum lip`` and return its exit code: the lip goes to stdout, all else to stderr."""
    return _ended(_lip, order)


def run_present(order: SheetOrder) -> int:
    """Do the job of ``labrum present`` and return its exit code: the findings go to stdout, all else to stderr."""
    return _ended(_present, order)


def _ended(job: Job, order: SheetOrder) -> int:
    return conducted(partial(_with_a_place, job, order), order.manner, reading="sheet")


def _with_a_place(job: Job, order: SheetOrder, narrator: Narrator) -> int:
    """Do the job once it is known that what it finds can be kept."""
    if order.out is not None:
        try_new_folder(order.out, order.manner.force)
    return job(order, narrator)


def _lip(order: SheetOrder, narrator: Narrator) -> int:
    sheet = read_sheet(order.place)
    narrator.say(f"{sheet.alias or sheet.file}: {len(sheet.presses)} presses")
    lip = player_lip(sheet)
    _deliver(order, narrator, "lip", lip_json(sheet, lip), lip_text(sheet, lip, order.place), {})
    return DONE


def _present(order: SheetOrder, narrator: Narrator) -> int:
    from labrum.cases.advising.present import present_of  # loads the solver, and a sheet's faults should come at once
    from labrum.cases.advising.present_told import present_json, present_text
    from labrum.cases.workers.aloud import solver_told
    from labrum.cases.workers.each import solve_each

    sheet = read_sheet(order.place)
    rim = _present_rim(sheet)
    narrator.say(f"{sheet.alias or sheet.file}: the lip, from {len(sheet.presses)} presses")
    lip = player_lip(sheet)
    each = partial(solve_each, workers=order.workers, solver=solver_told(order.manner))
    found = present_of(sheet, rim, lip, each, narrator.say)
    cases = {f"{name}.toml": case_text(case.resolved, case.problem.title) for name, case in found.cases.items()}
    _deliver(order, narrator, "present", present_json(found), present_text(found, order.place), cases)
    return DONE


def _present_rim(sheet: Sheet) -> KnownRim:
    if sheet.present is None:
        fault = Fault("present.rim", "nothing", "the rim the player has: a case file, a shipped case or a trace")
        raise InvalidCase((CaseFault(sheet.file, None, fault),))
    return sheet.present


def _deliver(
    order: SheetOrder, narrator: Narrator, name: str, found: dict[str, Any], text: str, files: dict[str, str]
) -> None:
    """Show what was found, then keep it where that was asked for."""
    narrator.say(cautions_text())
    show(as_json(found) if order.manner.json else text)
    if order.out is None:
        return
    with whole_or_gone(order.out, order.manner.force) as kept:
        kept.folder.write_json(f"{name}.json", found)
        kept.folder.write(f"{name}.txt", text + "\n")
        for file, written in files.items():
            kept.folder.write(file, written)
    narrator.say(f"kept in {kept.at}")
