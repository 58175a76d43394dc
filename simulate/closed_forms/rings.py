"""Rings pressed into a half-space or a layer: the annular punch and the round rim.

Contact over an annulus has no closed form; it is one integral equation of the first kind,

    w - f(r) = (1 / E*) int p(s) k(r, s) ds,    k = (4 / pi) s K(m) / (r + s),    m = 4 r s / (r + s)^2,

the displacement of a ring load on a half-space (Johnson, Contact Mechanics, 1985, section 3.8, from memory),
to which a layer on a rigid base adds 2 s int_0^inf (L(x) - 1) J0(x r / h) J0(x s / h) dx / h (``layer.py``). Where
load and displacement go with cos(theta), as under a tilted ring, 2 (K - E) / m - K stands for K, and J1 for J0.
The pressure is p = q(x) / sqrt(1 - x^2), x = -1..1 across the contact, q by Chebyshev collocation, the
kernel's logarithm integrated exactly: the error falls faster than any power of the number of nodes.

Small strains, no friction. ``modulus`` is E* = E / (1 - nu^2) in MPa; lengths mm; forces N, full circle.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq
from scipy.special import ellipe, ellipk, ellipkm1, j0, j1

from labrum.meshes.arrays import Floats
from labrum.simulate.closed_forms.layer import Spectrum, excess

Profile = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Base:
    """What the tissue rests on: ``thickness`` mm over a rigid base, and the layer's ``spectrum``."""

    thickness: float
    spectrum: Spectrum


@dataclass(frozen=True)
class RingContact:
    """Contact over ``inner`` <= r <= ``outer`` (mm) at a travel of ``sink`` mm.

    ``radii`` (n,) mm are the Chebyshev nodes from the outer edge inwards and ``pressure`` (n,) MPa the
    contact pressure there.
    """

    inner: float
    outer: float
    sink: float
    modulus: float
    radii: Floats
    pressure: Floats
    backing: Base | None

    @property
    def force(self) -> float:
        """Full-circle force, N."""
        return 2.0 * math.pi * float(np.sum(self._loads()))

    def surface(self, r: ArrayLike) -> Floats:
        """Downward displacement of the surface in mm outside the contact.

        Meant a few hundredths of the contact's width or more away from it: nearer, the plain quadrature meets
        the kernel's logarithm.
        """
        radii = np.asarray(r, dtype=float)[..., None]
        kernel = _near(radii, self.radii) * ellipkm1(_apart(radii, self.radii))
        if self.backing is not None:
            kernel = kernel + _base(radii, self.radii, self.backing)
        return kernel @ self._loads() / self.modulus

    def _loads(self) -> Floats:
        """Line load times radius at each node: the quadrature weights of p r dr."""
        half = 0.5 * (self.outer - self.inner)
        x = (self.radii - 0.5 * (self.outer + self.inner)) / half
        return half * math.pi / x.size * np.sqrt(1.0 - x**2) * self.pressure * self.radii


def annular_punch(
    inner: float, outer: float, sink: float, modulus: float, backing: Base | None = None, nodes: int = 48
) -> RingContact:
    """Flat annular punch, ``inner`` > 0; the pressure is infinite at both edges (Gladwell and Gupta 1979)."""
    x, matrix, radii = _system(inner, outer, backing, nodes)
    strength = np.linalg.solve(matrix, np.full(nodes, sink * modulus))
    pressure = strength / np.sqrt(1.0 - x**2)
    return RingContact(inner, outer, sink, modulus, radii, pressure, backing)


def annular_punch_factor(ratio: float) -> float:
    """P / (2 E* a w) of the flat annular punch on a half-space, ``ratio`` = inner over outer radius."""
    return annular_punch(ratio, 1.0, 1.0, 1.0).force / 2.0


