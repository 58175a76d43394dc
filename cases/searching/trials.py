"""The rims a search has tried: each solved once, kept at once, and found again when the search is resumed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass, field

import numpy as np

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.cases.searching.goals import Bound, DoesNotApply, Goal, Measured, number
from labrum.cases.searching.plan import SearchPlan
from labrum.cases.solving.fingerprint import case_key
from labrum.cases.sweeping.runner import task_of
from labrum.cases.sweeping.settings import Change, changed
from labrum.cases.workers.local import solve_here
from labrum.cases.workers.pool import processes_for
from labrum.cases.workers.store import LOST, KeptCase, Store
from labrum.cases.workers.task import Solver, solved
from labrum.meshes.arrays import Floats

FINEST = 1e-3
"""Dimensions are tried to the micrometre: nobody turns a rim finer, and a resumed search meets its own rims again."""


@dataclass(frozen=True)
class Tried:
    """One rim tried: its ``place`` (n,) in the unit cube, its settings, and what came of it.

    ``score`` is None where it has no result, for ``reason``; ``excess`` (k,) says by how much each limit is broken;
    ``errors`` are the measures' estimated errors.
    """

    place: Floats
    settings: dict[str, float]
    case: Case | None
    measures: Measured
    score: float | None
    excess: Floats
    reason: str = ""
    errors: Mapping[str, float | None] = field(default_factory=dict)

    @property
    def good(self) -> bool:
        """Is it solved, and within every limit?"""
        return self.score is not None and not np.any(self.excess > 0)


class EnoughTried(Exception):
    """The effort allowed is spent."""


@dataclass
class Trials:
    """Tries rims for a plan; ``tell`` hears of each new one, ``fresh`` counts those that had to be solved.

    Where ``workers`` processes may work (0: one a processor), `prepare` solves rims beforehand that are to be tried.
    """

    plan: SearchPlan
    goal: Goal
    store: Store
    solver_name: str
    solver: Solver
    tell: Callable[[Tried, int], None]
    most: int
    tried: dict[tuple[float, ...], Tried] = field(default_factory=dict)
    fresh: int = 0
    workers: int = 1

    def at(self, place: Floats) -> Tried:
        """Try the rim at a place (n,) of the unit cube; a rim tried before costs nothing.

        Raises
        ------
        EnoughTried
            If this would be one more than allowed.
        """
        values = self._values(place)
        if values not in self.tried:
            if len(self.tried) >= self.most:
                raise EnoughTried
            self.tried[values] = self._try(values)
            self.tell(self.tried[values], len(self.tried))
        return self.tried[values]

    def prepare(self, places: Iterable[Floats]) -> None:
        """Solve the rims at some places (n,), as many at once as there are workers; `at` then finds them kept."""
        new = list(dict.fromkeys(v for v in map(self._values, places) if v not in self.tried))
        cases = [self._case(values) for values in new[: max(0, self.most - len(self.tried))]]
        tasks = {key: task_of(key, case, self.solver_name) for case in cases if isinstance(case, Case)
                 if (key := case_key(case, self.solver_name))}  # fmt: skip
        kept = self.store.find(list(tasks))
        waiting = [task for key, task in tasks.items() if key not in kept or kept[key].status == LOST]
        if processes_for(len(waiting), self.workers) < 2:
            return
        with closing(solve_here(waiting, self.store, self.solver, self.workers)) as results:
            self.fresh += sum(1 for _ in results)

    def best(self) -> Tried | None:
        """Return the best rim within every limit, or else the one that breaks them least; None if none is solved."""
        good = [trial for trial in self.tried.values() if trial.good]
        if good:
            return min(good, key=_score)
        rest = [trial for trial in self.tried.values() if trial.score is not None]
        return min(rest, key=lambda trial: self.broken(trial.excess)) if rest else None

    def broken(self, excess: Floats) -> float:
        """By how much limits are broken in all, each in its own scale."""
        scales = np.array([bound.scale for bound in self.plan.bounds])
        return float(np.sum(np.maximum(0.0, excess) / scales))

    def _values(self, place: Floats) -> tuple[float, ...]:
        low, high = ends_of(self.plan)
        values = low + (high - low) * np.clip(place, 0.0, 1.0)
        return tuple(float(v) for v in np.clip(np.round(values / FINEST) * FINEST, low, high).round(9))

    def _try(self, values: tuple[float, ...]) -> Tried:
        low, high = ends_of(self.plan)
        place = (np.array(values) - low) / (high - low)
        settings = {span.name: value for span, value in zip(self.plan.spans, values, strict=True)}
        broken = np.full(len(self.plan.bounds), np.inf)
        case = self._case(values)
        if isinstance(case, InvalidCase):
            return Tried(place, settings, None, {}, None, broken, str(case.faults[0].fault.key) + " cannot be")
        result = self.result(case)
        if result.measures is None:
            return Tried(place, settings, case, {}, None, broken, result.reason)
        try:
            excess = np.array([bound.excess(result.measures) for bound in self.plan.bounds])
            score, errors = self.goal.score(result.measures), result.errors or {}
            return Tried(place, settings, case, result.measures, score, excess, errors=errors)
        except DoesNotApply as error:
            return Tried(place, settings, case, result.measures, None, broken, f"{error} does not apply to it")

    def _case(self, values: tuple[float, ...]) -> Case | InvalidCase:
        """The case with these values of what is varied, or why there is none."""
        changes = tuple(Change(span.path, v) for span, v in zip(self.plan.spans, values, strict=True))
        try:
            return case_from_table(changed(changed(self.plan.base.resolved, self.plan.settled), changes), "a rim tried")
        except InvalidCase as error:
            return error

    def result(self, case: Case) -> KeptCase:
        """Return what is kept of a case, or solve and keep it."""
        key = case_key(case, self.solver_name)
        kept = self.store.find([key]).get(key)
        if kept is not None and kept.status != LOST:
            return kept
        result = solved(task_of(key, case, self.solver_name), self.solver)
        self.store.keep(result)
        self.fresh += 1
        return result


def ends_of(plan: SearchPlan) -> tuple[Floats, Floats]:
    """Both ends of every range, (n,) each."""
    return np.array([span.low for span in plan.spans]), np.array([span.high for span in plan.spans])


def levels(trial: Tried, bounds: tuple[Bound, ...]) -> Floats:
    """The limited measures of a solved rim, (k,)."""
    return np.array([number(trial.measures, bound.measure) for bound in bounds])


def _score(trial: Tried) -> float:
    assert trial.score is not None
    return trial.score
