r"""Second variation of the stored energy about an axisymmetric state, for one harmonic of the angle.

Semi-analytic finite elements: the section's elements serve every harmonic (Wilson 1965, AIAA J. 3:2269; Zienkiewicz
& Taylor, *The Finite Element Method*, chapter on semi-analytical processes; both from memory). About the pressed state
r(R, Z), z(R, Z) the displacement and the pressure are

    du = U cos(n t) e_r + V sin(n t) e_theta + W cos(n t) e_z,      dp = P cos(n t).

Differentiated with respect to the resting place, in cylindrical components (rows r, theta, z of the deformed body,
columns R, Theta, Z of the resting one), the gradient changes by

    cosine part   rR: U,R    rZ: U,Z    zR: W,R    zZ: W,Z    hoop: (U + n V) / R
    sine part     r Theta: -(n U + V) / R    theta R: V,R    theta Z: V,Z    z Theta: -n W / R

The nine entries are kept in this order. At an axisymmetric state the energy's second derivative does not couple the two
parts: a mirror image in the section's plane turns the sign of the sine part only. The five entries of the cosine part
are those of an axisymmetric state; what a law has to say of the sine part, which is zero in the base state, is
`labrum.simulate.tissue.law.WavingLaw.sine_tangent`. The volume's first variation is the cofactor's with the cosine part
alone.

Around the circle cos^2 and sin^2 integrate to pi, half of the 2 pi in the elements' weights; at n = 0 to 2 pi (V is
then a torsion of its own, with sine replaced by one; it decouples).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.compiled.waves import wave_points
from labrum.simulate.tissue.elements import PRESSURE_TABLE, RR, TABLE, Elements, Q
from labrum.simulate.tissue.law import WavingLaw, cofactor

ENTRIES, COMPONENTS, KINDS = 9, 3, 3  # of the gradient; U, V, W; d/dR, d/dZ, 1/R
ONE_THREAD = 200_000  # multiplications in a product
PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


def circle_share(order: int) -> float:
    """Integral of cos^2(n t) or sin^2(n t) around the circle over 2 pi: one half, or one at n = 0."""
    return 1.0 if order == 0 else 0.5


def gradient_map(order: int) -> Floats:
    """(9, 9): entries of the gradient's change from (component U, V, W) x (d/dR, d/dZ, 1/R), component first."""
    n, out = float(order), np.zeros((ENTRIES, COMPONENTS, KINDS))
    out[0, 0, 0] = out[1, 0, 1] = out[2, 2, 0] = out[3, 2, 1] = out[4, 0, 2] = 1.0
    out[4, 1, 2] = n
    out[5, 0, 2], out[5, 1, 2] = -n, -1.0
    out[6, 1, 0] = out[7, 1, 1] = 1.0
    out[8, 2, 2] = -n
    return out.reshape(ENTRIES, COMPONENTS * KINDS)


