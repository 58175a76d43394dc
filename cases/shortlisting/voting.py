"""In how many of the lips a player may have a rim differs from the present one as it does in the player's own.

The lips are pressed held still; what only a playing lip tells is not counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labrum.cases.player.plausible import PlausibleLip
from labrum.cases.player.sheet import Sheet
from labrum.cases.player.slopes import Heed, StillPresses, go_on
from labrum.cases.shortlisting.probing import LOUD, Played
from labrum.simulate.conclusions.measure_errors import higher
from labrum.simulate.measures.catalogue import CATALOGUE, Measures


@dataclass(frozen=True)
class LipCount:
    """In how many plausible lips, of how many solved, a measure moves as in the player's own, beyond the errors."""

    same: int
    of: int


def counted(
    sheet: Sheet, now: Played, rims: Sequence[Played], lips: Sequence[PlausibleLip], heed: Heed = go_on
) -> tuple[list[dict[str, LipCount]], int]:
    """Count for every rim, by measure; and tell how many rims were solved.

    A measure is counted where rim and present rim differ in it beyond the errors in the player's own lip, and where a
    lip held still has it. A lip under which a rim has no equilibrium counts against it.
    """
    ballots: list[list[tuple[Measures, Measures | None]]] = [[] for _ in rims]
    solved = 0
    for lip in lips:
        presses = StillPresses(sheet, lip, LOUD, heed)
        first = presses.measures(now.rim)
        for ballot, rim in zip(ballots, rims, strict=True):
            if first is not None:
                ballot.append((first, presses.measures(rim.rim)))
        solved += presses.solved
    own = now.outcome.measures
    return [_counts(own, rim.outcome.measures, ballot) for rim, ballot in zip(rims, ballots, strict=True)], solved


def _counts(
    now: Measures, then: Measures, ballot: Sequence[tuple[Measures, Measures | None]]
) -> dict[str, LipCount]:
    found = {}
    for entry in CATALOGUE.values():
        more = higher(then, now, entry.name) if entry.error is not None else None
        told = [one for one in ballot if getattr(one[0], entry.name) is not None]
        if more is None or not told:
            continue
        same = sum(there is not None and higher(there, here, entry.name) is more for here, there in told)
        found[entry.name] = LipCount(same, len(told))
    return found
