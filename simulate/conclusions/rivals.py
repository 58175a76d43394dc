"""Two rims in the same varied lips: which is the higher in what, and in how many lips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from labrum.simulate.conclusions.measure_errors import higher
from labrum.simulate.conclusions.robustness import Asked, Conclusion, Trial, tallied
from labrum.simulate.outcome import Outcome


@dataclass(frozen=True)
class Contest:
    """A measure that two rims are compared in: ``words`` takes the rim that has more of it and the other."""

    measure: str
    words: str
    unit: str
    meaning: str


CONTESTS = (
    Contest("peak_pressure_kpa", "{} peaks higher than {}", "kPa", "difference of the peaks"),
    Contest("edge_concentration", "{} concentrates the load more than {}", "", "difference of peak over mean"),
    Contest("bearing_area_mm2", "{} bears on more area than {}", "mm2", "difference of the bearing areas"),
    Contest("skin_stretch_max", "{} stretches the skin more than {}", "", "difference of the largest stretches"),
    Contest("intrusion_volume_mm3", "{} lets more tissue past the bite than {}", "mm3", "difference of the volumes"),
    Contest("felt_diameter_mm", "{} feels larger than {}", "mm", "difference of the felt diameters"),
    Contest("closing_travel_ratio", "{} leaves the lip freer than {}", "", "difference of the closing travels"),
)


@dataclass(frozen=True)
class Entrant:
    """A rim that is compared: its name and its trials in the varied lips; ``own`` names the case's own lip."""

    name: str
    trials: tuple[Trial, ...]
    own: str


@dataclass(frozen=True)
class Pairing:
    """What is concluded of two rims."""

    first: str
    second: str
    conclusions: tuple[Conclusion, ...]


def pairings(entrants: Sequence[Entrant]) -> tuple[Pairing, ...]:
    """Compare every two rims in every measure that applies to both."""
    return tuple(Pairing(a.name, b.name, contested(a, b)) for a, b in combinations(entrants, 2))


def contested(first: Entrant, second: Entrant) -> tuple[Conclusion, ...]:
    """Count, for each measure, the varied lips in which the one rim has more of it than the other.

    A difference no larger than the two errors together counts as one that cannot be told. The numbers are the
    differences, positive where the claim holds.
    """
    return tuple(c for contest in CONTESTS if (c := _contested(contest, first, second)) is not None)


def _contested(contest: Contest, first: Entrant, second: Entrant) -> Conclusion | None:
    others = {trial.name: trial.outcome for trial in second.trials}
    pairs = {trial.name: (trial.outcome, others.get(trial.name)) for trial in first.trials}
    differences, answers = {}, {}
    for lip, (here, there) in pairs.items():
        if here is None or there is None or (gap := _gap(contest, here, there)) is None:
            continue
        differences[lip] = gap
        answers[lip] = {None: None, True: "first", False: "second"}[
            higher(here.measures, there.measures, contest.measure)
        ]
    asked = _asked(contest, first.name, second.name)
    found = tallied(asked, answers, differences, list(pairs), first.own)
    return _turned(found) if found is not None and found.words == asked.words["second"] else found


def _turned(found: Conclusion) -> Conclusion:
    """Count the differences from the other rim, so that they are positive where the claim holds."""
    number = None if found.number is None else -found.number
    return replace(found, number=number, lowest=-found.highest, highest=-found.lowest)


def _asked(contest: Contest, first: str, second: str) -> Asked:
    words = {
        "first": contest.words.format(first, second),
        "second": contest.words.format(second, first),
        None: f"{first} and {second} cannot be told apart: {contest.meaning}",
    }
    return Asked(contest.measure, words, contest.unit, contest.meaning)


def _gap(contest: Contest, here: Outcome, there: Outcome) -> float | None:
    a, b = (getattr(outcome.measures, contest.measure) for outcome in (here, there))
    return None if a is None or b is None else float(a - b)
