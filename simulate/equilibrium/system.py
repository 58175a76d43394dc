"""The linear system of one Newton iteration, in nodal components, before anybody has chosen how to solve it.

Vectors are nodal, (n, 2). Off contact a node's two components are those along the axes; a touching node's are those
along its own trial directions, and its two equations are written along its own test directions. Components that are
known (fixed, or prescribed by contact; centre nodes, which were eliminated) keep their place, with the identity's
equation.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from labrum.meshes.arrays import Bools, Floats, Ints
from labrum.simulate.tissue.condensation import Pattern
from labrum.simulate.tissue.elements import Elements

if TYPE_CHECKING:
    from scipy.sparse import csc_matrix



@dataclass(frozen=True)
class Directions:
    """Trial and test directions (k, 2, 2), as columns, of the touching ``nodes`` (k,); all others keep the axes."""

    nodes: Ints
    trial: Floats
    test: Floats

    def from_trial(self, x: Floats) -> Floats:
        """Along the axes, components (..., n, 2) that stand along the trial directions."""
        return self._turned(x, self.trial)

    def along_test(self, forces: Floats) -> Floats:
        """Along the test directions, nodal forces (..., n, 2) that stand along the axes."""
        return self._turned(forces, self.test.swapaxes(1, 2))

    def _turned(self, x: Floats, by: Floats) -> Floats:
        out = x.copy()
        out[..., self.nodes, :] = np.einsum("kij,...kj->...ki", by, x[..., self.nodes, :])
        return out


@dataclass(frozen=True)
class System:
    """Condensed element matrices and how their equations are written.

    ``stiffness`` (e, 16, 16) N/mm along the axes; ``known`` (n, 2) components whose equation is the identity's;
    ``added`` (n, 2) N/mm on the diagonal of the others; ``skew`` (e,) elements whose matrix is not symmetric.
    """

    elements: Elements
    pattern: Pattern
    stiffness: Floats
    directions: Directions
    known: Bools
    added: Floats
    skew: Bools

    @property
    def symmetric(self) -> bool:
        """Is the whole matrix symmetric? Slipping friction and air make it not so."""
        return not self.skew.any() and np.array_equal(self.directions.trial, self.directions.test)

    def product(self, x: Floats, chosen: Bools | None = None) -> Floats:
        """All rows of the matrix, nothing masked or added, times x (k, n, 2); ``chosen`` (n,) nodes' elements only."""
        return self.directions.along_test(
            self.elements.product(self.stiffness, self.directions.from_trial(x), chosen)
        )

    @cached_property
    def blocks(self) -> Floats:
        """(e, 16, 16) element matrices turned into their nodes' directions; rows and columns of known ones are zero."""
        quads = self.pattern.grid.quads[:, :8]
        out = self.stiffness.copy()
        turned = np.full(len(self.known), -1)
        turned[self.directions.nodes] = np.arange(len(self.directions.nodes))
        some = np.nonzero((turned[quads] >= 0).any(axis=1))[0]
        left, right = (self._everywhere(k, turned[quads[some]]) for k in (self.directions.test, self.directions.trial))
        part = np.einsum("eaki,eakbl->eaibl", left, out[some].reshape(-1, 8, 2, 8, 2))
        out[some] = np.einsum("eaibl,eblj->eaibj", part, right).reshape(-1, 16, 16)
        free = (~self.known)[quads].reshape(-1, 16).astype(float)
        out *= free[:, :, None]
        out *= free[:, None, :]
        return out

    @cached_property
    def diagonal(self) -> Floats:
        """(n, 2) what stands on the diagonal beside the elements' share: one where a component is known."""
        return np.where(self.known, 1.0, self.added)

    @property
    def matrix(self) -> csc_matrix:
        """The matrix to factorise, over the equations that `labrum.simulate.tissue.condensation.Pattern` numbers."""
        out = self.pattern.matrix(self.blocks)
        on = out.indices == self.pattern.columns
        out.data[on] += self.pattern.gather(self.diagonal)[self.pattern.columns[on]]
        return out

    @staticmethod
    def _everywhere(directions: Floats, turned: Ints) -> Floats:
        """Directions (s, 8, 2, 2) of the outer nodes of elements; the axes where ``turned`` (s, 8) is -1."""
        out = np.tile(np.eye(2), (*turned.shape, 1, 1))
        has = turned >= 0
        out[has] = directions[turned[has]]
        return out
