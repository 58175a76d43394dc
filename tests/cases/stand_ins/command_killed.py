"""Runs one command over and over in a child process and kills it with signal 9 at a random moment each time.

Usage, from the repository's root: python -m tests.cases.stand_ins.command_killed FOLDER SEED KILLS LONGEST WORDS...
Solves are the stand-in's, some 10 ms each. The child is forked here, where everything is loaded already, so that the
kills fall into the work: up to LONGEST seconds after it begins. A half of them, by chance, take the workers down too;
the others leave them to notice. With no kills the command runs to its end.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from unittest import mock

from labrum.cases.command import app
from labrum.cases.searching import job as searching
from labrum.cases.sweeping import job as sweeping
from labrum.cases.sweeping.warm_start import NearSolver
from labrum.cases.tolerancing import job as tolerancing
from labrum.reports.house_style import saving
from tests.cases.stand_ins import stand_in_solver

LOADED = (sweeping, searching, tolerancing, saving)


class Slow:
    """In place of the solver that starts from its neighbours."""

    def __call__(self, problem):  # type: ignore[no-untyped-def]
        return stand_in_solver.noted(problem)


def run(words: list[str]) -> None:
    """Run the command in this process, silently."""
    os.setsid()
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    in_here = mock.patch.object(NearSolver, "__call__", Slow.__call__)  # a search solves in its own process
    with mock.patch.object(sweeping, "NearSolver", Slow), in_here:
        app(words, standalone_mode=False)


def begun(words: list[str]) -> int:
    """Begin the command in a child process."""
    child = os.fork()
    if child == 0:
        try:
            run(words)
        finally:
            os._exit(0)
    return child


def killed(seconds: float, whole: bool, words: list[str]) -> None:
    """Begin the command and end it by signal 9, its workers too where ``whole``, unless it is done before."""
    child = begun(words)
    time.sleep(seconds)
    try:
        (os.killpg if whole else os.kill)(child, signal.SIGKILL)
    except ProcessLookupError:
        os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def main(folder: str, seed: str, kills: str, longest: str, *words: str) -> None:
    """Kill as often as asked."""
    os.chdir(folder)
    rng = random.Random(int(seed))
    for _ in range(int(kills)):
        killed(rng.uniform(0.0, float(longest)), rng.random() < 0.5, list(words))
    if int(kills) == 0:
        os.waitpid(begun(list(words)), 0)


if __name__ == "__main__":
    main(*sys.argv[1:])
