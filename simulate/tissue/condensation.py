"""Element-by-element elimination of the pressure and the centre node, and the global matrix that is left.

The pressure of an element talks to that element only, and so does its centre node: both leave the global system
exactly (static condensation). What remains are the corner and midside displacements. An incompressible layer has no
compliance to invert; its elimination uses a small one, and `labrum.simulate.equilibrium.linearised` restores the exact
constraint by iterative refinement.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats, Indices, Ints
from labrum.meshes.grids.dissection import elimination_order
from labrum.meshes.grids.grid import Grid
from labrum.simulate.tissue.elements import ElementForces, ElementMatrices, Elements

if TYPE_CHECKING:
    from scipy.sparse import csc_matrix


OUTER, CENTRE = slice(0, 16), slice(16, 18)
LARGEST_BULK_RATIO = 2.0e4  # bulk over shear modulus used to eliminate the pressure of a layer that has none larger


@dataclass(frozen=True)
class Condensed:
    """Element systems in the 16 outer displacements, with what is needed to get the rest back.

    ``stiffness`` (e, 16, 16), ``force`` (e, 16); ``bulk`` (e, 3, 3) inverse of the (regularised) compliance;
    ``coupling`` (e, 18, 3) of displacements and pressures.
    """

    stiffness: Floats
    force: Floats
    bulk: Floats
    coupling: Floats
    centre_inverse: Floats
    centre_rows: Floats
    centre_force: Floats
    volume: Floats

    def interior(self, outer: Floats) -> tuple[Floats, Floats]:
        """Centre displacements (e, 2) and pressure increments (e, 3) that go with outer ones (e, 16)."""
        centre = -np.einsum(
            "eij,ej->ei", self.centre_inverse, self.centre_force + np.einsum("eij,ej->ei", self.centre_rows, outer)
        )
        whole = np.concatenate([outer, centre], axis=1)
        strain = np.einsum("eik,ei->ek", self.coupling, whole) + self.volume
        return centre, np.einsum("ekl,el->ek", self.bulk, strain)


def condensed_system(elements: Elements, u: Floats, p: Floats, bulk: Floats) -> tuple[ElementForces, Condensed]:
    """Residuals, and the element systems that elimination with ``bulk`` (e, 3, 3) leaves."""
    if elements.compiled is None:
        forces, matrices = elements.linearised(u, p)
        return forces, condense(matrices, forces, bulk)
    found, smallest = elements.compiled.condensed(u, p, bulk)
    return ElementForces(found.force, found.volume, smallest), Condensed(
        found.stiffness, found.outer_force, bulk, found.coupling, found.centre_inverse, found.centre_rows,
        found.centre_force, found.volume,
    )  # fmt: skip


def with_interior(elements: Elements, condensed: Condensed, step: Floats) -> tuple[Floats, Floats]:
    """A step (n, 2) whose centre nodes' share is filled in from the outer one, and pressure increments (e, 3)."""
    if elements.compiled is not None:
        centre = (condensed.centre_inverse, condensed.centre_rows, condensed.centre_force)
        return elements.compiled.interior(condensed.volume, condensed.coupling, centre, condensed.bulk, step)
    quads, whole = elements.grid.quads, step.copy()
    whole[quads[:, 8]], pressure = condensed.interior(step[quads[:, :8]].reshape(-1, 16))
    return whole, pressure


def regularised_bulk(mass: Floats, inverse_bulk: Floats, shear: Floats) -> Floats:
    """Inverse (e, 3, 3) of the pressure compliance, never stiffer than `LARGEST_BULK_RATIO` shear moduli."""
    floor = 1.0 / (LARGEST_BULK_RATIO * shear)
    return np.asarray(np.linalg.inv(mass * np.maximum(inverse_bulk, floor)[..., None]), dtype=np.float64)


def missing_compliance(mass: Floats, inverse_bulk: Floats, shear: Floats) -> Floats | None:
    """(e, 3, 3) compliance that `regularised_bulk` adds to layers that have less; None where there is none such."""
    added = np.maximum(1.0 / (LARGEST_BULK_RATIO * shear) - inverse_bulk, 0.0)
    return mass * added[..., None] if added.any() else None


