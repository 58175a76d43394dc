r"""The tissue law and its exact first and second derivatives.

Stored energy per resting volume (mixed displacement-pressure form, p an independent pressure):

    W = mu/2 (I1b - 3) + c2 (I1b - 3)^2 + c3 (I1b - 3)^3 + p (J - 1) - p^2 / (2 kappa) + s_a (h - 1)

with I1b = J^(-2/3) tr(F^T F), the isochoric first invariant, and h = r/R the hoop stretch; ``s_a`` is the
muscle's active hoop tension per resting area (first Piola-Kirchhoff), so that the Cauchy hoop stress it adds is
s_a h / J. kappa = infinity is allowed (its inverse is what is stored).

The deformation gradient of an axisymmetric state has five entries, kept in the order
(dr/dR, dr/dZ, dz/dR, dz/dZ, r/R).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Floats


@dataclass(frozen=True)
class Tissue:
    """Material constants per element, each (e, 1) in MPa (``inverse_bulk`` in 1/MPa, 0 for incompressible)."""

    shear: Floats
    second: Floats
    third: Floats
    inverse_bulk: Floats
    active: Floats


def volume_ratio(f: Floats) -> Floats:
    """J of deformation gradients (..., 5)."""
    return (f[..., 0] * f[..., 3] - f[..., 1] * f[..., 2]) * f[..., 4]


def cofactor(f: Floats) -> Floats:
    """Derivative of J with respect to the five entries, (..., 5)."""
    a, b, c, d, h = np.moveaxis(f, -1, 0)
    return np.stack([d * h, -c * h, -b * h, a * h, a * d - b * c], axis=-1)


def stress(f: Floats, p: Floats, tissue: Tissue) -> Floats:
    """First Piola-Kirchhoff stress (..., 5), MPa, for gradients (e, g, 5) and pressures (e, g)."""
    j, cof = volume_ratio(f), cofactor(f)
    slope = _isochoric_slopes(f, j, tissue)[0]
    out = slope[..., None] * _invariant_gradient(f, j, cof) + p[..., None] * cof
    out[..., 4] += tissue.active
    return out


def stress_and_tangent(f: Floats, p: Floats, tissue: Tissue) -> tuple[Floats, Floats]:
    """First Piola-Kirchhoff stress (e, g, 5) and its derivative (e, g, 5, 5) at fixed p, MPa."""
    j, cof = volume_ratio(f), cofactor(f)
    first, second = _isochoric_slopes(f, j, tissue)
    gradient = _invariant_gradient(f, j, cof)
    piola = first[..., None] * gradient + p[..., None] * cof
    piola[..., 4] += tissue.active

    i1 = np.einsum("...i,...i->...", f, f)
    j23 = j ** (-2.0 / 3.0)
    cross = f[..., :, None] * cof[..., None, :]
    tangent = second[..., None, None] * gradient[..., :, None] * gradient[..., None, :]
    tangent += (first * j23 * (-4.0 / 3.0) / j)[..., None, None] * (cross + np.swapaxes(cross, -1, -2))
    tangent += (first * j23 * i1 * (10.0 / 9.0) / j**2)[..., None, None] * (cof[..., :, None] * cof[..., None, :])
    _add_volume_hessian(tangent, f, p - first * j23 * i1 * (2.0 / 3.0) / j)
    diagonal = np.arange(5)
    tangent[..., diagonal, diagonal] += (2.0 * first * j23)[..., None]
    return piola, tangent


def energy(f: Floats, p: Floats, tissue: Tissue) -> Floats:
    """Stored energy per resting volume (e, g), MPa (= N mm per mm3), without the -p^2/(2 kappa) term's
    minimisation.
    """
    j = volume_ratio(f)
    x = j ** (-2.0 / 3.0) * np.einsum("...i,...i->...", f, f) - 3.0
    iso = 0.5 * tissue.shear * x + tissue.second * x**2 + tissue.third * x**3
    return iso + p * (j - 1.0) - 0.5 * p**2 * tissue.inverse_bulk + tissue.active * (f[..., 4] - 1.0)


def _isochoric_slopes(f: Floats, j: Floats, tissue: Tissue) -> tuple[Floats, Floats]:
    """First and second derivative of the isochoric energy with respect to I1b, (e, g)."""
    x = j ** (-2.0 / 3.0) * np.einsum("...i,...i->...", f, f) - 3.0
    first = 0.5 * tissue.shear + 2.0 * tissue.second * x + 3.0 * tissue.third * x**2
    return first, 2.0 * tissue.second + 6.0 * tissue.third * x


def _invariant_gradient(f: Floats, j: Floats, cof: Floats) -> Floats:
    i1 = np.einsum("...i,...i->...", f, f)
    j23 = j ** (-2.0 / 3.0)
    return j23[..., None] * (2.0 * f - (2.0 / 3.0 * i1 / j)[..., None] * cof)


def _add_volume_hessian(tangent: Floats, f: Floats, factor: Floats) -> None:
    """Add ``factor`` times the second derivative of J, in place."""
    a, b, c, d, h = np.moveaxis(f, -1, 0)
    for m, n, value in ((0, 3, h), (1, 2, -h), (0, 4, d), (1, 4, -c), (2, 4, -b), (3, 4, a)):
        tangent[..., m, n] += factor * value
        tangent[..., n, m] += factor * value
