"""The job of ``labrum sweep``: read the plan, solve what is missing, show and export the table."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from labrum.cases.exits import DONE, PARTLY_FAILED, CannotDo
from labrum.cases.manner import USUAL, Manner
from labrum.cases.places import is_file
from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.solving.screen import Narrator, cautions_text, show
from labrum.cases.sweeping.expansion import Member, keep_members, kept_members, members
from labrum.cases.sweeping.plan import SweepPlan, read_plan
from labrum.cases.sweeping.progress import Pace, closing_line
from labrum.cases.sweeping.results import export, try_export
from labrum.cases.sweeping.runner import Row, Scheduler, missing, rows_of, solve_missing
from labrum.cases.sweeping.summary import forecast, next_questions, summary
from labrum.cases.sweeping.warm_start import NearSolver
from labrum.cases.workers.aloud import solver_told
from labrum.cases.workers.cluster import solve_there
from labrum.cases.workers.local import solve_here
from labrum.cases.workers.process import processors
from labrum.cases.workers.store import Store
from labrum.cases.workers.task import Solver, real_solver


@dataclass(frozen=True)
class Means:
    """By what means cases are solved: on ``workers`` processes here (0: one a processor), or on a cluster.

    Without a ``solver`` of the caller's, workers here start from their nearest solved case, and a cluster's start cold.
    Where the ``manner`` is aloud each tells its iterations on its own standard error, a cluster's among its logs.
    """

    workers: int = 0
    scheduler: str = ""
    solver: Solver | None = None
    manner: Manner = USUAL

    @property
    def hands(self) -> int:
        """How many processes work here."""
        return self.workers or processors()

    def on(self, store: Store) -> Scheduler:
        """Choose the scheduler that keeps its results in ``store``."""
        if self.scheduler:
            there = solver_told(self.manner, self.solver or real_solver)
            return partial(solve_there, store=store, solver=there, address=self.scheduler)
        here = solver_told(self.manner, self.solver or NearSolver())
        return partial(solve_here, store=store, solver=here, workers=self.hands)


@dataclass(frozen=True)
class SweepOrder:
    """What the command line asked for; ``store`` is None for the file beside the plan."""

    plan: Path
    store: Path | None = None
    means: Means = Means()
    dry_run: bool = False
    again: bool = False
    exports: tuple[Path, ...] = ()
    manner: Manner = USUAL


def store_path(plan: Path, store: Path | None) -> Path:
    """Where a plan's cases are kept: where asked, or beside the plan under its name."""
    return store or plan.with_suffix(".sqlite")


def run_sweep(order: SweepOrder, narrator: Narrator) -> int:
    """Do the job and return its exit code; data goes to stdout, narration to stderr."""
    plan = read_plan(order.plan)
    solver = solver_identity()
    if plan.remark:
        narrator.say(f"{plan.title}: {plan.remark}")
    cases = members(plan, solver)
    path = store_path(order.plan, order.store)
    if order.dry_run:
        show(_forecast(order, cases, path, solver))
        return DONE
    for target in order.exports:
        try_export(target, order.manner.force)
    store = Store.at(path)
    keep_members(plan, order.plan, cases, solver, store)
    _tell_of_others(store, solver, narrator)
    wanted = missing(rows_of(cases, store), order.again)
    narrator.say(f"{plan.title}: {len(cases)} cases, {len(wanted)} to solve, kept in {path}")
    pace = Pace(sys.stderr, len(wanted), time.monotonic, order.manner.quiet)
    with closing_line(pace):
        solve_missing(wanted, solver, order.means.on(store), pace.finished)
    if waiting := store.waiting():
        narrator.tell(
            f"{waiting} finished cases are kept in {store.beside.folder}: {path} would not be written; "
            "they go in when it is next opened"
        )
    rows = rows_of(cases, store)
    show(summary(plan.title, rows) + next_questions(order.plan, plan, rows))
    narrator.say(cautions_text())
    for target in order.exports:
        narrator.say(f"written: {export(rows, target)}")
    return DONE if all(row.converged for row in rows) else PARTLY_FAILED


def read_rows(place: Path, store: Path | None, narrator: Narrator) -> tuple[SweepPlan, list[Row]]:
    """Read what is kept of a plan, for a question about it; says what is missing.

    Raises
    ------
    CannotDo
        If nothing of it is kept.
    """
    plan, path = read_plan(place), store_path(place, store)
    if not is_file(path):
        raise CannotDo(f"nothing is kept at {path}: run labrum sweep {place} first")
    kept, solver = Store.at(path), solver_identity()
    _tell_of_others(kept, solver, narrator)
    rows = rows_of(kept_members(plan, place, solver, kept), kept)
    out = [row for row in rows if not row.converged]
    if len(out) == len(rows):
        raise CannotDo(f"no case of {place} has converged yet: run labrum sweep {place}")
    if out:
        narrator.say(f"{len(out)} of {len(rows)} cases have no result and are left out; labrum sweep tells why")
    return plan, rows


def _tell_of_others(store: Store, solver: str, narrator: Narrator) -> None:
    for other, count in store.other_solvers(solver).items():
        narrator.say(f"{count} cases kept from solver {other} stay as they are and are not used; this is {solver}")


def _forecast(order: SweepOrder, cases: list[Member], path: Path, solver: str) -> str:
    if not is_file(path):
        rows = [Row(member, None) for member in cases]
        return forecast(rows, len(missing(rows)), None, order.means.hands)
    store = Store.at(path)
    rows = rows_of(cases, store)
    return forecast(rows, len(missing(rows, order.again)), store.mean_seconds(solver), order.means.hands)
