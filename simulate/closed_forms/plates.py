"""A clamped circular plate under pressure, small deflections: thin (Kirchhoff) and with shear (Mindlin).

Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 1959, section 16 (from memory); the shear term
is Reissner's and Mindlin's with the factor 5/6. ``r`` and the plate's ``radius`` in mm, ``pressure`` MPa, the
deflection mm in its direction. Good while the deflection stays below a fifth or so of the thickness;
the thin form errs by the order of (thickness / radius)^2, which the shear term supplies.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from labrum.meshes.arrays import Floats

_SHEAR_FACTOR = 5.0 / 6.0


def plate_stiffness(youngs_modulus: float, poisson_ratio: float, thickness: float) -> float:
    """D = E h^3 / (12 (1 - nu^2)), N mm."""
    return youngs_modulus * thickness**3 / (12.0 * (1.0 - poisson_ratio**2))


def thin_plate_deflection(
    r: ArrayLike,
    radius: float,
    thickness: float,
    pressure: float,
    youngs_modulus: float,
    poisson_ratio: float,
) -> Floats:
    """Kirchhoff: w = p (a^2 - r^2)^2 / (64 D)."""
    rise = radius**2 - np.asarray(r, dtype=float) ** 2
    return pressure * rise**2 / (64.0 * plate_stiffness(youngs_modulus, poisson_ratio, thickness))


def thick_plate_deflection(
    r: ArrayLike,
    radius: float,
    thickness: float,
    pressure: float,
    youngs_modulus: float,
    poisson_ratio: float,
) -> Floats:
    """Mindlin: the thin deflection plus that of shear, p (a^2 - r^2) / (4 (5/6) G h)."""
    bent = thin_plate_deflection(r, radius, thickness, pressure, youngs_modulus, poisson_ratio)
    shear = youngs_modulus / (2.0 * (1.0 + poisson_ratio))
    rise = radius**2 - np.asarray(r, dtype=float) ** 2
    return bent + pressure * rise / (4.0 * _SHEAR_FACTOR * shear * thickness)


def plate_moments(
    r: ArrayLike, radius: float, pressure: float, poisson_ratio: float
) -> tuple[Floats, Floats]:
    """Radial and hoop moment per length, N mm / mm; the same with and without shear."""
    own, edge = np.asarray(r, dtype=float) ** 2, radius**2 * (1.0 + poisson_ratio)
    radial = pressure / 16.0 * (edge - (3.0 + poisson_ratio) * own)
    return radial, pressure / 16.0 * (edge - (1.0 + 3.0 * poisson_ratio) * own)
