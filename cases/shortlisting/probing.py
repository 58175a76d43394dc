"""Solves rims for a shortlist: with the lip held still, and in the playing lip; and turns them into a forecast."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from labrum.cases.case_file.building import Case
from labrum.cases.exits import OurFault
from labrum.cases.player.playing import SomeLip, playing_case
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.cases.player.slopes import StillPresses, changed_rim
from labrum.cases.shortlisting.dials import Dial
from labrum.cases.shortlisting.forecast import Forecast, Quantity, changes_seen, forecast_from
from labrum.meshes.arrays import Floats
from labrum.simulate.conclusions.robustness import Each, Stopped
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Outcome

SOFT, LOUD = "soft", "loud"
PRESENT = "present"
LIVING_PROBES = ("inner_diameter_mm", "width_mm")
PINNED_PROBES = (*LIVING_PROBES, "high_point", "bite_radius_mm", "inner_crown_radius_mm", "outer_crown_radius_mm")
"""Of which dimensions a step is solved in the playing lip; more where closing is what is wanted."""
FULL_STEP = 0.5
"""A probe of less than half a step tells little."""


@dataclass(frozen=True)
class Played:
    """A rim solved in the playing lip."""

    rim: KnownRim
    case: Case
    outcome: Outcome


class PlayingLip:
    """Solves rims in a player's lip as it plays, several at once; ``solved`` counts them."""

    def __init__(self, sheet: Sheet, lip: SomeLip, each: Each) -> None:
        self._sheet, self._lip, self._each = sheet, lip, each
        self.solved = 0

    def under(
        self, rims: Mapping[str, KnownRim], loudness: str = LOUD
    ) -> tuple[dict[str, Played], dict[str, str]]:
        """What came of each rim by its name, and why others have no result."""
        cases = {name: playing_case(self._sheet, self._lip, rim, loudness) for name, rim in rims.items()}
        names, found, lost = list(cases), dict[str, Played](), dict[str, str]()
        for number, result in self._each([case.problem for case in cases.values()]):
            self.solved, name = self.solved + 1, names[number]
            if not isinstance(result, Stopped):
                found[name] = Played(rims[name], cases[name], result)
            elif result.kind == "failed":
                raise OurFault(result.reason)
            else:
                lost[name] = result.reason
        return found, lost


@dataclass(frozen=True)
class Learnt:
    """A forecast in two parts: of the lip held still, and of what the playing lip does beyond that.

    ``places`` (k, n) are those of the rims it was learnt from.
    """

    still: Forecast
    beyond: Forecast
    places: Floats

    @property
    def whole(self) -> Forecast:
        """What is expected in the playing lip."""
        return self.still.plus(self.beyond)

    def with_still(self, place: Floats, now: Measures, then: Measures) -> Learnt:
        """Learn from a rim solved with the lip held still."""
        seen = changes_seen(self.still.quantities, now, then)
        return Learnt(self.still.corrected(place, seen), self.beyond, self._and(place))

    def with_playing(self, place: Floats, now: Measures, then: Measures) -> Learnt:
        """Learn from a rim solved in the playing lip."""
        still, quantities = self.still.changes(place[None])[0], self.still.quantities
        seen = changes_seen(quantities, now, then)
        more = {one: seen[one] - float(still[row]) for row, one in enumerate(quantities) if one in seen}
        return Learnt(self.still, self.beyond.corrected(place, more), self._and(place))

    def _and(self, place: Floats) -> Floats:
        return np.vstack([self.places, place])


def probe_rims(rim: KnownRim, dials: Sequence[Dial], pinned: bool) -> dict[str, KnownRim]:
    """The rims, by dimension, of which closing is learnt: a step either way, whichever there is."""
    keys = PINNED_PROBES if pinned else LIVING_PROBES
    found = ((dial.key, _step_away(rim, dial)) for dial in dials if dial.key in keys)
    return {key: there for key, there in found if there is not None}


def _step_away(rim: KnownRim, dial: Dial) -> KnownRim | None:
    values = (round(dial.value(way), 4) for way in (1.0, -1.0))
    rims = (changed_rim(rim, {dial.key: value}) for value in values if abs(dial.place(value)) > FULL_STEP)
    return next((there for there in rims if there is not None), None)


def first_forecast(
    rim: KnownRim, dials: Sequence[Dial], quantities: Sequence[Quantity], now: Measures, presses: StillPresses
) -> Learnt:
    """Forecast from a step of each dimension either way, the lip held still."""
    either = [_either_side(rim, dial, presses) for dial in dials]
    still = forecast_from(quantities, now, either)
    along = np.eye(len(dials))
    places = [u * way for way, side in zip(along, either, strict=True) for u, _ in side]
    return Learnt(still, still.flat(), np.vstack([np.zeros(len(dials)), *places]))


def _either_side(rim: KnownRim, dial: Dial, presses: StillPresses) -> list[tuple[float, Measures]]:
    found = []
    for way in (-1.0, 1.0):
        value = round(dial.value(way), 4)
        place = dial.place(value)
        measures = presses.measures(changed_rim(rim, {dial.key: value})) if abs(place) > 0.1 else None
        if measures is not None:
            found.append((place, measures))
    return found


def unit_place(dials: Sequence[Dial], key: str, value: float) -> Floats:
    """The place (n,) at which one dimension has a value and the others are the present rim's."""
    return np.array([dial.place(value) if dial.key == key else 0.0 for dial in dials])
