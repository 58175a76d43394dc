"""Every iteration told by the process that solves, whichever that is: ``--verbose`` where worker processes are at work.

A line goes to that process's standard error in one piece, so that lines of several do not tear each other apart, and
begins with its number, by which a reader, or grep, takes them apart again.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass

from labrum.cases.manner import Manner
from labrum.cases.solving.screen import progress_line
from labrum.cases.workers.task import Solver, real_solver
from labrum.meshes.faults import printable_lines
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem, Progress

Heard = Callable[[Problem, Callable[[Progress], None]], Outcome]
"""A solver that tells each iteration to whom it is given."""


@dataclass(frozen=True)
class Aloud:
    """A solver that writes on standard error what it is at and every iteration, as log.txt has them."""

    solver: Heard

    def __call__(self, problem: Problem) -> Outcome:
        """Solve; the first line says which case it is."""
        return self.solver(problem, told_aloud(problem))


def solver_told(manner: Manner, solver: Solver = real_solver) -> Solver:
    """The solver as the manner wants it: silent, or aloud where every iteration is to be told.

    One that is to be told must take a listener as `labrum.simulate.solve` does.
    """
    return Aloud(solver) if manner.aloud else solver  # type: ignore[arg-type]


def told_aloud(problem: Problem) -> Callable[[Progress], None]:
    """Write which case begins; what is returned writes every iteration of it."""
    _write(in_short(problem))
    return lambda report: _write(progress_line(report))


def in_short(problem: Problem) -> str:
    """Say which case it is, and by what others of its title differ from it: rim, load, friction and layers."""
    rim, load = problem.rim, problem.load
    width = rim.outer_radius - rim.bite[0]
    layers = ", ".join(f"{k.name} {k.thickness:.4g} mm {1e3 * k.shear_modulus:.4g} kPa" for k in problem.lip.layers)
    return (
        f"{problem.title}: bite {2.0 * rim.bite[0]:.4g} mm across, rim {width:.4g} mm wide; {load.force:g} N, friction "
        f"{load.friction:g}; {layers}"
    )


def _write(line: str) -> None:
    sys.stderr.write(f"{os.getpid()}  {printable_lines(line)}\n")
    sys.stderr.flush()