def condense(matrices: ElementMatrices, forces: ElementForces, bulk: Floats) -> Condensed:
    """Eliminate pressures and centre nodes from element tangents and residuals."""
    count = len(bulk)
    coupling = matrices.coupling
    stiffened = coupling @ bulk
    full = matrices.stiffness + stiffened @ coupling.swapaxes(1, 2)
    force = forces.force.reshape(count, 18) + np.einsum("eik,ek->ei", stiffened, forces.volume)
    return _without_centre(full, force, bulk, coupling, forces.volume)


def recondense(condensed: Condensed, volume: Floats, centre: Floats | float = 0.0) -> Condensed:
    """The same elimination for another right-hand side: volume residuals (e, 3), and forces on the centre nodes (e, 2).

    Forces on outer nodes are left out: whoever has them adds them as they are.
    """
    coupling, bulk = condensed.coupling, condensed.bulk
    force = np.einsum("eik,ek->ei", coupling, np.einsum("ekl,el->ek", bulk, volume))
    centre_force = force[:, CENTRE] + centre
    pulled = np.einsum("ejk,ek->ej", condensed.centre_inverse, centre_force)
    lift = np.einsum("eji,ej->ei", condensed.centre_rows, pulled)
    return Condensed(
        condensed.stiffness, force[:, OUTER] - lift, bulk, coupling,
        condensed.centre_inverse, condensed.centre_rows, centre_force, volume,
    )  # fmt: skip


def under_forces(condensed: Condensed, centre: Floats) -> Condensed:
    """The same elimination for another right-hand side: forces (e, 2), N, that pull at the centre nodes, no more."""
    lift = np.einsum("eji,ejk,ek->ei", condensed.centre_rows, condensed.centre_inverse, centre, optimize=True)
    return replace(condensed, force=lift, centre_force=-centre, volume=np.zeros_like(condensed.volume))


def _without_centre(full: Floats, force: Floats, bulk: Floats, coupling: Floats, volume: Floats) -> Condensed:
    inverse = np.asarray(np.linalg.inv(full[:, CENTRE, CENTRE]), dtype=np.float64)
    rows = full[:, CENTRE, OUTER]
    lift = rows.swapaxes(1, 2) @ inverse
    stiffness = full[:, OUTER, OUTER] - lift @ rows
    outer = force[:, OUTER] - np.einsum("eij,ej->ei", lift, force[:, CENTRE])
    return Condensed(stiffness, outer, bulk, coupling, inverse, rows, force[:, CENTRE], volume)


@dataclass(frozen=True)
class Band:
    """The lower half band of a symmetric matrix whose equations are numbered along the lip, column after column.

    Every component of an outer node has an equation, known ones too. ``equation`` (n, 2), -1 on centre nodes; ``size``
    equations; ``height`` rows of the band; ``slot`` (m,) where the element entries ``entry`` (m,) go.
    """

    equation: Ints
    size: int
    height: int
    entry: Ints
    slot: Ints

    @classmethod
    def of(cls, grid: Grid) -> Band:
        """The band of a grid's nodes."""
        outer = np.ones((len(grid.nodes), 2), bool)
        outer[grid.quads[:, 8]] = False
        equation = np.where(outer, np.cumsum(outer).reshape(-1, 2) - 1, -1)
        local = equation[grid.quads[:, :8]].reshape(-1, 16)
        below = local[:, :, None] - local[:, None, :]
        height, entry = int(below.max()) + 1, np.nonzero(below.ravel() >= 0)[0]
        slot = np.broadcast_to(local[:, None, :], below.shape).ravel()[entry] * height + below.ravel()[entry]
        return cls(equation, int(outer.sum()), height, entry, slot)

    def filled(self, blocks: Floats, diagonal: Floats) -> Floats:
        """The band (height, size) of element matrices (e, 16, 16) and nodal diagonals (n, 2)."""
        flat = np.bincount(self.slot, blocks.ravel()[self.entry], self.height * self.size)
        band: Floats = flat.astype(np.float64, copy=False).reshape(self.size, self.height).T
        band[0] += diagonal[self.equation[:, 0] >= 0].ravel()
        return band

    def gather(self, nodal: Floats) -> Floats:
        """Right-hand sides (size, k) of nodal vectors (k, n, 2)."""
        return np.asfortranarray(nodal[:, self.equation[:, 0] >= 0].reshape(len(nodal), -1).T)

    def spread(self, columns: Floats) -> Floats:
        """Nodal vectors (k, n, 2) of solutions (size, k); zero on centre nodes."""
        out = np.zeros((columns.shape[1], *self.equation.shape))
        out[:, self.equation[:, 0] >= 0] = columns.T.reshape(columns.shape[1], -1, 2)
        return out


