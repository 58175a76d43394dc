"""From a plan to its cases: every combination, resolved, checked and given its key; or their keys as they were kept."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import qmc

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.cases.solving.fingerprint import case_key, digest, file_digest, reading_identity
from labrum.cases.sweeping.axes import Option
from labrum.cases.sweeping.plan import Sample, SweepPlan
from labrum.cases.sweeping.settings import Change, changed
from labrum.cases.workers.store import PlanRow, Store
from labrum.meshes.arrays import Floats

SIGNIFICANT = 9


@dataclass(frozen=True)
class Member:
    """One case of a plan: its ``settings`` by the names varied; one that is invalid has no key, for ``reason``.

    ``case`` is None for an invalid one, and where only what was kept of a plan was read.
    """

    number: int
    settings: dict[str, float | str]
    case: Case | None
    key: str
    reason: str


def members(plan: SweepPlan, solver: str) -> list[Member]:
    """Resolve every case of the plan, in the order of the file, the last axis fastest."""
    return [_member(plan, number, options, solver) for number, options in enumerate(_combinations(plan), 1)]


def built(plan: SweepPlan, member: Member, solver: str) -> Member:
    """Return a member with its case resolved, as `members` does."""
    options = next(itertools.islice(_combinations(plan), member.number - 1, None))
    return _member(plan, member.number, options, solver)


def keep_members(plan: SweepPlan, place: Path, members: list[Member], solver: str, store: Store) -> None:
    """Keep a plan's settings and keys with its cases, for questions about it; ``place`` is its file."""
    rows = [PlanRow(member.number, member.settings, member.key, member.reason) for member in members]
    store.keep_plan(_plan_digest(plan, solver), str(place.resolve()), rows)


def kept_members(plan: SweepPlan, place: Path, solver: str, store: Store) -> list[Member]:
    """Return a plan's cases from what is kept of it, without resolving any; else resolve and keep them."""
    kept = store.plan_rows(_plan_digest(plan, solver))
    if kept:
        return [Member(row.number, row.settings, None, row.key, row.reason) for row in kept]
    found = members(plan, solver)
    keep_members(plan, place, found, solver, store)
    return found


def _plan_digest(plan: SweepPlan, solver: str) -> str:
    """Hash all that a plan's settings and keys hang on: the plan, the files it draws on, and the code that reads it."""
    changes = [change for axis in plan.axes for option in axis.options for change in option.changes]
    traces = {str(change.value): file_digest(Path(change.value)) for change in changes if change.path[1] == "trace"}
    content: dict[str, Any] = {
        "base": case_key(plan.base, solver),
        "axes": [asdict(axis) for axis in plan.axes],
        "spans": [asdict(span) for span in plan.spans],
        "sample": None if plan.sample is None else asdict(plan.sample),
        "traces": traces,
        "reading": reading_identity(),
    }
    return digest(content)


def unit_sample(count: int, sample: Sample) -> Floats:
    """Points (n, count) in the unit cube from a scrambled Sobol sequence (Owen 1995, as in scipy.stats.qmc)."""
    sequence = qmc.Sobol(count, scramble=True, seed=sample.seed)
    points: Floats = sequence.random_base2(int(np.log2(sample.points)))
    return points


def _combinations(plan: SweepPlan) -> Iterator[tuple[tuple[str, Option], ...]]:
    names = [axis.name for axis in plan.axes]
    for options in itertools.product(*(axis.options for axis in plan.axes)):
        for sampled in _sampled(plan):
            yield (*zip(names, options, strict=True), *sampled)


def _sampled(plan: SweepPlan) -> list[tuple[tuple[str, Option], ...]]:
    if plan.sample is None:
        return [()]
    low, high = (np.array([getattr(span, end) for span in plan.spans]) for end in ("low", "high"))
    points = low + (high - low) * unit_sample(len(plan.spans), plan.sample)
    return [
        tuple((span.name, _place(span.path, float(value))) for span, value in zip(plan.spans, row, strict=True))
        for row in points
    ]


def _place(path: tuple[str, str], value: float) -> Option:
    # Rounded, so that a case's key does not hang on how a platform rounds the last bit.
    rounded = float(f"{value:.{SIGNIFICANT}g}")
    return Option(rounded, (Change(path, rounded),))


def _member(plan: SweepPlan, number: int, options: tuple[tuple[str, Option], ...], solver: str) -> Member:
    settings = {name: option.shown for name, option in options}
    changes = tuple(change for _, option in options for change in option.changes)
    try:
        case = case_from_table(changed(plan.base.resolved, changes), f"case {number}")
    except InvalidCase as error:
        return Member(number, settings, None, "", "; ".join(_sentence(error)))
    return Member(number, settings, case, case_key(case, solver), "")


def _sentence(error: InvalidCase) -> Iterator[str]:
    for placed in error.faults:
        fault = placed.fault
        yield f"{fault.key}: got {fault.got}, allowed {fault.allowed}"