def pressed_ring(
    profile: Profile,
    place: float,
    half_width: float,
    modulus: float,
    backing: Base | None = None,
    nodes: int = 48,
) -> RingContact:
    """Smooth ring whose contact is 2 ``half_width`` wide, the pressure vanishing at both edges.

    Parameters
    ----------
    profile
        Height of the ring's face in mm above its point nearest the tissue, at radii (n,) mm.
    place
        Radius of that point, mm. The contact's own middle is found, within half a half-width of it.
    half_width, modulus, backing, nodes
        See the module.

    Returns
    -------
    RingContact
        With the travel and the pressure; ``force`` tells which load belongs to the given half-width.
    """

    def parts(middle: float) -> tuple[float, Floats, Floats, Floats]:
        x, matrix, radii = _system(middle - half_width, middle + half_width, backing, nodes)
        sides = np.column_stack([np.ones(nodes), profile(radii)])
        even, shaped = np.linalg.solve(matrix, sides).T
        sink = _at(shaped, 1.0) / _at(even, 1.0)
        return sink, sink * even - shaped, x, radii

    def uneven(middle: float) -> float:
        return _at(parts(middle)[1], -1.0)

    # The inside is the stiffer side, so the contact leans outwards, by far less than its width.
    first = max(place - 0.5 * half_width, 1.001 * half_width)
    middle = float(brentq(uneven, first, place + 0.5 * half_width, xtol=1e-13 * place, rtol=1e-14))
    sink, strength, x, radii = parts(middle)
    pressure = modulus * strength / np.sqrt(1.0 - x**2)
    return RingContact(middle - half_width, middle + half_width, sink, modulus, radii, pressure, backing)


def ring_under_force(
    profile: Profile,
    place: float,
    force: float,
    modulus: float,
    widest: float,
    backing: Base | None = None,
) -> RingContact:
    """``pressed_ring`` at a given force in N; ``widest`` mm bounds the half-width from above."""

    def miss(half_width: float) -> float:
        return pressed_ring(profile, place, half_width, modulus, backing).force - force

    half_width = float(brentq(miss, 1e-6 * widest, widest, xtol=1e-12 * widest, rtol=1e-13))
    return pressed_ring(profile, place, half_width, modulus, backing)


def round_profile(place: float, tube_radius: float) -> Profile:
    """Face of a round rim (torus) as a parabola: (r - place)^2 / (2 tube_radius)."""
    return lambda r: (r - place) ** 2 / (2.0 * tube_radius)


def narrow_rim_force(half_width: float, place: float, tube_radius: float, modulus: float) -> float:
    """Round rim, narrow contact: F = pi^2 E* r0 a^2 / (2 rho), the line contact wrapped round the circle.

    Derived for this project; cf. Argatov, Heß, Pohrt and Popov 2016 (from memory). The relative error falls
    as (a / r0)^2 times a logarithm.
    """
    return math.pi**2 * modulus * place * half_width**2 / (2.0 * tube_radius)


def narrow_rim_sink(half_width: float, place: float, tube_radius: float) -> float:
    """Round rim, narrow contact: w = a^2 / (2 rho) (ln(16 r0 / a) + 1/2)."""
    return half_width**2 / (2.0 * tube_radius) * (math.log(16.0 * place / half_width) + 0.5)


def narrow_rim_pressure(
    r: ArrayLike, half_width: float, place: float, tube_radius: float, modulus: float
) -> Floats:
    """Round rim, narrow contact: the line contact's E* sqrt(a^2 - (r - r0)^2) / (2 rho), zero outside."""
    off = np.asarray(r, dtype=float) - place
    return modulus / (2.0 * tube_radius) * np.sqrt(np.maximum(half_width**2 - off**2, 0.0))


def narrow_flat_ring_sink(force: float, place: float, half_width: float, modulus: float) -> float:
    """Narrow flat ring of mean radius ``place``: w = F ln(16 r0 / b) / (pi^2 E* r0), b the half-width."""
    return force * math.log(16.0 * place / half_width) / (math.pi**2 * modulus * place)


