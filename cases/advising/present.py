"""What the present rim does to this player, why, and what the change that helps most would cost."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from labrum.cases.case_file.building import Case
from labrum.cases.exits import NoEquilibrium, OurFault
from labrum.cases.player.complaints import KNOWN, Complaint, Judged, judged
from labrum.cases.player.fitting import PlayerLip
from labrum.cases.player.own_dimensions import in_own_dimensions
from labrum.cases.player.playing import LIVING_ONLY, playing_case
from labrum.cases.player.playing_slopes import playing_slopes
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.cases.player.slopes import (
    Heed,
    Slope,
    StillPresses,
    arc_of_peak,
    changed_rim,
    go_on,
    slopes_of,
    strongest,
    wide_enough_from,
)
from labrum.simulate.conclusions.robustness import Each, Stopped
from labrum.simulate.outcome import Outcome

TRIED_STEPS = 2
"""Of the dimension that moves a complaint most, in the rim that is tried in the playing lip."""
LOUDS = ("soft", "loud")
CHANGED = "changed-"


@dataclass(frozen=True)
class Remedy:
    """For one complaint, the dimension that moves it most, ``slope`` turned so that it helps."""

    complaint: Complaint
    slope: Slope


@dataclass(frozen=True)
class Present:
    """What was found of the present rim.

    ``outcomes`` and ``arcs`` (which arc carries the peak) by loudness; ``slopes`` at loud, the lip held still, and
    ``playing`` in the playing lip where a complaint is about what only that has; ``tried`` the rim changed by the first
    remedy, with its ``trials`` in the playing lip by loudness. ``wide_enough`` is the first width, mm, at
    which the peak leaves the edges. ``varied`` is the rim in dimensions, by which slopes are taken, and ``off`` says
    how far those stand off a trace; all that needs dimensions is empty or None where none say the rim.
    """

    sheet: Sheet
    lip: PlayerLip
    rim: KnownRim
    cases: dict[str, Case]
    outcomes: dict[str, Outcome]
    arcs: dict[str, str]
    judged: tuple[Judged, ...]
    slopes: tuple[Slope, ...]
    playing: tuple[Slope, ...]
    remedies: tuple[Remedy, ...]
    wide_enough: float | None
    varied: KnownRim | None
    off: str
    tried: KnownRim | None = None
    trials: dict[str, Outcome] = field(default_factory=dict)

    @property
    def unmoved(self) -> tuple[Complaint, ...]:
        """Complaints that no step moves beyond its error."""
        helped = [one.complaint for one in self.remedies]
        return tuple(KNOWN[name] for name in self.sheet.complaints if KNOWN[name] not in helped)


def present_of(
    sheet: Sheet, rim: KnownRim, lip: PlayerLip, each: Each, say: Callable[[str], None], heed: Heed = go_on
) -> Present:
    """Find all there is to say; ``each`` solves, ``say`` tells how it goes, ``heed`` is called often and may end it.

    Raises
    ------
    labrum.cases.exits.NoEquilibrium
        Where the present rim has no equilibrium in this lip at soft or at loud.
    """
    say("the rim held still on the lip: what each dimension moves")
    presses, said = StillPresses(sheet, lip, "loud", heed), in_own_dimensions(rim)
    varied = said.rim
    presses.measures(varied)  # where the others start from
    slopes = slopes_of(varied, presses) if varied else ()
    wide_enough = wide_enough_from(varied, presses) if varied else None
    names = sheet.complaints
    playing: tuple[Slope, ...] = ()
    if varied is not None and any(KNOWN[name].measure in LIVING_ONLY for name in names):
        say("the playing lip: what each dimension moves")
        playing = playing_slopes(sheet, lip, varied, each)
    remedies = tuple(Remedy(complaint, slope) for complaint, slope in _helping(names, slopes, playing))
    tried = _tried_rim(varied, remedies) if varied else None
    cases = {loudness: playing_case(sheet, lip, rim, loudness) for loudness in LOUDS}
    if tried is not None:
        cases |= {f"{CHANGED}{loudness}": playing_case(sheet, lip, tried, loudness) for loudness in LOUDS}
    say(f"the playing lip: {len(cases)} cases")
    outcomes = _solved(cases, each, say)
    trials = {name: outcomes.pop(f"{CHANGED}{name}") for name in LOUDS if f"{CHANGED}{name}" in outcomes}
    arcs = {loudness: arc_of_peak(outcome) for loudness, outcome in outcomes.items()}
    told = judged(names, outcomes["soft"], outcomes["loud"])
    return Present(
        sheet, lip, rim, cases, outcomes, arcs, told, slopes, playing, remedies, wide_enough, varied, said.words,
        tried if trials else None, trials,
    )  # fmt: skip


def _helping(
    names: tuple[str, ...], slopes: Sequence[Slope], playing: Sequence[Slope]
) -> list[tuple[Complaint, Slope]]:
    asked = [KNOWN[name] for name in names or ("cuts",)]
    found = [
        (one, strongest(playing if one.measure in LIVING_ONLY else slopes, one.measure, -one.worse)) for one in asked
    ]
    return [(one, slope) for one, slope in found if slope is not None]


def _tried_rim(rim: KnownRim, remedies: Sequence[Remedy]) -> KnownRim | None:
    if not remedies or rim.dimensions is None:
        return None
    slope = remedies[0].slope
    return changed_rim(rim, {slope.key: round(rim.dimensions[slope.key] + TRIED_STEPS * slope.step, 9)})


def _solved(cases: dict[str, Case], each: Each, say: Callable[[str], None]) -> dict[str, Outcome]:
    """Solve the cases; of the changed rim alone an answer may be missing."""
    names, outcomes = list(cases), dict[str, Outcome]()
    for number, result in each([case.problem for case in cases.values()]):
        name = names[number]
        if not isinstance(result, Stopped):
            outcomes[name] = result
            continue
        if result.kind == "failed":
            raise OurFault(result.reason)
        if not name.startswith(CHANGED):
            raise NoEquilibrium(f"the present rim at {name}: {result.reason}")
        say(f"the changed rim has no result at {name.removeprefix(CHANGED)}: {result.reason}")
    return outcomes
