"""From a sheet to a shortlist: what a step of each dimension does, three rims, each solved in the player's lip.

Rims are looked for with the lip held still, which is quick, on a forecast that every solved rim sets right. What the
opening's closing does is learnt in the playing lip, for held still it does not close. The three rims are then solved
in the playing lip, loud; where one breaks a limit or brings too little, the forecast learns of it and the three are
chosen again. At soft, where nothing is aimed at, the rims listed are solved once more, to tell what gets worse there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from labrum.cases.exits import NoEquilibrium
from labrum.cases.player.fitting import PlayerLip
from labrum.cases.player.plausible import PlausibleLip, plausible_lips
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.cases.player.slopes import Heed, StillPresses, changed_rim, go_on
from labrum.cases.shortlisting.choosing import (
    BALANCED,
    BOLDEST,
    KINDS,
    LEAST,
    Field,
    Holding,
    Picked,
    amount_of,
    balanced,
    boldest,
    holding_back,
    least_change,
    least_relief,
    quantity_of,
)
from labrum.cases.shortlisting.dials import ShopStep, dials_of
from labrum.cases.shortlisting.forecast import CROWN_PEAK, EDGE_PEAK, changes_seen
from labrum.cases.shortlisting.probing import (
    LOUD,
    PRESENT,
    SOFT,
    Learnt,
    Played,
    PlayingLip,
    first_forecast,
    probe_rims,
    unit_place,
)
from labrum.cases.shortlisting.voting import LipCount, counted
from labrum.cases.shortlisting.wanted import Brief, Restraint, Want, brief_of, that_can_be_told
from labrum.simulate.conclusions.measure_errors import doubt
from labrum.simulate.conclusions.robustness import Each
from labrum.simulate.measures.catalogue import Measures

LOOKS = 6
"""How often the three are chosen and solved with the lip held still before they are solved in the playing lip."""
MOST_PLAYED = 3
"""How often they are at most chosen and solved in the playing lip."""
ENOUGH = 0.8
"""A relief of less, where more was to be had, is one more look's worth."""


@dataclass(frozen=True)
class Listed:
    """A rim of the shortlist: what ``changes`` of the present one, solved in the playing lip, loud.

    ``reliefs`` by want, 1 being what counts as one, and ``relief`` the least that counts; ``broken`` are the restraints
    it breaks beyond the errors; ``lips`` counts by measure. ``soft`` is the same rim at soft; None where it has no
    equilibrium there.
    """

    kind: str
    changes: dict[str, float]
    played: Played
    reliefs: dict[str, float]
    relief: float
    broken: tuple[Restraint, ...]
    lips: dict[str, LipCount] = field(default_factory=dict)
    soft: Played | None = None


@dataclass(frozen=True)
class Shortlist:
    """What was found; ``unmet`` are wants that no rim relieves, ``holding`` what holds the boldest back.

    ``left_out`` are wants and restraints that cannot be told of the present rim; ``still`` and ``living`` count rims
    solved; ``notes`` tell of rims that have no result. ``present_soft`` is the present rim at soft.
    """

    sheet: Sheet
    lip: PlayerLip
    brief: Brief
    present: Played
    listed: tuple[Listed, ...]
    holding: tuple[Holding, ...]
    unmet: tuple[Want, ...]
    left_out: tuple[str, ...]
    lips: tuple[PlausibleLip, ...]
    shop: ShopStep
    still: int
    living: int
    notes: tuple[str, ...]
    present_soft: Played | None = None