@dataclass(frozen=True)
class Pattern:
    """Where element entries go in the global matrix; built once a grid.

    ``fixed`` (n, 2) marks displacement components held at zero. Equations number the free components of outer
    nodes, in an order of elimination with little fill.
    """

    grid: Grid
    fixed: NDArray[np.bool_]

    @cached_property
    def band(self) -> Band:
        """The band of the grid's symmetric matrices."""
        return Band.of(self.grid)

    @cached_property
    def free(self) -> NDArray[np.bool_]:
        """(n, 2) displacement components that have an equation."""
        free = ~self.fixed
        free[self.grid.quads[:, 8]] = False
        return free

    @cached_property
    def equation(self) -> Ints:
        """(n, 2) equation number of every displacement component, -1 where it has none."""
        free = self.free
        order = elimination_order(self.grid.nodes_per_row, self.grid.nodes_per_column)
        numbers = np.empty(free.shape, dtype=np.int64)
        numbers[order] = np.where(free[order], np.cumsum(free[order]).reshape(-1, 2) - 1, -1)
        return numbers

    @property
    def size(self) -> int:
        """Number of equations."""
        return int(self.equation.max()) + 1

    @cached_property
    def element_equations(self) -> Ints:
        """(e, 16) equation numbers of the outer displacements of every element."""
        return self.equation[self.grid.quads[:, :8]].reshape(-1, 16)

    @cached_property
    def _structure(self) -> tuple[Indices, Indices, Indices]:
        """Column pointers, row indices and, per element entry, its slot (one past the end: dropped)."""
        eq = self.element_equations
        rows = np.repeat(eq, 16, axis=1).ravel()
        cols = np.tile(eq, (1, 16)).ravel()
        kept = (rows >= 0) & (cols >= 0)
        keys, inverse = np.unique(cols[kept] * self.size + rows[kept], return_inverse=True)
        slots = np.full(len(rows), len(keys), dtype=np.int32)
        slots[kept] = inverse
        pointers = np.searchsorted(keys // self.size, np.arange(self.size + 1)).astype(np.int32)
        return pointers, (keys % self.size).astype(np.int32), slots

    @cached_property
    def columns(self) -> Indices:
        """(nnz,) column of every stored entry."""
        pointers = self._structure[0]
        return np.repeat(np.arange(self.size, dtype=np.int32), np.diff(pointers))

    def matrix(self, blocks: Floats) -> csc_matrix:
        """Global matrix of element matrices (e, 16, 16)."""
        from scipy.sparse import csc_matrix  # slow to load, and no solver but one needs it

        pointers, indices, slots = self._structure
        data = np.bincount(slots, weights=blocks.ravel(), minlength=len(indices) + 1)[:-1]
        return csc_matrix((data, indices, pointers), shape=(self.size, self.size))

    def vector(self, forces: Floats) -> Floats:
        """Global vector (size,) of element vectors (e, 16)."""
        eq = self.element_equations.ravel()
        sums = np.bincount(eq + 1, weights=forces.ravel(), minlength=self.size + 1)[1:]
        return np.asarray(sums, dtype=np.float64)

    def spread(self, values: Floats) -> Floats:
        """Nodal components (n, 2) of a global vector (size,); zero where there is no equation."""
        out = np.zeros(self.equation.shape)
        has = self.equation >= 0
        out[has] = values[self.equation[has]]
        return out

    def gather(self, nodal: Floats) -> Floats:
        """Global vector (size,) of nodal components (n, 2)."""
        out = np.empty(self.size)
        has = self.equation >= 0
        out[self.equation[has]] = nodal[has]
        return out
