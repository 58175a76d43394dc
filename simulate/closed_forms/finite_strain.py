"""Homogeneous large-strain states of the tissue law, by its energy alone.

    W = mu/2 (I - 3) + c2 (I - 3)^2 + c3 (I - 3)^3 + kappa/2 (J - 1)^2,   I = J^(-2/3) (l1^2 + l2^2 + l3^2)

per rest volume, in principal stretches l. With no ``bulk_modulus`` the material is incompressible. Moduli and
stresses in MPa. Free faces are met by solving for the stretch across them. The law is the generalised
neo-Hookean (Yeoh, Rubber Chem. Technol. 66 (1993) 754, from memory) with a volume term; the stresses are
derived here and checked against differences of W.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from labrum.meshes.arrays import Floats

Stretches = tuple[float, float, float]


@dataclass(frozen=True)
class Law:
    """Constants of W: ``shear_modulus`` mu, ``c2``, ``c3``, ``bulk_modulus`` kappa, all MPa."""

    shear_modulus: float
    c2: float = 0.0
    c3: float = 0.0
    bulk_modulus: float | None = None

    def slope(self, excess: ArrayLike) -> Floats:
        """dW/dI at ``excess`` = I - 3."""
        over = np.asarray(excess, dtype=float)
        return 0.5 * self.shear_modulus + 2.0 * self.c2 * over + 3.0 * self.c3 * over**2

    def energy(self, stretches: ArrayLike) -> Floats:
        """W of principal stretches (..., 3), MPa (= mJ/mm3); incompressible: the volume term is left out."""
        bar, volume = _parted(stretches)
        over = np.sum(bar**2, axis=-1) - 3.0
        shape = 0.5 * self.shear_modulus * over + self.c2 * over**2 + self.c3 * over**3
        return shape + 0.5 * (self.bulk_modulus or 0.0) * (volume - 1.0) ** 2


def bulk_from_poisson(shear_modulus: float, poisson_ratio: float) -> float | None:
    """Bulk modulus 2 mu (1 + nu) / (3 (1 - 2 nu)), MPa; none at nu = 0.5."""
    if poisson_ratio == 0.5:
        return None
    return 2.0 * shear_modulus * (1.0 + poisson_ratio) / (3.0 * (1.0 - 2.0 * poisson_ratio))


@dataclass(frozen=True)
class Homogeneous:
    """A homogeneous state: principal ``stretches``, ``cauchy`` and ``nominal`` stress (3,), MPa."""

    stretches: Floats
    cauchy: Floats
    nominal: Floats


def deviatoric_stress(law: Law, stretches: ArrayLike) -> Floats:
    """Cauchy stress without its mean, (..., 3): (2 / J) dW/dI (lbar^2 - I / 3)."""
    bar, volume = _parted(stretches)
    first = np.sum(bar**2, axis=-1)
    factor = 2.0 * law.slope(first - 3.0) / volume
    return factor[..., None] * (bar**2 - first[..., None] / 3.0)


def uniaxial(law: Law, stretch: float) -> Homogeneous:
    """Stretch along direction 0, the two across it free of stress.

    Also the state of a thin ring stretched around its hoop with its section free. Incompressible neo-Hookean:
    nominal stress mu (l - l^-2).
    """
    return _free(law, lambda lateral: (stretch, lateral, lateral), stretch**-0.5, 1)


def equibiaxial(law: Law, stretch: float) -> Homogeneous:
    """Directions 0 and 1 (radial and hoop) stretched alike, direction 2 (axial) free of stress."""
    return _free(law, lambda thickness: (stretch, stretch, thickness), stretch**-2, 2)


def planar(law: Law, stretch: float) -> Homogeneous:
    """Direction 0 stretched, 1 held at its rest length, 2 free of stress (pure shear)."""
    return _free(law, lambda thickness: (stretch, 1.0, thickness), 1.0 / stretch, 2)


def confined(law: Law, stretch: float) -> Homogeneous:
    """Direction 0 stretched, 1 and 2 held: the oedometer. Needs a finite bulk modulus."""
    if law.bulk_modulus is None:
        raise ValueError("an incompressible material cannot change one stretch alone")
    stretches = np.array([stretch, 1.0, 1.0])
    return _state(stretches, deviatoric_stress(law, stretches) + law.bulk_modulus * (stretch - 1.0))


def hoop_contraction(law: Law, active: float, power: int) -> Homogeneous:
    """Thin ring, free of load, whose hoop fibres pull: the hoop (direction 0) shortens until it balances.

    The active Cauchy stress times the volume ratio is ``active`` times the hoop stretch to ``power``: 1 a
    nominal stress, 2 a second Piola stress, 0 (with no change of volume) a Cauchy stress; as in
    ``inflation.py``. ``State.cauchy`` and ``State.nominal`` are the passive part.
    """

    def pull(stretch: float) -> float:
        return float(uniaxial(law, stretch).nominal[0]) + active * stretch ** (power - 1)

    shortest = 0.5
    while pull(shortest) > 0.0:
        shortest *= 0.5
    return uniaxial(law, float(brentq(pull, shortest, 1.0, xtol=1e-15, rtol=1e-14)))


def _free(law: Law, shape: Callable[[float], Stretches], guess: float, face: int) -> Homogeneous:
    """State whose stress across ``face`` vanishes; ``guess`` is the free stretch at constant volume."""
    stretches = np.array(shape(guess))
    if law.bulk_modulus is None:
        deviator = deviatoric_stress(law, stretches)
        return _state(stretches, deviator - deviator[face])
    bulk = law.bulk_modulus

    def across(log_stretch: float) -> float:
        trial = np.array(shape(float(np.exp(log_stretch))))
        return float(deviatoric_stress(law, trial)[face] + bulk * (np.prod(trial) - 1.0))

    # Thinner is more compressed: the stress across the free face rises with its stretch near the root.
    middle, reach = float(np.log(guess)), 0.05
    while across(middle - reach) * across(middle + reach) > 0.0:
        reach *= 1.5
    stretches = np.array(shape(float(np.exp(brentq(across, middle - reach, middle + reach, xtol=1e-15)))))
    return _state(stretches, deviatoric_stress(law, stretches) + bulk * (np.prod(stretches) - 1.0))


def _state(stretches: Floats, cauchy: Floats) -> Homogeneous:
    return Homogeneous(stretches, cauchy, np.prod(stretches) * cauchy / stretches)


def _parted(stretches: ArrayLike) -> tuple[Floats, Floats]:
    """Stretches at constant volume (..., 3), and the volume ratio (...)."""
    own = np.asarray(stretches, dtype=float)
    volume = np.prod(own, axis=-1)
    return own / np.cbrt(volume)[..., None], volume