def shortlist_of(
    sheet: Sheet, rim: KnownRim, lip: PlayerLip, shop: ShopStep, count: int, each: Each, say: Callable[[str], None],
    heed: Heed = go_on,
) -> Shortlist:
    """Find three rims for a player who has ``rim``, a rim of dimensions; ``count`` plausible lips are asked.

    ``each`` solves, ``say`` tells how it goes, ``heed`` is called often and may end it.

    Raises
    ------
    labrum.cases.exits.NoEquilibrium
        Where the present rim, or every rim found, has no equilibrium in this lip at loud.
    """
    playing, presses = PlayingLip(sheet, lip, each), StillPresses(sheet, lip, LOUD, heed)
    say("the playing lip: the present rim, and what closes")
    asked, still = brief_of(sheet), presses.measures(rim)
    dials = dials_of(sheet, rim, asked.held)
    pinned = any(want.measure == "closing_travel_ratio" for want in asked.wants)
    probed, _ = playing.under({PRESENT: rim, **probe_rims(rim, dials, pinned)})
    if still is None or PRESENT not in probed:
        raise NoEquilibrium("the present rim has no equilibrium at loud in this lip")
    now = probed.pop(PRESENT)
    brief, left_out = that_can_be_told(asked, still, now.outcome.measures)
    say("the lip held still: what a step of each dimension does")
    asks: tuple[Want | Restraint, ...] = (*brief.wants, *brief.restraints)
    quantities = tuple(dict.fromkeys((*(quantity_of(one) for one in asks), EDGE_PEAK, CROWN_PEAK)))
    learnt = first_forecast(rim, dials, quantities, still, presses)
    for key, one in probed.items():
        place = unit_place(dials, key, one.rim.table[key])
        learnt = learnt.with_playing(place, now.outcome.measures, one.outcome.measures)
    edge = now.outcome.measures.edge_to_crown_pressure if still.edge_to_crown_pressure else None
    where = Field(rim, dials, brief.wants, brief.restraints, learnt.whole, shop, math.log(edge) if edge else None,
                  learnt.places)
    look = _Look(where, learnt, still, now)
    for _ in range(LOOKS):
        look = look.held_still(presses)
    say("the playing lip: the rims found")
    look, listed, notes = look.played(playing, brief)
    bold = boldest(look.where)
    say("the playing lip at soft: the present rim and those found")
    soft, lost = playing.under({PRESENT: rim, **{one.kind: one.played.rim for one in listed}}, SOFT)
    notes += tuple(f"the {kind} at soft: {reason}" for kind, reason in lost.items())
    lips = plausible_lips(lip, count)
    say(f"{count} lips that this player may have, held still")
    counts, solved = counted(sheet, now, [one.played for one in listed], lips, heed)
    listed = tuple(
        replace(one, lips=votes, soft=soft.get(one.kind)) for one, votes in zip(listed, counts, strict=True)
    )
    unmet = tuple(want for want in brief.wants if max(one.reliefs[want.name] for one in listed) < 1.0)
    return Shortlist(
        sheet, lip, brief, now, listed, holding_back(look.where, bold), unmet, left_out, lips, shop,
        presses.solved + solved, playing.solved, notes, soft.get(PRESENT),
    )  # fmt: skip


