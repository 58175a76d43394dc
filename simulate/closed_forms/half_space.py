"""Rigid frictionless indenters of revolution on an elastic half-space, one circle of contact.

Small strains. ``modulus`` is the plane-strain modulus E* = E / (1 - nu^2) in MPa throughout, ``sink`` the
indenter's travel below the resting surface in mm, ``force`` the push over the full circle in N. ``*_surface``
gives the downward displacement of the surface in mm, inside the contact and outside.

Sources: Johnson, Contact Mechanics, 1985, chapters 3 to 5; Sneddon, Int. J. Eng. Sci. 3 (1965) 47 (both from
memory). All four shapes are instances of Sneddon's transform g(x) = x int_0^x f'(r) / sqrt(x^2 - r^2) dr of
the profile f(r): sink = g(a), force = 2 E* int_0^a (g(a) - g(x)) dx; the tests go back to that.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import quad
from scipy.optimize import brentq

from labrum.meshes.arrays import Floats


def plane_strain_modulus(youngs_modulus: float, poisson_ratio: float) -> float:
    """E* = E / (1 - nu^2), MPa."""
    return youngs_modulus / (1.0 - poisson_ratio**2)


def stretched_modulus(shear_modulus: float, stretch: float) -> float:
    """E*, MPa, of an incompressible neo-Hookean half-space drawn out to ``stretch`` in all directions of its surface.

    What a small indentation of the stretched body meets, in place of 4 times the shear modulus. A wave of the surface
    decays inwards as exp(x z) and as exp(a x z) with a = stretch^3, and its pressure over its height is x times

        shear_modulus / stretch^4 (a^3 + a^2 + 3 a - 1) / (a + 1),

    half of E*. At a stretch of 0.666 it is nought, and the surface buckles of itself.

    Sources, from memory: Green, Rivlin & Shield 1952, Proc. R. Soc. A 211:128 (small on large deformations, a punch on
    a stretched half-space); Biot 1965, *Mechanics of Incremental Deformations* (where the surface buckles).
    """
    a = stretch**3
    return 2.0 * shear_modulus * (a**3 + a**2 + 3.0 * a - 1.0) / (stretch**4 * (a + 1.0))


def flat_punch_force(sink: float, radius: float, modulus: float) -> float:
    """Force on a flat punch of ``radius``: 2 E* a w."""
    return 2.0 * modulus * radius * sink


def flat_punch_pressure(r: ArrayLike, force: float, radius: float) -> Floats:
    """Pressure under a flat punch, zero outside; infinite at the edge itself."""
    rise = radius**2 - _array(r) ** 2
    with np.errstate(divide="ignore"):
        return np.where(rise >= 0.0, force / (2.0 * np.pi * radius * np.sqrt(np.maximum(rise, 0.0))), 0.0)


def flat_punch_surface(r: ArrayLike, sink: float, radius: float) -> Floats:
    """Surface displacement about a flat punch: (2 w / pi) asin(a / r) outside."""
    return 2.0 * sink / np.pi * np.arcsin(_share(r, radius))


def sphere_sink(contact_radius: float, sphere_radius: float) -> float:
    """Hertz: w = a^2 / R. The sphere is taken as the paraboloid r^2 / (2 R), so a must be small beside R."""
    return contact_radius**2 / sphere_radius


def sphere_force(sink: float, sphere_radius: float, modulus: float) -> float:
    """Hertz: F = (4/3) E* sqrt(R) w^1.5."""
    return 4.0 / 3.0 * modulus * math.sqrt(sphere_radius) * sink**1.5


def sphere_contact_radius(force: float, sphere_radius: float, modulus: float) -> float:
    """Hertz: a^3 = 3 F R / (4 E*)."""
    return (0.75 * force * sphere_radius / modulus) ** (1.0 / 3.0)


def sphere_pressure(r: ArrayLike, contact_radius: float, sphere_radius: float, modulus: float) -> Floats:
    """Hertz pressure, peak 2 E* a / (pi R) on the axis, zero outside the contact."""
    rise = np.maximum(1.0 - (_array(r) / contact_radius) ** 2, 0.0)
    return 2.0 * modulus * contact_radius / (np.pi * sphere_radius) * np.sqrt(rise)


def sphere_surface(r: ArrayLike, contact_radius: float, sphere_radius: float) -> Floats:
    """Surface displacement about a Hertz contact."""
    r = _array(r)
    edge = np.sqrt(np.maximum(r**2 - contact_radius**2, 0.0))
    turned = (2.0 * contact_radius**2 - r**2) * np.arcsin(_share(r, contact_radius)) + contact_radius * edge
    return turned / (np.pi * sphere_radius)


def cone_sink(contact_radius: float, flank_angle: float) -> float:
    """Sneddon: w = (pi/2) a tan(flank), the flank measured from the surface."""
    return 0.5 * math.pi * contact_radius * math.tan(flank_angle)


def cone_force(sink: float, flank_angle: float, modulus: float) -> float:
    """Sneddon: F = (2/pi) E* w^2 / tan(flank)."""
    return 2.0 * modulus * sink**2 / (math.pi * math.tan(flank_angle))


def cone_pressure(r: ArrayLike, contact_radius: float, flank_angle: float, modulus: float) -> Floats:
    """Sneddon: (E* tan(flank) / 2) acosh(a / r), zero outside; infinite on the axis."""
    with np.errstate(divide="ignore"):
        reach = np.maximum(contact_radius / _array(r), 1.0)
    return 0.5 * modulus * math.tan(flank_angle) * np.arccosh(reach)


def cone_surface(r: ArrayLike, contact_radius: float, flank_angle: float) -> Floats:
    """Surface displacement about a cone."""
    r = _array(r)
    edge = np.sqrt(np.maximum(r**2 - contact_radius**2, 0.0))
    return math.tan(flank_angle) * (contact_radius * np.arcsin(_share(r, contact_radius)) + edge - r)


def rounded_punch_sink(contact_radius: float, flat_radius: float, edge_radius: float) -> float:
    """Travel of a punch, flat to ``flat_radius`` b and then rounded as (r - b)^2 / (2 R).

    With s = sqrt(a^2 - b^2) and th = acos(b / a): w = (a / R) (s - b th). Hertz at b = 0. Derived here from
    Sneddon's transform; the problem is Ciavarella's (J. Strain Anal. 34, 1999, from memory). Valid for
    a - b << R.
    """
    return float(_rounded_transform(contact_radius, flat_radius, edge_radius))


def rounded_punch_force(
    contact_radius: float, flat_radius: float, edge_radius: float, modulus: float
) -> float:
    """Force on the rounded punch: (2 E* / R) (a^2 s - s^3 / 3 - b^2 s / 2 - a^2 b th / 2); see the sink."""
    a, b = contact_radius, flat_radius
    s, th = math.sqrt(a**2 - b**2), math.acos(b / a)
    return 2.0 * modulus / edge_radius * (a**2 * s - s**3 / 3.0 - b**2 * s / 2.0 - a**2 * b * th / 2.0)


def rounded_punch_contact_radius(
    force: float, flat_radius: float, edge_radius: float, modulus: float
) -> float:
    """Contact radius under a given force: the force relation solved for a."""
    above = flat_radius + sphere_contact_radius(force, edge_radius, modulus)

    def miss(a: float) -> float:
        return rounded_punch_force(a, flat_radius, edge_radius, modulus) - force

    return float(brentq(miss, flat_radius, above, xtol=1e-14 * above, rtol=1e-14))


def rounded_punch_pressure(
    r: ArrayLike, contact_radius: float, flat_radius: float, edge_radius: float, modulus: float
) -> Floats:
    """Pressure under the rounded punch, (E* / pi) int_r^a g'(x) / sqrt(x^2 - r^2) dx by quadrature.

    Finite everywhere, largest just outside ``flat_radius`` for a small edge radius, zero outside the contact.
    """
    b = flat_radius

    def rate(x: float) -> float:
        rise = math.sqrt(max(x * x - b * b, 0.0))
        return (2.0 * rise - b * math.acos(min(b / x, 1.0))) / edge_radius if x > 0.0 else 0.0

    return modulus / np.pi * _per_point(lambda radius: _abel(rate, radius, b, contact_radius), r)


def rounded_punch_surface(
    r: ArrayLike, contact_radius: float, flat_radius: float, edge_radius: float
) -> Floats:
    """Surface displacement about the rounded punch: (2/pi) int_0^min(a, r) (w - g) / sqrt(r^2 - x^2) dx."""
    sink = rounded_punch_sink(contact_radius, flat_radius, edge_radius)

    def drop(radius: float) -> float:
        def left(angle: float) -> float:
            x = radius * math.sin(angle)
            return sink - float(_rounded_transform(x, flat_radius, edge_radius))

        if radius == 0.0:
            return 0.5 * math.pi * sink
        last = math.asin(min(contact_radius / radius, 1.0))
        bend = math.asin(min(flat_radius / radius, math.sin(last)))
        return quad(left, 0.0, bend, epsabs=1e-14)[0] + quad(left, bend, last, epsabs=1e-14)[0]

    return 2.0 / np.pi * _per_point(drop, r)


def _rounded_transform(x: float, flat_radius: float, edge_radius: float) -> float:
    """Sneddon's g(x) of the rounded punch: zero on the flat."""
    if x <= flat_radius:
        return 0.0
    return x / edge_radius * (math.sqrt(x**2 - flat_radius**2) - flat_radius * math.acos(flat_radius / x))


def _abel(rate: Callable[[float], float], r: float, start: float, end: float) -> float:
    """int_max(r, start)^end rate(x) / sqrt(x^2 - r^2) dx, the root removed by x^2 = lower^2 + w^2."""
    lower = max(r, start)
    if lower >= end:
        return 0.0

    def smooth(w: float) -> float:
        x = math.hypot(lower, w)
        # At r = lower the factor w / sqrt(x^2 - r^2) is one; the branch spares a 0 / 0.
        bent = 1.0 if r == lower else w / math.sqrt(x * x - r * r)
        return rate(x) / x * bent if x > 0.0 else 0.0

    return quad(smooth, 0.0, math.sqrt(end**2 - lower**2), epsabs=1e-13, epsrel=1e-11, limit=200)[0]


def _share(r: ArrayLike, radius: float) -> Floats:
    """min(1, a / r), one on the axis."""
    return np.minimum(1.0, radius / np.maximum(_array(r), 1e-300))


def _per_point(rule: Callable[[float], float], r: ArrayLike) -> Floats:
    points = _array(r)
    return np.array([rule(float(x)) for x in points.ravel()]).reshape(points.shape)


def _array(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=float)
