"""Rims compared at something held equal: each is pressed until it has the first one's force, mean pressure or sink."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.schema import HELD
from labrum.cases.comparing.hold import Hold
from labrum.simulate.conclusions.robustness import Result, Stopped, Trial
from labrum.simulate.conclusions.varied_lips import Variation
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Aim, Problem


def said(hold: Hold, first: Outcome) -> str:
    """Say what is held, and the first rim's value."""
    if hold is Hold.FORCE:
        return f"one force, the first rim's: {first.force_n:.4g} N"
    if hold is Hold.MEAN_PRESSURE:
        return f"one mean pressure, the first rim's: {first.measures.mean_pressure_kpa:.4g} kPa"
    return f"one sink, the first rim's: {first.measures.sink_mm:.4g} mm"


def like_first(problem: Problem, hold: Hold, first: Outcome) -> Problem:
    """The problem under a load that gives it what the first rim has."""
    aims = {
        Hold.FORCE: None,
        Hold.MEAN_PRESSURE: Aim("mean_pressure_kpa", first.measures.mean_pressure_kpa),
        Hold.SINK: Aim("sink_mm", first.measures.sink_mm),
    }
    return replace(problem, load=replace(problem.load, force=first.force_n, aim=aims[hold]))


@dataclass(frozen=True)
class Lips:
    """A rim's name and the lips it is pressed into."""

    name: str
    few: tuple[Variation, ...]


TriedAll = Callable[[Sequence[Lips]], list[tuple[Trial, ...]]]
"""Solves every lip of some rims, as one list."""


def tried_held(rims: Sequence[Lips], hold: Hold | None, tried_all: TriedAll) -> list[tuple[Trial, ...]]:
    """Solve every rim's lips; with ``hold`` the first's, then the others', each held to the first's in the same lip."""
    if hold is None:
        return tried_all(rims)
    first = tried_all(rims[:1])[0]
    known: dict[str, Result] = {trial.name: trial.result for trial in first}
    alone = first[0].result
    reached = [[known.get(lip.name, alone) for lip in rim.few] for rim in rims[1:]]
    open_to = [
        Lips(rim.name, tuple(
            replace(lip, problem=like_first(lip.problem, hold, result))
            for lip, result in zip(rim.few, results, strict=True) if not isinstance(result, Stopped)
        ))
        for rim, results in zip(rims[1:], reached, strict=True)
    ]  # fmt: skip
    solved = [iter(trials) for trials in tried_all(open_to)]
    others = [
        tuple(_unheld(lip) if isinstance(result, Stopped) else next(more)
              for lip, result in zip(rim.few, results, strict=True))
        for rim, results, more in zip(rims[1:], reached, solved, strict=True)
    ]  # fmt: skip
    return [first, *others]


def _unheld(lip: Variation) -> Trial:
    return Trial(lip.name, Stopped("the first rim, which it is held to, has no result in this lip", "not converged"))


def held_cases(cases: Sequence[Case], hold: Hold | None) -> list[Case]:
    """The cases without what ``hold`` overrules in their loads, which then tells none from another."""
    if hold is None:
        return list(cases)
    return [replace(case, resolved={**case.resolved, "load": _without_held(case)}) for case in cases]


def _without_held(case: Case) -> dict[str, object]:
    return {key: value for key, value in case.resolved["load"].items() if key not in HELD}
