"""Where the element entries of a harmonic go: three unknowns a node, in an order of elimination with little fill."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats, Indices, Ints
from labrum.meshes.grids.dissection import elimination_order
from labrum.meshes.grids.grid import Grid

Kind = TypeVar("Kind", np.float64, np.bool_)


@dataclass(frozen=True)
class Numbering:
    """Equations of the (U, V, W) of a grid's corner and midside nodes; centre nodes have none.

    Every node keeps its three, held or not: one numbering serves every harmonic.
    """

    grid: Grid

    @cached_property
    def equation(self) -> Ints:
        """(n, 3) equation of every component, -1 at centre nodes."""
        outer = np.ones(len(self.grid.nodes), bool)
        outer[self.grid.quads[:, 8]] = False
        order = elimination_order(self.grid.nodes_per_row, self.grid.nodes_per_column)
        order = order[outer[order]]
        numbers = np.full((len(outer), 3), -1, dtype=np.int64)
        numbers[order] = np.arange(3 * len(order)).reshape(-1, 3)
        return numbers

    @cached_property
    def size(self) -> int:
        """Number of equations."""
        return int(self.equation.max()) + 1

    @cached_property
    def element_equations(self) -> Ints:
        """(e, 24) equations of every element's outer nodes."""
        return self.equation[self.grid.quads[:, :8]].reshape(-1, 24)

    @cached_property
    def _structure(self) -> tuple[Indices, Indices, Indices, Indices]:
        """Column pointers, rows, columns, and the slot of every element entry."""
        eq, size = self.element_equations, self.size
        nodes = eq[:, ::3] // 3
        pairs = np.repeat(nodes, 8, axis=1) + np.tile(nodes, (1, 8)) * (size // 3)  # row node + column node * count
        keys, inverse = np.unique(pairs, return_inverse=True)
        column, row = np.divmod(keys, size // 3)
        count = np.bincount(column, minlength=size // 3)  # neighbours of every column's node
        first = np.concatenate([[0], np.cumsum(9 * count)])
        rank = np.arange(len(keys)) - np.concatenate([[0], np.cumsum(count)])[column]
        # the three columns of a node hold three rows of each neighbour
        place = first[column][:, None, None] + 3 * rank[:, None, None] + np.arange(3)[None, :, None]
        place = place + (3 * count[column])[:, None, None] * np.arange(3)[None, None, :]
        pointers = np.concatenate([[0], np.cumsum(np.repeat(3 * count, 3))])
        rows = np.empty(pointers[-1], np.int32)
        columns = np.repeat(np.arange(size, dtype=np.int32), np.repeat(3 * count, 3))
        rows[place] = (3 * row[:, None] + np.arange(3))[:, :, None]
        slots = place[inverse.reshape(len(eq), 8, 8)].transpose(0, 1, 3, 2, 4)
        return pointers.astype(np.int32), rows, columns, slots.astype(np.int32).ravel()

    @property
    def columns(self) -> Indices:
        """(nnz,) column of every stored entry."""
        return self._structure[2]

    def matrix(self, blocks: Floats) -> sp.csc_matrix:
        """Global matrix of element matrices (e, 24, 24)."""
        pointers, rows, _, slots = self._structure
        data = np.bincount(slots, weights=blocks.ravel(), minlength=len(rows))
        return sp.csc_matrix((data, rows, pointers), shape=(self.size, self.size))

    def vector(self, forces: Floats) -> Floats:
        """Global (size, m) of element vectors (e, 24, m)."""
        flat = forces.reshape(-1, forces.shape[-1])
        at = self.element_equations.ravel()
        return np.stack([np.bincount(at, column, self.size) for column in flat.T], axis=1)

    def spread(self, values: NDArray[Kind]) -> NDArray[Kind]:
        """Nodal (n, 3, m) of global (size, m); zero at centre nodes."""
        out = np.zeros((self.equation.size, values.shape[1]), dtype=values.dtype)
        out[self._component] = values
        return out.reshape(*self.equation.shape, -1)

    def gather(self, nodal: NDArray[Kind]) -> NDArray[Kind]:
        """Global (size, ...) of nodal (n, 3, ...)."""
        return nodal.reshape(self.equation.size, *nodal.shape[2:])[self._component]

    @cached_property
    def _component(self) -> Ints:
        """(size,) the place of every equation's component among those of all nodes."""
        flat = self.equation.ravel()
        has = np.nonzero(flat >= 0)[0]
        out = np.empty(len(has), np.int64)
        out[flat[has]] = has
        return out
