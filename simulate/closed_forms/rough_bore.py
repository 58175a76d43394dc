"""An elastic cylinder pushed along a rigid rough bore: the push dies away exponentially.

A cylinder that just fills a rigid bore of radius R is pressed at its end z = 0 and slides along the whole
wall against Coulomb friction. Far from the ends all stresses fall as exp(-x z / R). Averaged over the section
(the silo law of Janssen, 1895, with the elastic confinement nu / (1 - nu)) x = 2 mu nu / (1 - nu). Exactly,
with Love's strain function (Love, Mathematical Theory of Elasticity, article 188, from memory)

    chi = exp(-k z) [A J0(k r) + B k r J1(k r)],   2 G u_r = -chi_rz,   2 G u_z = 2 (1 - nu) lap chi - chi_zz,

the wall's u_r = 0 and s_rz = mu s_rr (pressure and drag) leave, for x = k R,

    2 (1 - nu) J1(x)^2 = mu [x (J0(x)^2 + J1(x)^2) - 2 (1 - nu) J0(x) J1(x)],

whose small root is Janssen's. Derived here. A finite cylinder whose two ends are given this mode's
displacement, and any uniform travel along the bore that lets the whole wall slide forwards, is solved by it
exactly. Small strains; nu up to 0.5. Lengths mm, stresses MPa.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq, minimize_scalar
from scipy.special import j0, j1

from labrum.meshes.arrays import Floats


def janssen_decay(friction: float, poisson_ratio: float) -> float:
    """X of exp(-x z / R) by averages over the section: 2 mu nu / (1 - nu)."""
    return 2.0 * friction * poisson_ratio / (1.0 - poisson_ratio)


def rough_bore_decay(friction: float, poisson_ratio: float) -> float:
    """X of exp(-x z / R), exactly: the smallest root of the module's relation.

    Raises ``ValueError`` beyond the friction (about 0.6) at which no real root is left.
    """

    def friction_at(x: float) -> float:
        first, zeroth, side = float(j1(x)), float(j0(x)), 2.0 * (1.0 - poisson_ratio)
        return side * first**2 / (x * (zeroth**2 + first**2) - side * zeroth * first)

    top = minimize_scalar(lambda x: -friction_at(x), bounds=(1e-3, 3.0), method="bounded").x
    if friction > friction_at(top):
        raise ValueError(f"no real decay at friction {friction:g}: the limit is {friction_at(top):.3f}")
    return float(brentq(lambda x: friction_at(x) - friction, 1e-6, top, xtol=1e-14))


@dataclass(frozen=True)
class BoreMode:
    """The sliding mode: displacement (mm) and stress (MPa) at (r, z), z into the bore from the pushed end.

    ``pressure`` is the mean axial pressure over the section at z = 0.
    """

    radius: float
    decay: float
    pressure: float
    shear_modulus: float
    poisson_ratio: float

    def displacement(self, r: ArrayLike, z: ArrayLike) -> tuple[Floats, Floats]:
        """u_r and u_z."""
        x, zeroth, first, fade = self._basis(r, z)
        mix, nu = self._mix, self.poisson_ratio
        scale = fade * self.radius / (2.0 * self.shear_modulus * self.decay)
        along = (4.0 * (1.0 - nu) - mix) * zeroth - x * first
        return scale * (x * zeroth - mix * first), scale * along

    def stress(self, r: ArrayLike, z: ArrayLike) -> tuple[Floats, Floats, Floats, Floats]:
        """Radial, axial, hoop and r-z shear stress."""
        x, zeroth, first, fade = self._basis(r, z)
        mix, nu = self._mix, self.poisson_ratio
        slope = np.where(x > 0.0, first / np.where(x > 0.0, x, 1.0), 0.5)
        radial = (1.0 - 2.0 * nu - mix) * zeroth - x * first + mix * slope
        axial = (mix - 2.0 * (2.0 - nu)) * zeroth + x * first
        hoop = (1.0 - 2.0 * nu) * zeroth - mix * slope
        shear = (mix - 2.0 * (1.0 - nu)) * first - x * zeroth
        return fade * radial, fade * axial, fade * hoop, fade * shear

    @property
    def least_travel(self) -> float:
        """Uniform u_z in mm to add so that no point of the wall slides backwards.

        Zero but for nu near 1/2, where the middle runs ahead and the mode's wall goes back.
        """
        return max(0.0, -float(self.displacement(self.radius, 0.0)[1]))

    @property
    def _mix(self) -> float:
        """A / B, from u_r = 0 at the wall."""
        return float(self.decay * j0(self.decay) / j1(self.decay))

    def _basis(self, r: ArrayLike, z: ArrayLike) -> tuple[Floats, Floats, Floats, Floats]:
        """K r, both Bessel functions and the fading amplitude, scaled to ``pressure``."""
        x = self.decay * np.asarray(r, dtype=float) / self.radius
        # Mean axial stress of the unit mode, from the wall's drag 2 s_rz / R = k times it.
        unit = -2.0 / self.decay * 2.0 * (1.0 - self.poisson_ratio) * float(j1(self.decay))
        fade = -self.pressure / unit * np.exp(-self.decay * np.asarray(z, dtype=float) / self.radius)
        return x, j0(x), j1(x), fade