@dataclass(frozen=True)
class _Look:
    """Where the search stands: what was learnt so far, from the present rim held still and playing."""

    where: Field
    learnt: Learnt
    still: Measures
    now: Played

    def three(self) -> dict[str, Picked]:
        """The three rims by kind, as far as they differ."""
        bold = boldest(self.where)
        least = least_change(self.where, bold.relief)
        middle = balanced(self.where, least.relief, bold.relief)
        found: dict[str, Picked] = {}
        for one in (least, middle, bold):
            if one.changes and all(one.changes != other.changes for other in found.values()):
                found[one.kind] = one
        return found

    def held_still(self, presses: StillPresses) -> _Look:
        """Choose the three, solve them with the lip held still, and learn."""
        learnt = self.learnt
        for one in self.three().values():
            measures = presses.measures(changed_rim(self.where.rim, one.changes))
            if measures is not None:
                learnt = learnt.with_still(one.place, self.still, measures)
        return self._with(learnt)

    def played(self, playing: PlayingLip, brief: Brief) -> tuple[_Look, tuple[Listed, ...], tuple[str, ...]]:
        """Choose the three and solve them in the playing lip; again where the forecast was too far off."""
        look, best, notes = self, dict[str, Listed](), tuple[str, ...]()
        for _ in range(MOST_PLAYED):
            expected = look.three()
            look, found, lost = look._played_once(playing, expected, brief, best)
            notes += lost
            best |= {kind: _better(best.get(kind), one) for kind, one in found.items()}
            if not found or _good(best, expected):
                break
        if not best:
            raise NoEquilibrium("no rim found has an equilibrium in the playing lip at loud")
        return look, _in_order(*(best.get(kind) for kind in KINDS)), notes

    def _played_once(
        self, playing: PlayingLip, three: Mapping[str, Picked], brief: Brief, known: Mapping[str, Listed]
    ) -> tuple[_Look, dict[str, Listed], tuple[str, ...]]:
        """Solve those of the three that are not ``known`` yet, and learn."""
        picked = {kind: one for kind, one in three.items()
                  if all(one.changes != other.changes for other in known.values())}  # fmt: skip
        rims = {kind: changed_rim(self.where.rim, one.changes) for kind, one in picked.items()}
        found, lost = playing.under({kind: rim for kind, rim in rims.items() if rim is not None})
        learnt, listed = self.learnt, dict[str, Listed]()
        for kind, one in found.items():
            learnt = learnt.with_playing(picked[kind].place, self.now.outcome.measures, one.outcome.measures)
            listed[kind] = _listed(picked[kind], self.now.outcome.measures, one, brief)
        return self._with(learnt), listed, tuple(f"the {kind}: {reason}" for kind, reason in lost.items())

    def _with(self, learnt: Learnt) -> _Look:
        return replace(self, learnt=learnt, where=replace(self.where, forecast=learnt.whole, solved=learnt.places))


def _good(listed: Mapping[str, Listed], expected: Mapping[str, Picked]) -> bool:
    """Do the rims hold every limit, and bring the relief that there is?"""
    if set(listed) != set(expected) or not listed:
        return False
    return not any(one.broken for one in listed.values()) and all(
        one.relief >= ENOUGH * expected[kind].relief for kind, one in listed.items()
    )


def _in_order(least: Listed | None, middle: Listed | None, bold: Listed | None) -> tuple[Listed, ...]:
    """Those worth listing; the bolder of two is the one that turned out to relieve more."""
    if middle and bold and middle.relief > bold.relief and len(middle.broken) <= len(bold.broken):
        middle, bold = replace(bold, kind=BALANCED), replace(middle, kind=BOLDEST)
    if middle and least and middle.relief <= least.relief:  # more change for less relief
        middle = None
    return tuple(one for one in (least, middle, bold) if one is not None)


def _better(first: Listed | None, second: Listed) -> Listed:
    if first is None:
        return second
    if len(first.broken) != len(second.broken):
        return min(first, second, key=lambda one: len(one.broken))
    enough = [one for one in (first, second) if one.relief >= ENOUGH]
    if first.kind == LEAST and enough:
        return min(enough, key=lambda one: len(one.changes))
    return max(first, second, key=lambda one: one.relief)


def _listed(picked: Picked, now: Measures, played: Played, brief: Brief) -> Listed:
    then = played.outcome.measures
    reliefs = {}
    for want in brief.wants:
        change = changes_seen((quantity_of(want),), now, then).get(quantity_of(want), 0.0)
        reliefs[want.name] = want.sign * change / amount_of(want)
    broken = tuple(one for one in brief.restraints if _breaks(one, now, then))
    relief = least_relief(brief.wants, np.array([[reliefs[want.name]] for want in brief.wants]))
    return Listed(picked.kind, picked.changes, played, reliefs, float(relief[0]), broken)


def _breaks(one: Restraint, now: Measures, then: Measures) -> bool:
    """Is a restraint broken by more than the errors of both rims?"""
    change = changes_seen((quantity_of(one),), now, then).get(quantity_of(one))
    if change is None:
        return False
    error = doubt(now, one.measure) + doubt(then, one.measure)
    error /= abs(getattr(now, one.measure)) if one.share else 1.0
    moved = abs(change) if one.sign == 0.0 else one.sign * change
    return moved > amount_of(one) + error
