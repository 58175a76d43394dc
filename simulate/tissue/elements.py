"""Biquadratic displacement, discontinuous linear pressure (Q9/P-1) on axis-parallel rectangles, axisymmetric.

The pair passes the inf-sup test (Boffi, Brezzi & Fortin 2013, *Mixed Finite Element Methods and Applications*,
section 8.6). Because every resting element is a rectangle, the gradient on the parent square differs between
elements by two factors only; the element matrices of the whole mesh are then three dense products of tables
with point values. Integrals run over the full circle, dV = 2 pi R dR dZ.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.grids.grid import Grid
from labrum.meshes.grids.quadratic import pressure_functions, quad_rule, shape_functions
from labrum.simulate.compiled import Library, library
from labrum.simulate.compiled.elements import CompiledBody
from labrum.simulate.tissue.known_laws import STANDARD_LAW
from labrum.simulate.tissue.law import Tissue, TissueLaw, cofactor, volume_ratio

POINTS, WEIGHTS = quad_rule(3)
N, N_XI, N_ETA = shape_functions(POINTS)
Q = pressure_functions(POINTS)
TABLE = np.stack([N_XI, N_ETA, N], axis=1)  # (9 points, 3 kinds of derivative, 9 nodes)
RADIAL, AXIAL = (0, 1, 4), (2, 3)  # entries of the gradient fed by u_r (d/dR, d/dZ, 1/R) and by u_z (d/dR, d/dZ)


def _products(left: int, right: int) -> Floats:
    """Table (9 points * left * right, 81) turning point values of the tangent into element blocks."""
    table = np.einsum("gam,gbn->gabmn", TABLE[:, :left], TABLE[:, :right])
    return table.reshape(9 * left * right, 81)


RR, RZ, ZZ = _products(3, 3), _products(3, 2), _products(2, 2)
PRESSURE_TABLE = np.einsum("gam,gk->gamk", TABLE, Q)


@dataclass(frozen=True)
class ElementForces:
    """Internal force (e, 9, 2) N and volume residual (e, 3) mm3 of every element; smallest J over the mesh."""

    force: Floats
    volume: Floats
    smallest_ratio: float


@dataclass(frozen=True)
class ElementMatrices:
    """Tangents of every element: ``stiffness`` (e, 18, 18), ``coupling`` (e, 18, 3), ``compliance`` (e, 3, 3)."""

    stiffness: Floats
    coupling: Floats
    compliance: Floats


@dataclass(frozen=True)
class Elements:
    """All elements of one grid with their tissue and its law; stateless: forces and matrices follow from (u, p).

    ``library`` holds compiled kernels that do the work where the tissue law has a compiled form; without it numpy does.
    """

    grid: Grid
    tissue: Tissue
    law: TissueLaw = STANDARD_LAW
    library: Library | None = field(default_factory=library)

    @cached_property
    def compiled(self) -> CompiledBody | None:
        """The same elements as the compiled kernels take them; None where numpy does the work."""
        grid, tissue = self.grid, self.tissue
        if self.library is None or self.law.compiled is None:
            return None
        count, shape = len(grid.quads), (len(grid.columns) - 1, len(grid.rows) - 1)
        each = (tissue.shear, tissue.second, tissue.third, tissue.inverse_bulk)
        shear, second, third, inverse_bulk = (np.ascontiguousarray(k, dtype=np.float64).ravel() for k in each)
        active = np.array(np.broadcast_to(tissue.active, (count, 9)), dtype=np.float64)
        constants = (shear, second, third, inverse_bulk)
        return CompiledBody(self.library, shape, grid.origins, grid.sizes, constants, active, self.law.compiled)

    @cached_property
    def radius(self) -> Floats:
        """(e, 9) resting radius at the integration points, mm."""
        return self.grid.origins[:, :1] + 0.5 * self.grid.sizes[:, :1] * POINTS[:, 0]

    @cached_property
    def weight(self) -> Floats:
        """(e, 9) volume of each integration point over the full circle, mm3."""
        return 0.5 * np.pi * self.radius * np.prod(self.grid.sizes, axis=1)[:, None] * WEIGHTS

    @cached_property
    def scale(self) -> Floats:
        """(e, 9, 3) factors from parent derivatives to d/dR, d/dZ and to 1/R."""
        slopes = 2.0 / self.grid.sizes
        shape = self.radius.shape
        return np.stack(
            [np.broadcast_to(slopes[:, :1], shape), np.broadcast_to(slopes[:, 1:], shape), 1.0 / self.radius], axis=-1
        )

    @cached_property
    def mass(self) -> Floats:
        """(e, 3, 3) mass matrix of the pressure functions, mm3."""
        return np.asarray(self.weight @ (Q[:, :, None] * Q[:, None, :]).reshape(9, 9)).reshape(-1, 3, 3)

    @cached_property
    def volumes(self) -> Floats:
        """(e,) volumes at rest, mm3."""
        return self.weight.sum(axis=1)

    def gradients(self, u: Floats) -> Floats:
        """Deformation gradients (e, 9, 5) of nodal displacements (n, 2)."""
        local = u[self.grid.quads]
        flat = TABLE.reshape(27, 9)
        slopes_r = (local[..., 0] @ flat.T).reshape(-1, 9, 3) * self.scale
        slopes_z = (local[..., 1] @ flat.T).reshape(-1, 9, 3) * self.scale
        return np.stack(
            [1 + slopes_r[..., 0], slopes_r[..., 1], slopes_z[..., 0], 1 + slopes_z[..., 1], 1 + slopes_r[..., 2]],
            axis=-1,
        )

    def forces(self, u: Floats, p: Floats) -> ElementForces:
        """Residual forces of displacements (n, 2) mm and pressure coefficients (e, 3) MPa."""
        if self.compiled is not None:
            return ElementForces(*self.compiled.forces(u, p))
        f = self.gradients(u)
        return self._forces(f, self.law.stress(f, p @ Q.T, self.tissue), p)

    def linearised(self, u: Floats, p: Floats) -> tuple[ElementForces, ElementMatrices]:
        """Residual forces and their exact tangents."""
        f = self.gradients(u)
        piola, tangent = self.law.stress_and_tangent(f, p @ Q.T, self.tissue)
        return self._forces(f, piola, p), self._matrices(f, tangent)

    def smallest_ratio(self, u: Floats) -> float:
        """Smallest J at any integration point."""
        if self.compiled is not None:
            return self.compiled.smallest_ratio(u)
        return float(volume_ratio(self.gradients(u)).min())

    def nodal_sums(self, parts: Floats) -> Floats:
        """Sums (n, 2) at the nodes of element vectors (e, k, 2) of each element's first k nodes."""
        if self.compiled is not None:
            return self.compiled.nodal_sums(parts)
        at, count = self.grid.quads[:, : parts.shape[1]].ravel(), len(self.grid.nodes)
        return np.array([np.bincount(at, parts[..., i].ravel(), count) for i in (0, 1)], dtype=np.float64).T

    def product(self, stiffness: Floats, x: Floats, chosen: Bools | None = None) -> Floats:
        """Element matrices (e, 16, 16) times nodal vectors x (k, n, 2), summed at the nodes.

        Only elements with an outer node in ``chosen`` (n,) take part, where it is given.
        """
        if self.compiled is not None:
            return self.compiled.product(stiffness, x, chosen)
        outer = self.grid.quads[:, :8]
        some = slice(None) if chosen is None else np.nonzero(chosen[outer].any(axis=1))[0]
        local = x[:, outer[some]].reshape(len(x), -1, 16)
        parts = np.einsum("eij,kej->kei", stiffness[some], local, optimize=True).reshape(len(x), -1, 2)
        at, count = outer[some].ravel(), len(self.grid.nodes)
        sums = [[np.bincount(at, part[:, i], count) for i in (0, 1)] for part in parts]
        return np.array(sums, dtype=np.float64).swapaxes(1, 2)

    def _forces(self, f: Floats, piola: Floats, p: Floats) -> ElementForces:
        loads = self.weight[..., None] * piola
        flat = TABLE.reshape(27, 9)
        radial = (loads[..., RADIAL] * self.scale).reshape(-1, 27) @ flat
        axial = (loads[..., AXIAL] * self.scale[..., :2]).reshape(-1, 18) @ TABLE[:, :2].reshape(18, 9)
        j = volume_ratio(f)
        volume = (self.weight * (j - 1.0 - (p @ Q.T) * self.tissue.inverse_bulk)) @ Q
        return ElementForces(np.stack([radial, axial], axis=-1), volume, float(j.min()))

    def _matrices(self, f: Floats, tangent: Floats) -> ElementMatrices:
        count = len(f)
        scale = self.scale
        weighted = tangent * self.weight[..., None, None]
        outer = scale[..., :, None] * scale[..., None, :]
        rr = weighted[..., RADIAL, :][..., RADIAL] * outer
        rz = weighted[..., RADIAL, :][..., AXIAL] * outer[..., :2]
        zz = weighted[..., AXIAL, :][..., AXIAL] * outer[..., :2, :2]
        stiffness = np.empty((count, 9, 2, 9, 2))
        stiffness[:, :, 0, :, 0] = (rr.reshape(count, 81) @ RR).reshape(count, 9, 9)
        stiffness[:, :, 0, :, 1] = (rz.reshape(count, 54) @ RZ).reshape(count, 9, 9)
        stiffness[:, :, 1, :, 1] = (zz.reshape(count, 36) @ ZZ).reshape(count, 9, 9)
        stiffness[:, :, 1, :, 0] = stiffness[:, :, 0, :, 1].swapaxes(1, 2)
        return ElementMatrices(
            stiffness.reshape(count, 18, 18), self._coupling(f), self.mass * self.tissue.inverse_bulk[..., None]
        )

    def _coupling(self, f: Floats) -> Floats:
        count = len(f)
        loads = self.weight[..., None] * cofactor(f)
        radial = (loads[..., RADIAL] * self.scale).reshape(count, 27) @ PRESSURE_TABLE.reshape(27, 27)
        axial = (loads[..., AXIAL] * self.scale[..., :2]).reshape(count, 18) @ PRESSURE_TABLE[:, :2].reshape(18, 27)
        both = np.stack([radial.reshape(count, 9, 3), axial.reshape(count, 9, 3)], axis=2)
        return both.reshape(count, 18, 3)
