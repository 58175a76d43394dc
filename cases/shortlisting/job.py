"""The job of ``labrum shortlist``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path

from labrum.cases.exits import DONE, CannotDo
from labrum.cases.manner import USUAL, Manner
from labrum.cases.player.fitting import player_lip
from labrum.cases.player.sheet import read_sheet
from labrum.cases.shortlisting.dials import SHOP_STEP, ShopStep
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.result import as_json
from labrum.cases.solving.run_folder import try_new_folder, whole_or_gone
from labrum.cases.solving.screen import Narrator, cautions_text, show


@dataclass(frozen=True)
class ShortlistOrder:
    """What the command line asked for: ``out`` is the folder to make, None for none."""

    place: str
    out: Path | None = None
    step: str = SHOP_STEP
    lips: int = 8
    workers: int = 0
    manner: Manner = USUAL


def run_shortlist(order: ShortlistOrder) -> int:
    """Do the job and return its exit code: the shortlist goes to stdout, all else to stderr."""
    return conducted(partial(_shortlist, order), order.manner, reading="sheet")


def _shortlist(order: ShortlistOrder, narrator: Narrator) -> int:
    try:
        shop = ShopStep.read(order.step)
    except ValueError as error:
        raise CannotDo(f"--step: got {order.step}, allowed {error}") from None
    sheet = read_sheet(order.place)
    if order.out is not None:
        try_new_folder(order.out, order.manner.force)
    # they load the solver, and a sheet's faults should come at once
    from labrum.cases.shortlisting.finding import shortlist_of
    from labrum.cases.shortlisting.ready import kept_files, rim_to_change
    from labrum.cases.shortlisting.told import shortlist_json, shortlist_text
    from labrum.cases.workers.aloud import solver_told
    from labrum.cases.workers.each import solve_each

    rim, words = rim_to_change(sheet)
    if words:
        narrator.say(words)
    narrator.say(f"{sheet.alias or sheet.file}: the lip, from {len(sheet.presses)} presses")
    each = partial(solve_each, workers=order.workers, solver=solver_told(order.manner))
    found = shortlist_of(sheet, rim, player_lip(sheet), shop, order.lips, each, narrator.say)
    told = shortlist_json(found)
    narrator.say(cautions_text())
    text = shortlist_text(found, None if order.out is None else str(order.out))
    show(as_json(told) if order.manner.json else text)
    if order.out is not None:
        with whole_or_gone(order.out, order.manner.force) as kept:
            for name, written in kept_files(found, told, text).items():
                kept.folder.write(name, written)
        narrator.say(f"kept in {kept.at}")
    return DONE
