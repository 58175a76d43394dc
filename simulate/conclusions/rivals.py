"""Two rims in the same varied lips: which is the higher in what, and in how many lips."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from labrum.simulate.conclusions.measure_errors import claim_of, higher, statement
from labrum.simulate.conclusions.robustness import Asked, Conclusion, Trial, tallied
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.measures.declaration import Claim, Measure
from labrum.simulate.outcome import Outcome


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


def contested(first: Entrant, second: Entrant, names: Iterable[str] | None = None) -> tuple[Conclusion, ...]:
    """Count, for each measure, the varied lips in which the one rim has more of it than the other.

    A difference no larger than the two errors together counts as one that cannot be told. The numbers are the
    differences, positive where the claim holds. ``names`` are the measures to look at; without them, those that
    declare what is concluded of them.
    """
    looked_at = names or [measure.name for measure in CATALOGUE.values() if measure.claim is not None]
    found = (_contested(CATALOGUE[name], claim_of(name), first, second) for name in looked_at)
    return tuple(conclusion for conclusion in found if conclusion is not None)


def _contested(measure: Measure, claim: Claim, first: Entrant, second: Entrant) -> Conclusion | None:
    others = {trial.name: trial.outcome for trial in second.trials}
    pairs = {trial.name: (trial.outcome, others.get(trial.name)) for trial in first.trials}
    differences, answers = {}, {}
    for lip, (here, there) in pairs.items():
        if here is None or there is None or (gap := _gap(measure.name, here, there)) is None:
            continue
        differences[lip] = gap
        more = higher(here.measures, there.measures, measure.name)
        answers[lip] = {None: None, True: "first", False: "second"}[more]
    asked = _asked(measure, claim, first.name, second.name)
    found = tallied(asked, answers, differences, list(pairs), first.own)
    return _turned(found) if found is not None and found.words == asked.words["second"] else found


def _turned(found: Conclusion) -> Conclusion:
    """Count the differences from the other rim, so that they are positive where the claim holds."""
    number = None if found.number is None else -found.number
    return replace(found, number=number, lowest=-found.highest, highest=-found.lowest)


def _asked(measure: Measure, claim: Claim, first: str, second: str) -> Asked:
    ways = {"first": True, "second": False, None: None}
    words = {answer: statement(measure.name, first, second, more) for answer, more in ways.items()}
    return Asked(measure.name, words, measure.unit, claim.difference)


def _gap(name: str, here: Outcome, there: Outcome) -> float | None:
    a, b = (getattr(outcome.measures, name) for outcome in (here, there))
    return None if a is None or b is None else float(a - b)