@dataclass(frozen=True)
class TiltedRing:
    """What a tilt by one radian about a diameter adds to a contact over ``inner`` <= r <= ``outer`` (mm).

    ``pressure`` (n,) MPa at ``radii`` (n,) mm, times the cosine of the angle from where the ring goes down; infinite at
    both edges, to first order, whatever the ring's profile. ``moment`` N mm.
    """

    radii: Floats
    pressure: Floats
    moment: float

    def at(self, r: ArrayLike, inner: float, outer: float) -> Floats:
        """Pressure, MPa, within the contact: without its square roots it is smooth, so a polynomial carries it."""
        half, middle = 0.5 * (outer - inner), 0.5 * (outer + inner)
        x, place = (self.radii - middle) / half, (np.asarray(r, dtype=float) - middle) / half
        fit = np.polynomial.chebyshev.Chebyshev.fit(x, self.pressure * np.sqrt(1.0 - x**2), x.size // 2, domain=[-1, 1])
        return np.asarray(fit(place) / np.sqrt(1.0 - place**2))


def tilted_ring(
    inner: float, outer: float, modulus: float, backing: Base | None = None, nodes: int = 48
) -> TiltedRing:
    """Tilt of a ring in contact over ``inner`` > 0 to ``outer``: the surface there goes down by r cos(theta)."""
    x, matrix, radii = _system(inner, outer, backing, nodes, waves=1)
    strength = np.linalg.solve(matrix, modulus * radii)
    moment = math.pi * 0.5 * (outer - inner) * math.pi / nodes * float(np.sum(strength * radii**2))
    return TiltedRing(radii, strength / np.sqrt(1.0 - x**2), moment)


def _system(
    inner: float, outer: float, backing: Base | None, nodes: int, waves: int = 0
) -> tuple[Floats, Floats, Floats]:
    """Nodes x, the collocation matrix taking q to E* times displacement, and the nodes' radii.

    Load and displacement are even around the circle, or go with the cosine (``waves`` = 1).
    """
    x = np.cos((2.0 * np.arange(nodes) + 1.0) * np.pi / (2.0 * nodes))
    half = 0.5 * (outer - inner)
    radii = 0.5 * (outer + inner) + half * x
    r, s = radii[:, None], radii[None, :]
    apart = _apart(r, s)
    # K(1 - t) = -(K(t) / pi) ln t + smooth: the logarithm is taken out and integrated exactly.
    weight = ellipk(apart) / np.pi
    with np.errstate(divide="ignore", invalid="ignore"):
        smooth = np.where(apart > 0.0, ellipkm1(apart) + weight * np.log(apart), math.log(4.0))
    if waves == 1:
        # 2 (K - E) / m - K = g K - pi / (m K(t)), g = 2 E(t) / (m K(t)) - 1, by Legendre's relation
        share = 2.0 * ellipe(apart) / ((1.0 - apart) * ellipk(apart)) - 1.0
        weight, smooth = share * weight, share * smooth - np.pi / ((1.0 - apart) * ellipk(apart))
    plain = smooth - 2.0 * weight * np.log(half / (r + s))
    matrix = half * _near(r, s) * s * (math.pi / nodes * plain - 2.0 * weight * _logarithm(nodes))
    if backing is not None:
        matrix = matrix + half * math.pi / nodes * s * _base(r, s, backing, waves)
    return x, matrix, radii


def _near(r: Floats, s: Floats) -> Floats:
    return 4.0 / np.pi / (r + s)


def _apart(r: Floats, s: Floats) -> Floats:
    """1 - m of the elliptic integral."""
    return ((r - s) / (r + s)) ** 2


def _logarithm(nodes: int) -> Floats:
    """Weights (n, n) of int q(y) ln|x - y| / sqrt(1 - y^2) dy at the nodes, exact for polynomials q."""
    angle = (2.0 * np.arange(nodes) + 1.0) * np.pi / (2.0 * nodes)
    order = np.arange(1, nodes)
    wave = np.cos(np.outer(angle, order))
    return -math.pi / nodes * (math.log(2.0) + 2.0 * (wave / order) @ wave.T)


def _base(r: Floats, s: Floats, backing: Base, waves: int = 0) -> Floats:
    """Displacement the rigid base adds, per unit of p s ds."""
    x, amount = excess(backing.spectrum)
    h = backing.thickness
    bessel = (j0, j1)[waves]
    there, here = bessel(np.ravel(r)[:, None] * x / h), bessel(np.ravel(s)[:, None] * x / h)
    added = 2.0 / h * (there * amount) @ here.T
    return added.reshape(np.broadcast_shapes(r.shape, s.shape))


def _at(values: Floats, end: float) -> float:
    """Chebyshev interpolant of values at the nodes, taken at x = +1 or -1."""
    n = values.size
    angle = (2.0 * np.arange(n) + 1.0) * np.pi / (2.0 * n)
    shares = 2.0 / n * np.cos(np.outer(np.arange(n), angle)) @ values
    shares[0] *= 0.5
    return float(shares @ end ** np.arange(n))
