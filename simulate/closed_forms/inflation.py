"""Thick incompressible walls under pressure at large strain: sphere, tube, and the tube as a ring muscle.

Constant volume fixes the motion by one number, the inner radius: r^3 - r_i^3 = R^3 - R_i^3 in the sphere and
r^2 - r_i^2 = R^2 - R_i^2 in the tube, whose length is held (plane strain). Equilibrium across the wall then
gives the pressure inside, with none outside:

    sphere  p = int 2 (s_hoop - s_radial) / r dr,      tube  p = int (s_hoop - s_radial) / r dr.

For the neo-Hookean law both integrals close (q = r / R at each face):

    sphere  p = mu [2 / q + 1 / (2 q^4)] outer minus inner,
    tube    p = mu [ln(q_inner / q_outer) + 1 / (2 q_outer^2) - 1 / (2 q_inner^2)].

After Green and Zerna, Theoretical Elasticity, 1968 (from memory); derived again here, checked by quadrature.

A ring muscle adds a hoop stress s_a = S l^n, l = r / R the hoop stretch, to s_hoop and nothing else, so it
adds int s_a / r dr to the pressure the wall can hold (derived here):

    n = 0  (S a Cauchy stress)              S ln(r_o / r_i)
    n = 1  (S a nominal stress, S l)        S ln((R_o + r_o) / (R_i + r_i)), since dr / R = dR / r
    n = 2  (S a second Piola stress, S l^2) S ln(R_o / R_i)

Lengths mm, stresses MPa.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import quad
from scipy.optimize import brentq

from labrum.meshes.arrays import Floats
from labrum.simulate.closed_forms.finite_strain import Law


def sphere_place(rest: ArrayLike, inner_rest: float, inner: float) -> Floats:
    """Deformed radius of the shells that rest at ``rest`` when the inner face goes to ``inner``."""
    return np.cbrt(np.asarray(rest, dtype=float) ** 3 + inner**3 - inner_rest**3)


def inflated_sphere_pressure(inner: float, inner_rest: float, outer_rest: float, shear_modulus: float) -> float:
    """Pressure inside a neo-Hookean sphere whose inner face stands at ``inner``."""

    def face(rest: float) -> float:
        q = float(sphere_place(rest, inner_rest, inner)) / rest
        return 2.0 / q + 0.5 / q**4

    return shear_modulus * (face(outer_rest) - face(inner_rest))


def sphere_pressure_of_law(inner: float, inner_rest: float, outer_rest: float, law: Law) -> float:
    """``inflated_sphere_pressure`` for the full law (its bulk modulus is ignored), by quadrature over the wall."""

    def lift(rest: float) -> float:
        r = float(sphere_place(rest, inner_rest, inner))
        return 2.0 * _sphere_difference(r / rest, law) * rest**2 / r**3

    return _across(lift, inner_rest, outer_rest)


def sphere_stress(
    rest: ArrayLike, inner: float, inner_rest: float, outer_rest: float, shear_modulus: float
) -> tuple[Floats, Floats]:
    """Radial and hoop Cauchy stress at the shells that rest at ``rest``, neo-Hookean, no pressure outside."""
    own = np.asarray(rest, dtype=float)
    q = sphere_place(own, inner_rest, inner) / own
    last = float(sphere_place(outer_rest, inner_rest, inner)) / outer_rest
    radial = -shear_modulus * (2.0 / last + 0.5 / last**4 - 2.0 / q - 0.5 / q**4)
    return radial, radial + shear_modulus * (q**2 - q**-4.0)


def tube_place(rest: ArrayLike, inner_rest: float, inner: float) -> Floats:
    """Deformed radius of the shells that rest at ``rest`` when the inner face goes to ``inner``."""
    return np.sqrt(np.asarray(rest, dtype=float) ** 2 + inner**2 - inner_rest**2)


def tube_pressure(inner: float, inner_rest: float, outer_rest: float, shear_modulus: float) -> float:
    """Pressure inside a neo-Hookean tube of held length whose inner face stands at ``inner``."""
    first = inner / inner_rest
    last = float(tube_place(outer_rest, inner_rest, inner)) / outer_rest
    return shear_modulus * (math.log(first / last) + 0.5 / last**2 - 0.5 / first**2)


def tube_pressure_of_law(inner: float, inner_rest: float, outer_rest: float, law: Law) -> float:
    """``tube_pressure`` for the full law (its bulk modulus is ignored), by quadrature over the wall."""

    def lift(rest: float) -> float:
        r = float(tube_place(rest, inner_rest, inner))
        return _tube_difference(r / rest, law) * rest / r**2

    return _across(lift, inner_rest, outer_rest)


def tube_stress(
    rest: ArrayLike,
    inner: float,
    inner_rest: float,
    outer_rest: float,
    shear_modulus: float,
) -> tuple[Floats, Floats]:
    """Radial and hoop Cauchy stress, passive neo-Hookean, no pressure outside."""
    own = np.asarray(rest, dtype=float)
    q = tube_place(own, inner_rest, inner) / own
    last = float(tube_place(outer_rest, inner_rest, inner)) / outer_rest
    radial = -shear_modulus * (np.log(q / last) + 0.5 / last**2 - 0.5 / q**2)
    return radial, radial + shear_modulus * (q**2 - q**-2.0)


def muscle_pressure(inner: float, inner_rest: float, outer_rest: float, active: float, power: int) -> float:
    """Pressure that a hoop stress of ``active`` times the hoop stretch to ``power`` adds to a tube's.

    Closed for ``power`` 0, 1 and 2 (module docstring), by quadrature otherwise.
    """
    outer = float(tube_place(outer_rest, inner_rest, inner))
    if power == 0:
        return active * math.log(outer / inner)
    if power == 1:
        return active * math.log((outer_rest + outer) / (inner_rest + inner))
    if power == 2:
        return active * math.log(outer_rest / inner_rest)

    def lift(rest: float) -> float:
        return active * (float(tube_place(rest, inner_rest, inner)) / rest) ** (power - 2) / rest

    return _across(lift, inner_rest, outer_rest)


def muscle_tube_inner_radius(
    pressure: float, inner_rest: float, outer_rest: float, law: Law, active: float, power: int
) -> float:
    """Inner radius at which a tube with a ring muscle holds ``pressure``: the passive wall and the muscle.

    Zero pressure gives the free contraction. The search widens from the rest radius, so of several equilibria
    the one nearest rest is found. Raises ``ValueError`` where there is none (a neo-Hookean tube has a largest
    pressure).
    """

    def spare(inner: float) -> float:
        held = tube_pressure_of_law(inner, inner_rest, outer_rest, law)
        return held + muscle_pressure(inner, inner_rest, outer_rest, active, power) - pressure

    growth = 0.98 if spare(inner_rest) > 0.0 else 1.02
    near, far = inner_rest, inner_rest * growth
    while spare(near) * spare(far) > 0.0:
        if not 1e-3 * inner_rest < far < 1e3 * inner_rest:
            raise ValueError(f"no equilibrium of the tube at a pressure of {pressure:g} MPa")
        near, far = far, far * growth
    return float(brentq(spare, min(near, far), max(near, far), xtol=1e-14 * inner_rest, rtol=1e-14))


def _sphere_difference(q: float, law: Law) -> float:
    """Hoop minus radial Cauchy stress at hoop stretch q, radial stretch q^-2."""
    return float(2.0 * law.slope(2.0 * q**2 + q**-4 - 3.0)) * (q**2 - q**-4)


def _tube_difference(q: float, law: Law) -> float:
    """Hoop minus radial Cauchy stress at hoop stretch q, radial stretch 1 / q."""
    return float(2.0 * law.slope(q**2 + q**-2 - 2.0)) * (q**2 - q**-2)


def _across(rule: Callable[[float], float], inner_rest: float, outer_rest: float) -> float:
    return quad(rule, inner_rest, outer_rest, epsabs=1e-15, epsrel=1e-12)[0]
