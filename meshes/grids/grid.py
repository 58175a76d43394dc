"""Graded tensor grids of biquadratic quadrilaterals over the resting lip."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from labrum.meshes.arrays import Floats, Ints

if TYPE_CHECKING:
    from skfem import MeshQuad2


@dataclass(frozen=True)
class Grid:
    """A tensor grid of nine-node quadrilaterals in the resting (R, Z) half plane.

    Parameters
    ----------
    columns
        (nc + 1,) ascending R of the grid lines, mm; the first is 0 or the opening's radius.
    rows
        (nr + 1,) ascending Z of the grid lines, mm, from the back face to the lip's surface at 0.
    row_layer
        (nr,) index of the layer each row of elements belongs to.

    Nodes run along a column of nodes from the back to the surface, column after column: node (i, j) has number
    ``i * nodes_per_column + j``.
    """

    columns: Floats
    rows: Floats
    row_layer: Ints

    @property
    def nodes_per_column(self) -> int:
        """Number of nodes from the back face to the surface."""
        return 2 * len(self.rows) - 1

    @property
    def nodes_per_row(self) -> int:
        """Number of nodes from the axis to the outer edge."""
        return 2 * len(self.columns) - 1

    @cached_property
    def node_columns(self) -> Floats:
        """(nodes_per_row,) R of every column of nodes, midsides included."""
        return with_midpoints(self.columns)

    @cached_property
    def node_rows(self) -> Floats:
        """(nodes_per_column,) Z of every row of nodes, midsides included."""
        return with_midpoints(self.rows)

    @cached_property
    def nodes(self) -> Floats:
        """(n, 2) resting positions (R, Z), mm."""
        r, z = np.meshgrid(self.node_columns, self.node_rows, indexing="ij")
        return np.column_stack([r.ravel(), z.ravel()])

    @cached_property
    def quads(self) -> Ints:
        """(e, 9) node numbers: corners anticlockwise, midsides (bottom, right, top, left), centre."""
        m = self.nodes_per_column
        i, j = np.meshgrid(np.arange(len(self.columns) - 1), np.arange(len(self.rows) - 1), indexing="ij")
        base = (2 * i * m + 2 * j).ravel()
        offsets = np.array([0, 2 * m, 2 * m + 2, 2, m, 2 * m + 1, m + 2, 1, m + 1])
        return base[:, None] + offsets[None, :]

    @cached_property
    def layer(self) -> Ints:
        """(e,) layer index of every element."""
        return np.tile(self.row_layer, len(self.columns) - 1)

    @cached_property
    def sizes(self) -> Floats:
        """(e, 2) width and height of every element, mm."""
        w, h = np.meshgrid(np.diff(self.columns), np.diff(self.rows), indexing="ij")
        return np.column_stack([w.ravel(), h.ravel()])

    @cached_property
    def origins(self) -> Floats:
        """(e, 2) centre of every element, mm."""
        r, z = np.meshgrid(_middles(self.columns), _middles(self.rows), indexing="ij")
        return np.column_stack([r.ravel(), z.ravel()])

    @cached_property
    def surface(self) -> Ints:
        """(nodes_per_row,) nodes of the lip's surface, from the axis outwards."""
        m = self.nodes_per_column
        return np.arange(self.nodes_per_row) * m + m - 1

    @cached_property
    def back(self) -> Ints:
        """(nodes_per_row,) nodes of the back face, from the axis outwards."""
        return np.arange(self.nodes_per_row) * self.nodes_per_column

    @cached_property
    def inner_edge(self) -> Ints:
        """(nodes_per_column,) nodes on the axis, or on the opening's margin."""
        return np.arange(self.nodes_per_column)

    @cached_property
    def mesh(self) -> MeshQuad2:
        """The same grid as a mesh of scikit-fem: elements and their corners in the same order."""
        from skfem import MeshQuad1, MeshQuad2  # slow to load, and no solve needs it

        corners, numbers = np.unique(self.quads[:, :4], return_inverse=True)
        places, ends = self.nodes[corners].T, numbers.reshape(-1, 4).T
        return MeshQuad2.from_mesh(MeshQuad1(np.ascontiguousarray(places), np.ascontiguousarray(ends)))

    @cached_property
    def dof_nodes(self) -> Ints:
        """(n,) node at which each degree of freedom of a biquadratic scalar field on `mesh` stands."""
        from skfem import Dofs, ElementQuad2

        dofs = Dofs(self.mesh, ElementQuad2()).element_dofs
        nodes = np.empty(len(self.nodes), dtype=np.int64)
        nodes[dofs] = self.quads.T
        return nodes

    def locate(self, points: Floats) -> tuple[Ints, Floats]:
        """Element number (k,) and local coordinates (k, 2) in [-1, 1] of resting points (k, 2)."""
        i, xi = located(self.columns, points[:, 0])
        j, eta = located(self.rows, points[:, 1])
        return i * (len(self.rows) - 1) + j, np.column_stack([xi, eta])


def with_midpoints(lines: Floats) -> Floats:
    """Insert the midpoint between neighbours: (n,) to (2n - 1,)."""
    out = np.empty(2 * len(lines) - 1)
    out[0::2] = lines
    out[1::2] = _middles(lines)
    return out


def _middles(lines: Floats) -> Floats:
    return 0.5 * (lines[1:] + lines[:-1])


def located(lines: Floats, places: Floats) -> tuple[Ints, Floats]:
    """Interval number (k,) and local coordinate (k,) in [-1, 1] of ``places`` (k,) along ascending ``lines``."""
    at = np.clip(np.searchsorted(lines, places, side="right") - 1, 0, len(lines) - 2)
    return at, np.clip(2.0 * (places - lines[at]) / (lines[at + 1] - lines[at]) - 1.0, -1.0, 1.0)
