"""What the present rim does to this player, why, and what the change that helps most would cost."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from labrum.cases.case_file.building import Case
from labrum.cases.exits import NoEquilibrium, OurFault
from labrum.cases.player.complaints import KNOWN, Complaint, Judged, judged
from labrum.cases.player.fitting import PlayerLip
from labrum.cases.player.own_dimensions import in_own_dimensions
from labrum.cases.player.playing import playing_case
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.cases.player.slopes import (
    Slope,
    StillPresses,
    arc_of_peak,
    changed_rim,
    slopes_of,
    strongest,
    wide_enough_from,
)
from labrum.simulate.conclusions.robustness import Each, Stopped
from labrum.simulate.outcome import Outcome

TRIED_STEPS = 2
"""Of the dimension that moves a complaint most, in the rim that is tried in the playing lip."""


@dataclass(frozen=True)
class Remedy:
    """For one complaint, the dimension that moves it most, ``slope`` turned so that it helps."""

    complaint: Complaint
    slope: Slope


@dataclass(frozen=True)
class Present:
    """What was found of the present rim.

    ``outcomes`` and ``arcs`` (which arc carries the peak) by loudness; ``slopes`` at loud; ``tried`` the rim changed
    by the first remedy, with its ``trial`` at loud in the playing lip. ``wide_enough`` is the first width, mm, at
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
    remedies: tuple[Remedy, ...]
    wide_enough: float | None
    varied: KnownRim | None
    off: str
    tried: KnownRim | None = None
    trial: Outcome | None = None


def present_of(sheet: Sheet, rim: KnownRim, lip: PlayerLip, each: Each, say: Callable[[str], None]) -> Present:
    """Find all there is to say; ``each`` solves, ``say`` tells how it goes.

    Raises
    ------
    labrum.cases.exits.NoEquilibrium
        Where the present rim has no equilibrium in this lip at soft or at loud.
    """
    say("the rim held still on the lip: what each dimension moves")
    presses, said = StillPresses(sheet, lip, "loud"), in_own_dimensions(rim)
    varied = said.rim
    presses.measures(varied)  # where the others start from
    slopes = slopes_of(varied, presses) if varied else ()
    wide_enough = wide_enough_from(varied, presses) if varied else None
    names = sheet.complaints
    remedies = tuple(Remedy(complaint, slope) for complaint, slope in _helping(names, slopes))
    tried = _tried_rim(varied, remedies) if varied else None
    cases = {loudness: playing_case(sheet, lip, rim, loudness) for loudness in ("soft", "loud")}
    if tried is not None:
        cases["changed"] = playing_case(sheet, lip, tried, "loud")
    say(f"the playing lip: {len(cases)} cases")
    outcomes = _solved(cases, each, say)
    trial = outcomes.pop("changed", None)
    arcs = {loudness: arc_of_peak(outcome) for loudness, outcome in outcomes.items()}
    told = judged(names, outcomes["soft"], outcomes["loud"])
    return Present(
        sheet, lip, rim, cases, outcomes, arcs, told, slopes, remedies, wide_enough, varied, said.words,
        tried if trial else None, trial,
    )  # fmt: skip


def _helping(names: tuple[str, ...], slopes: Sequence[Slope]) -> list[tuple[Complaint, Slope]]:
    asked = [KNOWN[name] for name in names or ("cuts",)]
    found = [(one, strongest(slopes, one.measure, -one.worse)) for one in asked]
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
        if name != "changed":
            raise NoEquilibrium(f"the present rim at {name}: {result.reason}")
        say(f"the changed rim has no result: {result.reason}")
    return outcomes
