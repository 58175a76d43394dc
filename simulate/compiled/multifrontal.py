"""The multifrontal solver: the plan of elimination for a grid, factorisation, and solution."""

from __future__ import annotations

import ctypes
from ctypes import byref, c_int64, c_void_p
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Bools, Floats, Indices
from labrum.simulate.compiled.loading import Library, address, floats, pointers

LEAF = 4  # elements in a box that is not cut any more
FRONT_BYTES, RUN_BYTES = 80, 12  # of the structures of sources/interface.h


class _Plan(ctypes.Structure):
    _fields_ = (
        *((name, c_int64) for name in ("columns", "rows", "leaf", "fronts", "nodes", "runs", "factors", "work")),
        ("pivots", c_int64), ("widest", c_int64), ("front", c_void_p), ("node", c_void_p), ("places", c_void_p),
        ("run", c_void_p),
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Elimination:
    """The plan of elimination for any system on a grid of ``shape`` (columns, rows) elements.

    ``width`` unknowns a node: two in the section, three in a wave of the angle.
    """

    library: Library
    shape: tuple[int, int]
    plan: _Plan
    arrays: tuple[NDArray[np.generic], ...]
    width: int = 2

    @classmethod
    def of(cls, library: Library, shape: tuple[int, int], leaf: int = LEAF, width: int = 2) -> Elimination:
        """Bisect the grid down to boxes of at most ``leaf`` elements."""
        plan, table = _Plan(*shape, leaf), library.table if width == 2 else library.waves
        table.dissect(byref(plan))
        arrays = (
            np.empty(plan.fronts * FRONT_BYTES, np.uint8),
            np.empty(plan.nodes, np.int32),
            np.empty((shape[0] * shape[1], 8), np.int32),
            np.empty(plan.runs * RUN_BYTES, np.uint8),
        )
        plan.front, plan.node, plan.places, plan.run = (address(array) for array in arrays)
        table.dissect(byref(plan))
        return cls(library, shape, plan, arrays, width)

    @property
    def table(self) -> Any:
        """The functions for this many unknowns a node."""
        return self.library.table if self.width == 2 else self.library.waves

    @property
    def nodes(self) -> int:
        """Number of nodes of the grid."""
        return (2 * self.shape[0] + 1) * (2 * self.shape[1] + 1)

    def factorise(
        self, stiffness: Floats, known: Bools, added: Floats, skew: Bools, frame: Indices, trial: Floats, test: Floats
    ) -> Factorisation:
        """Factorise the system of element matrices ``stiffness`` (e, 8 w, 8 w), w being the width.

        Parameters
        ----------
        known, added
            (n, w) components whose equation is the identity's; what is added to the diagonal of the others, N/mm.
        skew
            (e,) elements whose matrix is not symmetric.
        frame, trial, test
            (n,) number of each node's frame, -1 where it has none; (k, w, w) directions of the frames, as columns.

        Raises
        ------
        numpy.linalg.LinAlgError
            Where a pivot is zero or not finite.
        """
        if not known.shape == added.shape == (self.nodes, self.width) or not frame.shape == (self.nodes,):
            raise ValueError(f"shapes do not fit {self.nodes} nodes: {known.shape}, {added.shape}, {frame.shape}")
        if len(skew) != self.shape[0] * self.shape[1]:
            raise ValueError(f"{len(skew)} elements came where the grid has {self.shape}")
        unsymmetric = bool(skew.any()) or not np.array_equal(trial, test)
        room = np.empty((2 if unsymmetric else 1, max(self.plan.factors, 1)))
        diagonal, flags = np.empty(self.plan.pivots), np.empty(self.plan.fronts, np.uint8)
        work = np.empty(self.plan.work + 4 * self.plan.widest)
        side = 8 * self.width
        matrices = floats(stiffness, (len(skew), side, side))
        given = (matrices, known, skew, frame, floats(trial), floats(test), floats(added))
        factors = (room[0], room[1] if unsymmetric else None, diagonal, flags)
        negative = self.table.factorise(byref(self.plan), pointers(given), pointers(factors), address(work))
        if negative < 0:
            raise np.linalg.LinAlgError("a pivot is zero or not finite")
        return Factorisation(self, factors, int(negative))


@dataclass(frozen=True, eq=False)
class Factorisation:
    """A factorised system; ``negative_pivots`` of a symmetric one is the number of its negative eigenvalues."""

    elimination: Elimination
    factors: tuple[Floats, Floats | None, Floats, NDArray[np.uint8]]
    negative_pivots: int

    def solve(self, wanted: Floats) -> Floats:
        """Solve for right-hand sides (k, n, w)."""
        plan = self.elimination.plan
        out = np.array(floats(wanted, (len(wanted), self.elimination.nodes, self.elimination.width)))
        rows = np.empty(2 * plan.widest)
        self.elimination.table.solve(
            byref(plan), pointers(self.factors), len(out), address(out), address(rows)
        )
        return out


@lru_cache(maxsize=64)
def elimination_of(library: Library, shape: tuple[int, int], width: int = 2) -> Elimination:
    """The plan of a grid; it depends on the numbers of columns and rows only, so the last few are kept."""
    return Elimination.of(library, shape, width=width)
