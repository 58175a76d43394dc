"""Runs a plan: what is kept is read, what is missing is solved, and nothing of another solver is mixed in."""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from contextlib import closing
from dataclasses import dataclass

from labrum.cases.case_file.building import Case
from labrum.cases.sweeping.expansion import Member
from labrum.cases.workers.store import CONVERGED, INVALID, SETTLED, KeptCase, Store
from labrum.cases.workers.task import Task

Scheduler = Callable[[Sequence[Task]], Generator[KeptCase, None, None]]


@dataclass(frozen=True)
class Row:
    """One case of a sweep as it stands now: ``solved`` is None where it is invalid or not yet done."""

    member: Member
    solved: KeptCase | None

    @property
    def status(self) -> str:
        """What came of it; ``missing`` where nobody has solved it."""
        if not self.member.key:
            return INVALID
        return self.solved.status if self.solved else "missing"

    @property
    def reason(self) -> str:
        """Why there are no measures; empty where there are."""
        return self.member.reason if self.solved is None else self.solved.reason

    @property
    def measures(self) -> dict[str, float | bool | None]:
        """Every measure; empty where it did not converge."""
        return self.solved.measures or {} if self.solved else {}

    @property
    def errors(self) -> dict[str, float | None]:
        """The estimated error of every measure; empty where it did not converge."""
        return self.solved.errors or {} if self.solved else {}

    @property
    def converged(self) -> bool:
        """Is there a result?"""
        return self.status == CONVERGED


def task_of(key: str, case: Case, solver: str) -> Task:
    """Turn a case into what a worker needs."""
    return Task(key, case.problem, case.resolved, solver)


def rows_of(members: Sequence[Member], store: Store) -> list[Row]:
    """Look up what is kept of each case."""
    kept = store.find({member.key for member in members if member.key})
    return [Row(member, kept.get(member.key)) for member in members]


def missing(rows: Sequence[Row], again: bool = False) -> list[Member]:
    """Choose what is to be solved: each case once, failed ones too if ``again``."""
    chosen: dict[str, Member] = {}
    for row in rows:
        settled = row.solved is not None and row.status in SETTLED and (row.converged or not again)
        if row.member.case is not None and not settled:
            chosen.setdefault(row.member.key, row.member)
    return list(chosen.values())


def solve_missing(
    wanted: Sequence[Member], solver: str, scheduler: Scheduler, finished: Callable[[bool], None]
) -> None:
    """Solve the cases and tell ``finished`` of each; an exception in it, such as Ctrl-C, stops the workers."""
    tasks = [task_of(member.key, member.case, solver) for member in wanted if member.case is not None]
    with closing(scheduler(tasks)) as results:
        for result in results:
            finished(result.status == CONVERGED)
