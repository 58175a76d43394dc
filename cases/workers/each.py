"""Many problems solved at once, none of them kept: whatever befalls one is its result, and the others go on."""

from __future__ import annotations

import traceback
from collections.abc import Generator, Sequence
from contextlib import closing
from functools import partial

from labrum.cases.workers.pool import done_in_processes, nothing_opened
from labrum.cases.workers.process import WorkerDied
from labrum.cases.workers.task import Solver, real_solver
from labrum.simulate.conclusions.robustness import Result, Stopped
from labrum.simulate.problem import NotConverged, Problem


def solve_each(
    problems: Sequence[Problem], workers: int = 0, solver: Solver = real_solver
) -> Generator[tuple[int, Result], None, None]:
    """Solve problems on so many processes (0: one a processor); yield each one's number and result as they finish.

    Closing the generator, or an interrupt, ends the processes at work. ``solver`` must be importable by name.
    """
    begin = partial(nothing_opened, partial(outcome_or_stop, solver))
    with closing(done_in_processes(begin, problems, workers)) as results:
        for number, result in results:
            yield number, Stopped(str(result), "failed") if isinstance(result, WorkerDied) else result


def outcome_or_stop(solver: Solver, problem: Problem) -> Result:
    """Solve one problem; a stop and a fault are values."""
    try:
        return solver(problem)
    except NotConverged as stop:
        return Stopped(str(stop), "not converged", stop)
    except Exception as error:  # one bad problem must not end the others
        return Stopped(f"{type(error).__name__}: {error}", "failed", trace=traceback.format_exc())
