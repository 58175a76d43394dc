"""Solves the cases about a nominal one: the nominal, each parameter at both its ends, and a sample of the whole box."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.cases.solving.fingerprint import case_key
from labrum.cases.sweeping.expansion import Member, unit_sample
from labrum.cases.sweeping.plan import Sample
from labrum.cases.sweeping.settings import changed
from labrum.cases.tolerancing.parameters import Parameter
from labrum.meshes.arrays import Floats


@dataclass(frozen=True)
class Design:
    """Places (n, d) from -1 to 1 and their cases: the nominal first, then pairs of ends, then the sample."""

    parameters: tuple[Parameter, ...]
    places: Floats
    members: tuple[Member, ...]

    @property
    def sampled(self) -> slice:
        """Where the sample stands."""
        return slice(1 + 2 * len(self.parameters), None)


def design(case: Case, parameters: Sequence[Parameter], points: int, seed: int, solver: str) -> Design:
    """Lay out the cases about a nominal one; ``points`` is a power of two, or 0 for no sample."""
    count = len(parameters)
    pairs = [sign * np.eye(count)[[axis]] for axis in range(count) for sign in (-1, 1)]
    ends = np.vstack([np.zeros((1, count)), *pairs])
    sampled = 2.0 * unit_sample(count, Sample(points, seed)) - 1.0 if points else np.empty((0, count))
    places = np.vstack([ends, sampled]).round(6)
    return at_places(case, parameters, places, solver)


def at_places(case: Case, parameters: Sequence[Parameter], places: Floats, solver: str) -> Design:
    """Turn places (n, d) into cases; one that cannot be is kept with its reason."""
    members = [_member(case, parameters, number, place, solver) for number, place in enumerate(places, 1)]
    return Design(tuple(parameters), places, tuple(members))


def _member(case: Case, parameters: Sequence[Parameter], number: int, place: Floats, solver: str) -> Member:
    changes = tuple(p.change(float(x)) for p, x in zip(parameters, place, strict=True))
    settings: dict[str, float | str] = {p.name: change.value for p, change in zip(parameters, changes, strict=True)}
    try:
        made = case_from_table(changed(case.resolved, changes), f"rim {number}")
    except InvalidCase as error:
        return Member(number, settings, None, "", str(error.faults[0]))
    return Member(number, settings, made, case_key(made, solver), "")
