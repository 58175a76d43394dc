"""Direct solution of a harmonic's linear system: without pivoting in the grid's own order, else with pivoting."""

from __future__ import annotations

import logging
from collections.abc import Callable

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import SuperLU, splu

from labrum.meshes.arrays import Floats
from labrum.simulate.equilibrium.sparse import LARGEST_RESIDUAL

Solve = Callable[[Floats], Floats]
log = logging.getLogger(__name__)


def factorised(matrix: csc_matrix) -> Solve:
    """The solver for right-hand sides (size, m).

    A factorisation is kept where it leaves a small residual of a right-hand side that is as rough as any.

    Raises
    ------
    numpy.linalg.LinAlgError
        Where the matrix is singular.
    """
    trial = matrix @ np.cos(np.arange(matrix.shape[0], dtype=float))
    for pivots in (False, True):
        try:
            factors = _factors(matrix, pivots)
        except RuntimeError as error:
            log.warning("a harmonic's factorisation failed (%s)", error)
            continue
        left = matrix @ factors.solve(trial) - trial
        if pivots or np.linalg.norm(left) < LARGEST_RESIDUAL * np.linalg.norm(trial):
            return factors.solve
        log.warning("a harmonic's factorisation without pivoting is poor: pivoting is asked")
    raise np.linalg.LinAlgError("the stiffness matrix is singular")


def _factors(matrix: csc_matrix, pivots: bool) -> SuperLU:
    if pivots:
        return splu(matrix)
    return splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
