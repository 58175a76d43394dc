"""Runs a sweep over and over in a child process and kills it with signal 9 at a random moment each time.

Usage, from the repository's root: python -m tests.cases.stand_ins.sweep_killed PLAN TOLD SOLVER SEED KILLS MOST.
Every case the sweep has told of as finished is a line in TOLD; a kill comes after up to MOST more of them, and then a
little later by chance. The child is forked here, where everything is loaded already, so that the kills fall into the
work and not into the start of Python. Odd kills take the workers down too, even ones leave them to notice.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from pathlib import Path

from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.sweeping.expansion import members
from labrum.cases.sweeping.plan import read_plan
from labrum.cases.sweeping.runner import missing, rows_of, task_of
from labrum.cases.workers.local import solve_here
from labrum.cases.workers.store import Store
from tests.cases.stand_ins import stand_in_solver


def sweep(place: Path, told: Path, solver: str) -> None:
    """Solve what is missing and write down each case once it is told of."""
    os.setsid()
    store = Store.at(place.with_suffix(".sqlite"))
    wanted = missing(rows_of(members(read_plan(place), solver_identity()), store))
    tasks = [task_of(m.key, m.case, solver_identity()) for m in wanted if m.case is not None]
    with told.open("a", buffering=1) as stream:
        for result in solve_here(tasks, store, getattr(stand_in_solver, solver), 2):
            stream.write(f"{result.key} {result.status}\n")


def wait_for(told: Path, more: int, child: int) -> bool:
    """Wait until ``more`` lines are told, and tell whether the child is still at work."""
    target = lines_in(told) + more
    while lines_in(told) < target:
        if os.waitpid(child, os.WNOHANG)[0]:
            return False
        time.sleep(0.001)
    return True


def lines_in(told: Path) -> int:
    """Count what has been told."""
    return told.read_bytes().count(b"\n") if told.exists() else 0


def main(place: str, told: str, solver: str, seed: str, kills: str, most: str) -> None:
    """Kill as often as asked."""
    rng = random.Random(int(seed))
    for kill in range(int(kills)):
        child = os.fork()
        if child == 0:
            sweep(Path(place), Path(told), solver)
            os._exit(0)
        if not wait_for(Path(told), rng.randint(0, int(most)), child):
            continue
        time.sleep(rng.uniform(0.0, 0.03))
        try:
            (os.killpg if kill % 2 else os.kill)(child, signal.SIGKILL)
        except ProcessLookupError:  # it has not yet made its own group, or is done
            os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)


if __name__ == "__main__":
    main(*sys.argv[1:])
