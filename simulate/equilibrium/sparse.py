"""Sparse direct solution in the order given, without pivoting, checked, with a safe fall-back.

`labrum.simulate.tissue.condensation.Pattern` numbers the equations in an order with little fill, so none is looked for
here. Without pivoting the factorisation is several times faster; a zero or tiny pivot would spoil it, so the residual
of the first solution is checked and the matrix is factorised again with partial pivoting where it is too large.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from labrum.meshes.arrays import Floats

Solve = Callable[[Floats], Floats]
LinearSolver = Callable[[sp.csc_matrix, Floats], tuple[Solve, Floats]]
"""What `factorise` is: a direct solver, passed as a value (`labrum.simulate.equilibrium.model.Model.solver`)."""

LARGEST_RESIDUAL = 1e-8


def standard_solver() -> LinearSolver:
    """The linear solver that a model has unless told otherwise."""
    return factorise


def factorise(matrix: sp.csc_matrix, wanted: Floats) -> tuple[Solve, Floats]:
    """Factorise ``matrix`` (n, n); return the solver for right-hand sides (n,) or (n, k), and the solution of
    ``wanted``.

    ``wanted`` (n, k) are right-hand sides whose residuals decide whether the fast factorisation is kept.
    Raises ``numpy.linalg.LinAlgError`` for a singular matrix.
    """
    try:
        fast = splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        answer = fast.solve(wanted)
        if _relative_residual(matrix, answer, wanted) < LARGEST_RESIDUAL:
            return fast.solve, answer
        safe = splu(matrix)
        return safe.solve, safe.solve(wanted)
    except RuntimeError as error:
        raise np.linalg.LinAlgError(f"the stiffness matrix is singular: {error}") from error


def _relative_residual(matrix: sp.csc_matrix, x: Floats, b: Floats) -> float:
    if not np.all(np.isfinite(x)):
        return np.inf
    left = np.linalg.norm(matrix @ x - b, axis=0)
    return float(np.max(left / np.maximum(np.linalg.norm(b, axis=0), 1e-300)))
