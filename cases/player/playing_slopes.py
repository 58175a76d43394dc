"""Which of a rim's dimensions moves what only a playing lip has: central differences of rims solved as it plays."""

from __future__ import annotations

from labrum.cases.player.playing import SomeLip, playing_case
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.cases.player.slopes import STEPS, Slope, changed_rim, slope_between
from labrum.simulate.conclusions.robustness import Each, Stopped
from labrum.simulate.measures.catalogue import Measures

TIMES_LARGER = 2.0
"""Than the steps of a lip held still: what the muscle does is told less surely, and must move by more to be seen."""
NO_PART = ("cup_wall_angle_deg",)
"""Dimensions of no part of the rim that the lip is held by."""

End = tuple[str, float]


def playing_slopes(sheet: Sheet, lip: SomeLip, rim: KnownRim, each: Each) -> tuple[Slope, ...]:
    """What a step of every dimension does at loud in the playing lip; ``each`` solves.

    A dimension without a rim or a result on both sides is left out.
    """
    ends = {end: there for end in _ends(rim) if (there := _at(rim, end)) is not None}
    found = _measured(sheet, lip, ends, each)
    keys = dict.fromkeys(key for key, _ in found)
    pairs = {key: (found.get((key, -1.0)), found.get((key, 1.0))) for key in keys}
    return tuple(
        slope_between(key, TIMES_LARGER * STEPS[key], less, more)
        for key, (less, more) in pairs.items()
        if less is not None and more is not None
    )


def _ends(rim: KnownRim) -> list[End]:
    table = rim.dimensions or {}
    return [(key, way) for key in STEPS if key not in NO_PART and isinstance(table.get(key), float)
            for way in (-1.0, 1.0)]  # fmt: skip


def _at(rim: KnownRim, end: End) -> KnownRim | None:
    (key, way), table = end, rim.dimensions or {}
    return changed_rim(rim, {key: round(table[key] + way * TIMES_LARGER * STEPS[key], 9)})


def _measured(sheet: Sheet, lip: SomeLip, ends: dict[End, KnownRim], each: Each) -> dict[End, Measures]:
    names = list(ends)
    results = each([playing_case(sheet, lip, rim, "loud").problem for rim in ends.values()])
    return {names[number]: one.measures for number, one in results if not isinstance(one, Stopped)}