def _row_products(rows: Floats, table: Floats) -> Floats:
    """Product of two matrices, some rows at a time: so little work that linear algebra keeps it on one thread.

    For tables as small as these, waking other threads costs several times what they bring.
    """
    out, step = np.empty((len(rows), table.shape[1])), max(1, ONE_THREAD // table.size)
    for start in range(0, len(rows), step):
        np.matmul(rows[start : start + step], table, out=out[start : start + step])
    return out


@dataclass(frozen=True)
class WaveMatrices:
    """Element tangents of one harmonic, unknowns node by node as (U, V, W).

    ``stiffness`` (e, 27, 27) N/mm, ``coupling`` (e, 27, 3) mm2, ``compliance`` (e, 3, 3).
    """

    stiffness: Floats
    coupling: Floats
    compliance: Floats


@dataclass(frozen=True)
class Waves:
    """All that the harmonics of one state share; see `about`."""

    elements: Elements
    u: Floats
    coefficients: Floats

    @classmethod
    def about(cls, elements: Elements, u: Floats, p: Floats) -> Waves:
        """Harmonics about displacements (n, 2) mm and pressure coefficients (e, 3) MPa."""
        return cls(elements, u, p)

    @cached_property
    def f(self) -> Floats:
        """(e, 9, 5) deformation gradients."""
        return self.elements.gradients(self.u)

    @cached_property
    def p(self) -> Floats:
        """(e, 9) pressures, MPa."""
        return np.asarray(self.coefficients @ Q.T)

    @property
    def stress(self) -> Floats:
        """(e, 9, 5) first Piola-Kirchhoff stress of the base state, MPa."""
        return self._points[0]

    @property
    def tangent(self) -> tuple[Floats, Floats]:
        """Cosine block (e, 9, 5, 5) and sine block (e, 9, 4, 4) of the energy's second derivative, MPa.

        Raises
        ------
        TypeError
            Where the tissue's law says nothing of the sine block.
        """
        return self._points[1:]

    @cached_property
    def _points(self) -> tuple[Floats, Floats, Floats]:
        law, tissue = self.elements.law, self.elements.tissue
        if not isinstance(law, WavingLaw):
            raise TypeError(f"the law '{law.name}' does not say how it resists shear around the axis (sine_tangent)")
        if self.elements.compiled is not None:
            return wave_points(self.elements.compiled, self.u, self.coefficients)
        return *law.stress_and_tangent(self.f, self.p, tissue), law.sine_tangent(self.f, self.p, tissue)

    def matrices(self, order: int) -> WaveMatrices:
        """Element tangents of harmonic ``order``."""
        count, scale = len(self.f), self.elements.scale
        points = self._point_matrices(order) * (scale[..., :, None] * scale[..., None, :])[:, :, None, :, None, :]
        stiffness = np.empty((count, 9, COMPONENTS, 9, COMPONENTS))
        for left, right in PAIRS:
            part = _row_products(np.ascontiguousarray(points[:, :, left, :, right, :]).reshape(count, 81), RR)
            stiffness[:, :, left, :, right] = part.reshape(count, 9, 9)
            if left != right:
                stiffness[:, :, right, :, left] = stiffness[:, :, left, :, right].swapaxes(1, 2)
        compliance = self.elements.mass * self.elements.tissue.inverse_bulk[..., None]
        return WaveMatrices(
            stiffness.reshape(count, 27, 27), self._coupling(order), circle_share(order) * compliance
        )

    def forces(self, order: int, entries: Floats) -> Floats:
        """(e, 27) work-conjugate forces, N, of stresses (e, 9, 9) in the gradient's nine entries, MPa."""
        count, scale = len(entries), self.elements.scale
        weight = circle_share(order) * self.elements.weight
        loads = ((entries * weight[..., None]) @ gradient_map(order)).reshape(count, 9, COMPONENTS, KINDS)
        loads = np.moveaxis(loads * scale[:, :, None, :], 2, 1)
        return np.ascontiguousarray((loads.reshape(count, 3, 27) @ TABLE.reshape(27, 9)).swapaxes(1, 2)).reshape(
            count, 27
        )

    def _point_matrices(self, order: int) -> Floats:
        """(e, 9, 3, 3, 3, 3) quadratic form in (component, kind) at every point, weighted."""
        weight = circle_share(order) * self.elements.weight
        table = gradient_map(order)
        out = np.zeros((weight.size, 81))
        for block, rows in zip(self.tangent, (table[:5], table[5:]), strict=True):
            spread = np.einsum("ia,jb->ijab", rows, rows).reshape(-1, 81)
            out += _row_products((block * weight[..., None, None]).reshape(weight.size, -1), spread)
        return out.reshape(*weight.shape, COMPONENTS, KINDS, COMPONENTS, KINDS)

    def _coupling(self, order: int) -> Floats:
        count, scale = len(self.f), self.elements.scale
        loads = (circle_share(order) * self.elements.weight)[..., None] * cofactor(self.f)
        points = (loads @ gradient_map(order)[:5]).reshape(count, 9, COMPONENTS, KINDS) * scale[:, :, None, :]
        points = np.moveaxis(points, 2, 1).reshape(count * COMPONENTS, 27)
        both = _row_products(points, PRESSURE_TABLE.reshape(27, 27)).reshape(count, COMPONENTS, 9, 3)
        return np.ascontiguousarray(both.swapaxes(1, 2)).reshape(count, 27, 3)
