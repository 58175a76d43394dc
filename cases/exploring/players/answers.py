"""What the page is told of a player: the lip, laid on the bench at a touch, and what the present rim does to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from labrum.cases.advising.lip_told import basis, warnings_of
from labrum.cases.case_file.building import Case
from labrum.cases.exits import CannotDo, NoEquilibrium, OurFault
from labrum.cases.exploring.asks.answer import FurtherAnswer, PageTable, Tell, rows_of_cells
from labrum.cases.exploring.players.working import Working
from labrum.cases.player.fitting import PlayerLip, player_lip
from labrum.cases.player.playing import playing_case, still_case
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.cases.player.tissue import nearest_type
from labrum.cases.shortlisting.dials import SHOP_STEP, ShopStep

LOUD = "loud"
PRESENT_SHARES, PINNED_SHARES, SHORTLIST_SHARES = (0.05, 0.4), (0.05, 0.25, 0.75), (0.05, 0.25, 0.35, 0.65, 0.8)
"""Where the stages of an answer begin, as shares of its time."""
LIPS = 8
"""How many plausible lips are asked for a shortlist."""


@dataclass(frozen=True)
class PlayerJob:
    """Answer one question of a player's sheet in a worker process; ``case`` is what lies on the bench."""

    what: str
    sheet: Sheet
    case: Case

    def run(self, tell: Tell) -> dict[str, Any]:
        """Return the answer as plain values, with ``lip`` to be laid on the bench; where there is none, why."""
        tell({"share": 0.0, "words": "fitting the lip"})
        try:
            lip = player_lip(self.sheet)
            answer = ANSWERS[self.what](self.sheet, lip, tell)
        except (CannotDo, NoEquilibrium, OurFault) as error:
            return FurtherAnswer((f"No answer: {error}.",)).plain
        return {**answer.plain, "lip": lip_for_bench(self.sheet, lip, self.case)}


def lip_for_bench(sheet: Sheet, lip: PlayerLip, case: Case) -> dict[str, Any]:
    """The lip in ``words`` with its uncertainty, and as tables of a case, ``still`` and ``playing`` loud.

    The disc it is modelled as is as large as the rim on the bench asks for.
    """
    rim = KnownRim("this rim", case.problem.rim, case.resolved["rim"])
    made = {"still": still_case(sheet, lip, rim, LOUD), "playing": playing_case(sheet, lip, rim, LOUD)}
    return {
        "words": f"{sheet.alias or 'The player'}'s lip: {_in_words(lip)}",
        **{name: {"lip": one.resolved["lip"], "load": one.resolved["load"]} for name, one in made.items()},
    }


def _in_words(lip: PlayerLip) -> str:
    low, high = lip.stiffness_between
    return (
        f"{lip.thickness:.1f} ± {lip.thickness_uncertainty:.1f} mm over the teeth, stiffness {lip.stiffness:.2f} of "
        f"the average lip's (from {low:.2f} to {high:.2f})"
    )


def lip_answer(sheet: Sheet, lip: PlayerLip, tell: Tell) -> FurtherAnswer:
    """Tell the fitted lip, and how it stands to each press."""
    words = (
        f"{_in_words(lip)[0].upper()}{_in_words(lip)[1:]}; about 95 % (coverage factor 2).",
        f"The nearest of the library's lips is the {nearest_type(lip.thickness)} one. {basis(sheet, lip)}",
        *(f"{text[0].upper()}{text[1:]}." for text in warnings_of(lip)),
    )
    rows = [(f"press {one.number}", one.what, f"{one.measured:.2f}", f"{one.fitted:.2f}") for one in lip.residuals]
    head = ("press", "length", "measured, mm", "of the fitted lip, mm")
    return FurtherAnswer(words, (PageTable("What was pressed", head, rows_of_cells(rows)),) if rows else ())


def present_answer(sheet: Sheet, lip: PlayerLip, tell: Tell) -> FurtherAnswer:
    """Tell what the present rim does to this player, why, and what the change that helps most would cost.

    Raises
    ------
    CannotDo
        Where the sheet names no present rim.
    NoEquilibrium
        Where that rim has none in this lip.
    """
    from labrum.cases.advising.present import present_of
    from labrum.cases.exploring.players.present_tables import present_for_page

    if sheet.present is None:
        raise CannotDo("the sheet names no present rim: choose one under Present rim")
    work = Working(tell, PINNED_SHARES if "pins" in sheet.complaints else PRESENT_SHARES)
    found = present_of(sheet, sheet.present, lip, work.each, work.say, work.heed)
    return present_for_page(found)


def shortlist_answer(sheet: Sheet, lip: PlayerLip, tell: Tell) -> FurtherAnswer:
    """Find three rims for this player, as ``labrum shortlist`` does with its defaults.

    Raises
    ------
    NoEquilibrium
        Where the present rim, or every rim found, has none in this lip.
    """
    from labrum.cases.exploring.players.shortlist_tables import shortlist_for_page
    from labrum.cases.shortlisting.finding import shortlist_of
    from labrum.cases.shortlisting.ready import rim_to_change

    (rim, words), work = rim_to_change(sheet), Working(tell, SHORTLIST_SHARES)
    found = shortlist_of(sheet, rim, lip, ShopStep.read(SHOP_STEP), LIPS, work.each, work.say, work.heed)
    return shortlist_for_page(found, words)


ANSWERS: dict[str, Callable[[Sheet, PlayerLip, Tell], FurtherAnswer]] = {
    "lip": lip_answer, "present": present_answer, "shortlist": shortlist_answer,
}  # fmt: skip
"""What may be asked of a sheet."""
