r"""What a tissue law is, and the laws that depend on the strain through the isochoric first invariant alone.

Stored energy per resting volume, in the mixed displacement-pressure form with p an independent pressure:

    W = U(F) + p (J - 1) - p^2 / (2 kappa) + s_a (h - 1)

U is the law's own: what a change of shape stores. J = det F; kappa = infinity is allowed (its inverse is what is kept);
h = r/R is the hoop stretch; ``s_a`` is the muscle's active hoop tension per resting area (first Piola-Kirchhoff), so
that the Cauchy hoop stress it adds is s_a h / J.

The deformation gradient of an axisymmetric state has five entries, kept in the order
(dr/dR, dr/dZ, dz/dR, dz/dZ, r/R); the stress has the same five, the tangent is their derivative.

Which laws there are, `labrum.simulate.tissue.known_laws` says.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np

from labrum.meshes.arrays import Floats


@dataclass(frozen=True)
class Tissue:
    """Material constants per element, each (e, 1) in MPa (``inverse_bulk`` in 1/MPa, 0 for incompressible).

    ``active`` is (e, 1) or, where the muscle fades within elements, (e, g), a value for every integration point.
    """

    shear: Floats
    second: Floats
    third: Floats
    inverse_bulk: Floats
    active: Floats


class TissueLaw(Protocol):
    """A law as a value: what `labrum.simulate.tissue.elements.Elements` asks of it at every integration point.

    Gradients are (e, g, 5), pressures (e, g), in MPa. A law uses the constants of `Tissue` it wants and may hold others
    itself; ``tissue.shear`` is what the solver takes the tissue's stiffness to be where it needs a scale. An invalid
    state (beyond a law's own limit of stretch) gives numbers that are not finite: the step is then shortened.
    """

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def compiled(self) -> int | None:
        """Its number among the laws that compiled kernels know; None for one they do not."""

    def energy(self, f: Floats, p: Floats, tissue: Tissue) -> Floats:
        """Stored energy W per resting volume (e, g), MPa (= N mm per mm3)."""

    def stress(self, f: Floats, p: Floats, tissue: Tissue) -> Floats:
        """First Piola-Kirchhoff stress (e, g, 5), MPa."""

    def stress_and_tangent(self, f: Floats, p: Floats, tissue: Tissue) -> tuple[Floats, Floats]:
        """First Piola-Kirchhoff stress (e, g, 5) and its derivative (e, g, 5, 5) at fixed p, MPa."""


@runtime_checkable
class WavingLaw(TissueLaw, Protocol):
    """A law that also serves waves of the angle around the axis."""

    def sine_tangent(self, f: Floats, p: Floats, tissue: Tissue) -> Floats:
        """Second derivative (e, g, 4, 4) of W in the four other entries of the gradient at fixed p, MPa.

        They are (dr/r dTheta, r dtheta/dR, r dtheta/dZ, dz/r dTheta), zero at the axisymmetric state ``f``. A mirror
        image in the section's plane turns their sign, so nothing couples them to the five.
        """


def bulk_modulus(shear: float, poisson: float) -> float:
    """Bulk modulus kappa = 2 mu (1 + nu) / (3 (1 - 2 nu)), MPa; infinite at nu = 1/2."""
    return np.inf if poisson == 0.5 else 2.0 * shear * (1.0 + poisson) / (3.0 * (1.0 - 2.0 * poisson))


def volume_ratio(f: Floats) -> Floats:
    """J of deformation gradients (..., 5)."""
    return (f[..., 0] * f[..., 3] - f[..., 1] * f[..., 2]) * f[..., 4]


def cofactor(f: Floats) -> Floats:
    """Derivative of J with respect to the five entries, (..., 5)."""
    a, b, c, d, h = np.moveaxis(f, -1, 0)
    return np.stack([d * h, -c * h, -b * h, a * h, a * d - b * c], axis=-1)


class FirstInvariantLaw(ABC):
    """A law whose U depends on x = I1b - 3 alone, I1b = J^(-2/3) tr(F^T F) being the isochoric first invariant.

    Such a law gives U and its first two derivatives with respect to x; stress and tangent follow here.
    """

    name: str
    compiled: int | None = None

    @abstractmethod
    def isochoric_energy(self, x: Floats, tissue: Tissue) -> Floats:
        """U (e, g), MPa, at x (e, g)."""

    @abstractmethod
    def isochoric_slopes(self, x: Floats, tissue: Tissue) -> tuple[Floats, Floats]:
        """First and second derivative of U with respect to x, each (e, g), MPa."""

    def energy(self, f: Floats, p: Floats, tissue: Tissue) -> Floats:
        """Stored energy W per resting volume (e, g), MPa."""
        j = volume_ratio(f)
        stored = self.isochoric_energy(_invariant(f, j), tissue)
        return stored + p * (j - 1.0) - 0.5 * p**2 * tissue.inverse_bulk + tissue.active * (f[..., 4] - 1.0)

    def stress(self, f: Floats, p: Floats, tissue: Tissue) -> Floats:
        """First Piola-Kirchhoff stress (e, g, 5), MPa."""
        j, cof = volume_ratio(f), cofactor(f)
        slope = self.isochoric_slopes(_invariant(f, j), tissue)[0]
        out = slope[..., None] * _invariant_gradient(f, j, cof) + p[..., None] * cof
        out[..., 4] += tissue.active
        return out

    def stress_and_tangent(self, f: Floats, p: Floats, tissue: Tissue) -> tuple[Floats, Floats]:
        """First Piola-Kirchhoff stress (e, g, 5) and its derivative (e, g, 5, 5) at fixed p, MPa."""
        j, cof = volume_ratio(f), cofactor(f)
        first, second = self.isochoric_slopes(_invariant(f, j), tissue)
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


    def sine_tangent(self, f: Floats, p: Floats, tissue: Tissue) -> Floats:
        """Second derivative (e, g, 4, 4) in the other entries x, y, w, v = r Theta, theta R, theta Z, z Theta, MPa.

        With w' = dU/dx and I1 = tr(F^T F) it is

            2 w' J^(-2/3) I + (p - 2/3 w' J^(-5/3) I1) J'' + (s_a / h) on x and v,

        J'' from det F: J,xy = -dz/dZ, J,wv = -dr/dR, J,xw = dz/dR, J,yv = dr/dZ. The last term is the muscle's: its
        energy s_a (|F e_Theta| - 1) has no second derivative along the fibre, and s_a / h across it.
        """
        a, b, c, d, h = np.moveaxis(f, -1, 0)
        j, i1 = volume_ratio(f), np.einsum("...i,...i->...", f, f)
        j23 = j ** (-2.0 / 3.0)
        slope = self.isochoric_slopes(_invariant(f, j), tissue)[0]
        factor = p - slope * j23 * i1 * (2.0 / 3.0) / j
        out = np.zeros((*j.shape, 4, 4))
        for m, n, value in ((0, 1, -d), (2, 3, -a), (0, 2, c), (1, 3, b)):
            out[..., m, n] = out[..., n, m] = factor * value
        out[..., range(4), range(4)] = (2.0 * slope * j23)[..., None]
        out[..., [0, 3], [0, 3]] += (tissue.active / h)[..., None]
        return out


def _invariant(f: Floats, j: Floats) -> Floats:
    """I1b - 3, (e, g)."""
    return j ** (-2.0 / 3.0) * np.einsum("...i,...i->...", f, f) - 3.0


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
