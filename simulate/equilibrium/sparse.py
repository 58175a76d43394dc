"""Direct solution of linear systems by a chain of solvers: the first that gives a small residual has it.

Multifrontal L D L^T (compiled, on the grid's own bisection), banded Cholesky (LAPACK) for symmetric systems of moderate
size, and SuperLU, first without pivoting in the order of nested dissection, then with. The first three do not pivot; a
tiny pivot would spoil them, so the residual of each first solution is checked and a poor one is left to the next
solver, with a note in the log.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.compiled import Library, library
from labrum.simulate.compiled.multifrontal import elimination_of
from labrum.simulate.equilibrium.system import System

Solve = Callable[[Floats], Floats]

LARGEST_RESIDUAL = 1e-8
LARGEST_BAND = 4_000_000  # entries of a band that is still worth its memory
log = logging.getLogger(__name__)


class Solver(Protocol):
    """A direct solver, passed as a value."""

    @property
    def name(self) -> str:
        """What the log calls it."""

    def suits(self, system: System) -> bool:
        """Is it made for such a system?"""

    def factorise(self, system: System) -> Solve:
        """The solver for right-hand sides (k, n, 2); raises ``numpy.linalg.LinAlgError`` where it fails."""


@dataclass(frozen=True)
class Multifrontal:
    """Compiled multifrontal factorisation; serves symmetric and unsymmetric systems."""

    library: Library
    name: str = "multifrontal"

    def suits(self, system: System) -> bool:
        """Any system will do."""
        return True

    def factorise(self, system: System) -> Solve:
        """See `Solver.factorise`."""
        grid, turned = system.pattern.grid, system.directions
        frame = np.full(len(system.known), -1, np.int32)
        frame[turned.nodes] = np.arange(len(turned.nodes))
        elimination = elimination_of(self.library, (len(grid.columns) - 1, len(grid.rows) - 1))
        found = elimination.factorise(
            system.stiffness, system.known, system.added, system.skew, frame, turned.trial, turned.test
        )
        if found.negative_pivots:
            log.info("%s: %d negative pivots", self.name, found.negative_pivots)
        return found.solve


@dataclass(frozen=True)
class Banded:
    """Cholesky factorisation of the band that remains when nodes are numbered along the lip, column after column."""

    largest: int = LARGEST_BAND
    name: str = "banded Cholesky"

    def suits(self, system: System) -> bool:
        """Symmetric systems whose band is not too large."""
        band = system.pattern.band
        return band.height * band.size <= self.largest and system.symmetric

    def factorise(self, system: System) -> Solve:
        """See `Solver.factorise`."""
        from scipy.linalg.lapack import dpbtrf, dpbtrs

        band = system.pattern.band
        factor, info = dpbtrf(band.filled(system.blocks, system.diagonal), lower=1, overwrite_ab=1)
        if info:
            raise np.linalg.LinAlgError("the matrix is not positive definite")

        def solve(wanted: Floats) -> Floats:
            return band.spread(dpbtrs(factor, band.gather(wanted), lower=1, overwrite_b=1)[0])

        return solve


@dataclass(frozen=True)
class Pivoting:
    """SuperLU: in the order given and without pivoting, or in its own with partial pivoting."""

    pivots: bool
    name: str = "SuperLU"

    def suits(self, system: System) -> bool:
        """Any system will do."""
        return True

    def factorise(self, system: System) -> Solve:
        """See `Solver.factorise`."""
        from scipy.sparse.linalg import splu

        matrix, pattern = system.matrix, system.pattern
        try:
            if self.pivots:
                factors = splu(matrix)
            else:
                factors = splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        except RuntimeError as error:
            raise np.linalg.LinAlgError(str(error)) from error

        def solve(wanted: Floats) -> Floats:
            columns = factors.solve(np.column_stack([pattern.gather(side) for side in wanted]))
            return np.stack([pattern.spread(side) for side in columns.T])

        return solve


def standard_solvers() -> tuple[Solver, ...]:
    """The chain for this process: the compiled solver first, where there is one."""
    plain: tuple[Solver, ...] = (Banded(), Pivoting(False, "SuperLU without pivoting"), Pivoting(True))
    found = library()
    return plain if found is None else (Multifrontal(found), *plain)


def factorise(system: System, wanted: Floats, solvers: Sequence[Solver]) -> tuple[Solve, Floats, Floats]:
    """Factorise with the first solver that is up to it.

    Parameters
    ----------
    wanted
        (k, n, 2) right-hand sides, whose residuals decide whether a factorisation is kept.

    Returns
    -------
    The solver for right-hand sides (k, n, 2); the solutions of ``wanted``; and the product (k, n, 2) of the matrix,
    with nothing masked or added, and what of these was not known.

    Raises
    ------
    numpy.linalg.LinAlgError
        Where no solver found a solution.
    """
    poor: tuple[Solve, Floats, Floats] | None = None
    for solver in solvers:
        if not solver.suits(system):
            continue
        try:
            solve = solver.factorise(system)
            answer = solve(wanted)
        except np.linalg.LinAlgError as error:
            log.warning("%s failed (%s): the next solver is asked", solver.name, error)
            continue
        made = system.product(np.where(system.known, 0.0, answer))
        residual = _relative_residual(system, answer, made, wanted)
        if residual < LARGEST_RESIDUAL:
            return solve, answer, made
        log.warning("%s left a relative residual of %.1e: the next solver is asked", solver.name, residual)
        poor = (solve, answer, made) if np.isfinite(residual) else poor
    if poor is None:
        raise np.linalg.LinAlgError("the stiffness matrix is singular: no solver found a solution")
    return poor  # of the last solver, which pivots: as good as the matrix allows


def _relative_residual(system: System, answer: Floats, made: Floats, wanted: Floats) -> float:
    """The largest over the right-hand sides; infinite where an answer is not finite."""
    miss = np.where(system.known, 0.0, made + system.added * answer - wanted)
    if not np.all(np.isfinite(miss)):
        return np.inf
    left, size = (np.sqrt(np.einsum("kni,kni->k", x, x)) for x in (miss, wanted))
    return float(np.max(left / np.maximum(size, 1e-300)))
