"""Natural frequencies of simple bodies, Hz: bar, stretched membrane and plate, clamped thick plate, sheared cylinder.

Consistent units: with mm, MPa and t/mm3 (or m, Pa and kg/m3) frequencies come in Hz. All modes are axisymmetric.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq
from scipy.special import iv, jn_zeros, jv

from labrum.meshes.arrays import Floats
from labrum.simulate.closed_forms.plates import plate_stiffness

MINDLIN_SHEAR_FACTOR = np.pi**2 / 12.0
"""Mindlin's own, which gives the thickness-shear frequency exactly."""


def bar_frequencies(count: int, length: float, youngs_modulus: float, density: float) -> Floats:
    """(count,) longitudinal modes of a thin bar held at one end: (2 n - 1) c / (4 L), c^2 = E / rho.

    Rayleigh 1877, *The Theory of Sound*, chapter 7 (from memory).
    """
    return np.asarray((2.0 * np.arange(1, count + 1) - 1.0) / (4.0 * length) * np.sqrt(youngs_modulus / density))


def sheared_cylinder_frequencies(count: int, radius: float, shear_modulus: float, density: float) -> Floats:
    """(count,) modes u_z(R) of a neo-Hookean cylinder whose mantle is held and whose ends do not move radially.

    j_{0,n} / (2 pi R) sqrt(mu / rho) with the *resting* radius R, however far the cylinder has been stretched
    homogeneously: of the stress that a shear u_z,R brings, P_zR = mu u_z,R, the stretch takes no notice. In the
    deformed body it is the wave speed rho v^2 = mu lambda^2 along the stretched radius (Hayes & Rivlin 1961, Arch.
    Rational Mech. Anal. 8:15; from memory).
    """
    return np.asarray(jn_zeros(0, count) / (2.0 * np.pi * radius) * np.sqrt(shear_modulus / density))


def stretched_plate_frequencies(
    count: int, radius: float, tension: float, bending_stiffness: float, mass_per_area: float
) -> Floats:
    """(count,) modes of a clamped circular plate under a tension per length; a membrane's where bending vanishes.

    D del^4 w - T del^2 w = m omega^2 w has w = A J0(alpha r) + B I0(beta r), beta^2 - alpha^2 = T / D, alpha^2 beta^2 =
    m omega^2 / D; w = w' = 0 at the edge gives alpha J1(alpha a) I0(beta a) + beta I1(beta a) J0(alpha a) = 0. Leissa
    1969, *Vibration of Plates*, NASA SP-160, chapters 2 and 10 (from memory).
    """
    if bending_stiffness == 0.0:
        return np.asarray(jn_zeros(0, count) / (2.0 * np.pi * radius) * np.sqrt(tension / mass_per_area))
    pull = tension / bending_stiffness * radius**2

    def edge(alpha: float) -> float:
        beta = np.sqrt(alpha**2 + pull)
        grown = iv(1, beta) / iv(0, beta) if beta < 500.0 else 1.0
        return float(alpha * jv(1, alpha) + beta * grown * jv(0, alpha))

    alpha = np.array(_roots(edge, count, 0.5))
    omega = alpha * np.sqrt(alpha**2 + pull) / radius**2 * np.sqrt(bending_stiffness / mass_per_area)
    return np.asarray(omega / (2.0 * np.pi))


def thick_plate_frequencies(
    count: int, radius: float, thickness: float, youngs_modulus: float, poisson_ratio: float, density: float,
    shear_factor: float = MINDLIN_SHEAR_FACTOR,
) -> Floats:  # fmt: skip
    """(count,) modes of a clamped circular plate with shear and rotatory inertia, up to thickness shear.

    Mindlin & Deresiewicz 1954, J. Appl. Phys. 25:1329 (from memory): w = A1 J0(d1 r) + A2 J0(d2 r), the rotation is
    sum of (s_i - 1) w_i', with d^2 and s as in `_edge_of_thick_plate`; w and the rotation vanish at the edge.
    """
    stiffness = plate_stiffness(youngs_modulus, poisson_ratio, thickness)
    shear = shear_factor * youngs_modulus / (2.0 * (1.0 + poisson_ratio)) * thickness
    inertia, flexibility = thickness**2 / 12.0 / radius**2, stiffness / shear / radius**2

    def edge(root: float) -> float:
        return _edge_of_thick_plate(root**2, inertia, flexibility)

    numbers = np.array(_roots(edge, count, 0.2)) ** 2
    omega = numbers / radius**2 * np.sqrt(stiffness / (density * thickness))
    return np.asarray(omega / (2.0 * np.pi))


def _edge_of_thick_plate(number: float, inertia: float, flexibility: float) -> float:
    """Determinant at the edge, a = 1, for the frequency number omega a^2 sqrt(rho h / D)."""
    square = number**2
    spread = np.sqrt((inertia - flexibility) ** 2 + 4.0 / square)
    squares = 0.5 * square * np.array([inertia + flexibility + spread, inertia + flexibility - spread])
    share = squares[::-1] / (inertia * square - 1.0 / flexibility) - 1.0
    d = np.sqrt(squares.astype(complex))
    level, slope = jv(0, d), share * d * jv(1, d)
    return float(np.real(level[0] * slope[1] - level[1] * slope[0]) / np.abs(level[1]))


def _roots(function: Callable[[float], float], count: int, step: float) -> list[float]:
    found: list[float] = []
    low, before = 0.5 * step, function(0.5 * step)
    while len(found) < count:
        high = low + step
        after = function(high)
        if before * after < 0.0:
            found.append(float(brentq(function, low, high, xtol=1e-13)))
        low, before = high, after
    return found
