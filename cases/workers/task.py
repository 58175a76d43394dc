"""One case solved where a worker stands: whatever happens to it becomes a row, never an exception."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.solving.result import errors_told, measured
from labrum.cases.workers.store import CONVERGED, FAULTY, LOST, NOT_CONVERGED, KeptCase
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged, Problem, Progress

Solver = Callable[[Problem], Outcome]


@dataclass(frozen=True)
class Task:
    """A case to be solved: ``solver`` names the code it must be solved with."""

    key: str
    problem: Problem
    resolved: dict[str, Any]
    solver: str


def real_solver(problem: Problem, progress: Callable[[Progress], None] | None = None) -> Outcome:
    """Solve, silently unless each iteration is to be told to ``progress``."""
    from labrum.simulate.solving import silent, solve  # a worker loads it once; a dry run never

    return solve(problem, progress or silent)


def solved(task: Task, solver: Solver) -> KeptCase:
    """Solve one case and tell what came of it."""
    if task.solver != solver_identity():
        return lost(task, f"this worker has solver {solver_identity()}, the sweep wants {task.solver}")
    started = time.perf_counter()
    try:
        outcome = solver(task.problem)
        measures, errors = measured(outcome.measures), errors_told(outcome.measures)
    except NotConverged as stop:
        return failed(task, NOT_CONVERGED, str(stop), time.perf_counter() - started)
    except Exception as error:  # one bad case must not end the others
        reason = f"{type(error).__name__}: {error}"
        return failed(task, FAULTY, reason, time.perf_counter() - started)
    seconds = time.perf_counter() - started
    return KeptCase(task.key, task.solver, CONVERGED, "", task.resolved, measures, seconds, errors)


def failed(task: Task, status: str, reason: str, seconds: float = 0.0) -> KeptCase:
    """Say that a case came to nothing."""
    return KeptCase(task.key, task.solver, status, reason, task.resolved, None, seconds)


def lost(task: Task, reason: str) -> KeptCase:
    """Say that a case went down with its worker."""
    return failed(task, LOST, reason)
