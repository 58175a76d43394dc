"""A harmonic's linear system, and its direct solution by a chain of solvers: the first that leaves little has it.

Compiled multifrontal L D L^T on the grid's own bisection, with three unknowns a node; SuperLU without pivoting in the
order of nested dissection, then with. As in `labrum.simulate.equilibrium.sparse` only the last pivots, so what each
leaves of a right-hand side is looked at.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.sparse import csc_matrix

from labrum.meshes.arrays import Bools, Floats
from labrum.simulate.compiled import Library
from labrum.simulate.compiled.multifrontal import elimination_of
from labrum.simulate.equilibrium.sparse import LARGEST_RESIDUAL
from labrum.simulate.off_axis.numbering import Numbering

Solve = Callable[[Floats], Floats]
SKEW = 1e-12  # of a matrix: beyond, it is not rounding that makes it unsymmetric
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class WaveSystem:
    """Element matrices ``blocks`` (e, 24, 24) in the nodes' own directions; ``known`` (size,) increments are given.

    All but those of ``special`` elements (e,) are symmetric.
    """

    numbering: Numbering
    blocks: Floats
    known: Bools
    special: Bools

    @property
    def skew(self) -> Bools:
        """(e,) elements whose matrix is not symmetric."""
        out, some = self.special.copy(), self.blocks[self.special]
        out[out] = np.abs(some - some.swapaxes(1, 2)).max(axis=(1, 2)) > SKEW * np.abs(some).max(axis=(1, 2))
        return out

    def product(self, x: Floats) -> Floats:
        """All rows of the matrix times x (size, m)."""
        return self.numbering.vector(self.blocks @ x[self.numbering.element_equations])

    def product_of_few(self, x: Floats) -> Floats:
        """`product` with an x (size, m) that is zero nearly everywhere, from the elements where it is not."""
        equations = self.numbering.element_equations
        moving = np.asarray(x.any(axis=1))
        some = np.nonzero(moving[equations].any(axis=1))[0]
        parts = self.blocks[some] @ x[equations[some]]
        out, at = np.zeros_like(x), equations[some].ravel()
        for column, values in enumerate(parts.reshape(-1, x.shape[1]).T):
            out[:, column] = np.bincount(at, values, len(x))
        return out

    def masked_product(self, x: Floats) -> Floats:
        """The same, rows and columns of known increments being the identity's."""
        known = self.known[:, None]
        return np.where(known, x, self.product(np.where(known, 0.0, x)))

    @property
    def matrix(self) -> csc_matrix:
        """The matrix of `masked_product`."""
        out, columns = self.numbering.matrix(self.blocks), self.numbering.columns
        out.data[self.known[columns] | self.known[out.indices]] = 0.0
        out.data[(out.indices == columns) & self.known[columns]] = 1.0
        return out


def factorised(system: WaveSystem, library: Library | None) -> Solve:
    """The solver for right-hand sides (size, m); compiled where there is a ``library``.

    A factorisation is kept where it leaves little of a right-hand side that is as rough as any.

    Raises
    ------
    numpy.linalg.LinAlgError
        Where the matrix is singular.
    """
    trial = system.masked_product(np.cos(np.arange(len(system.known), dtype=float))[:, None])
    kept: Solve | None = None
    for name, factorise in _chain(system, library):
        try:
            solve = factorise()
        except (RuntimeError, np.linalg.LinAlgError) as error:
            log.warning("%s failed for a harmonic (%s)", name, error)
            continue
        left = np.linalg.norm(system.masked_product(solve(trial)) - trial) / np.linalg.norm(trial)
        if left < LARGEST_RESIDUAL:
            return solve
        log.warning("%s left %.1e of a harmonic's right-hand side", name, left)
        kept = solve if np.isfinite(left) else kept
    if kept is None:
        raise np.linalg.LinAlgError("the stiffness matrix is singular")
    return kept  # of the last, which pivots: as good as the matrix allows


def _chain(system: WaveSystem, library: Library | None) -> Iterator[tuple[str, Callable[[], Solve]]]:
    if library is not None:
        yield "multifrontal", partial(_multifrontal, system, library)
    yield "SuperLU without pivoting", partial(_superlu, system, False)
    yield "SuperLU", partial(_superlu, system, True)


def _multifrontal(system: WaveSystem, library: Library) -> Solve:
    numbering, blocks = system.numbering, system.blocks
    grid = numbering.grid
    shape = (len(grid.columns) - 1, len(grid.rows) - 1)
    known = numbering.spread(system.known[:, None])[..., 0] | (numbering.equation < 0)
    frame, none = np.full(len(known), -1, np.int32), np.zeros((0, 3, 3))
    found = elimination_of(library, shape, 3).factorise(
        blocks, np.ascontiguousarray(known), np.zeros(known.shape), system.skew, frame, none, none
    )

    def solve(wanted: Floats) -> Floats:
        nodal = np.moveaxis(numbering.spread(wanted), 2, 0)
        return numbering.gather(np.moveaxis(found.solve(nodal), 0, 2))

    return solve


def _superlu(system: WaveSystem, pivots: bool) -> Solve:
    from scipy.sparse.linalg import splu

    if pivots:
        return splu(system.matrix).solve
    options = {"SymmetricMode": True}
    return splu(system.matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options=options).solve
