"""A rigid frictionless punch, flat or spherical, on an elastic layer that rests on a rigid base.

Hayes, Keer, Herrmann and Mockros, J. Biomech. 5 (1972) 541: the contact is one Fredholm equation for an
auxiliary function phi on 0 <= t <= 1 (radius over contact radius),

    phi(t) + (e / pi) int_0^1 [K(e (t - s)) + K(e (t + s))] phi(s) ds = w - g(a t),
    K(u) = int_0^inf (L(x) - 1) cos(x u) dx,    e = a / h,

solved here by Gauss-Legendre collocation, which converges faster than any power. L is the layer's answer to
a wave of pressure relative to a half-space (``bonded`` or ``sliding``), g Sneddon's transform of the profile
(0 flat, x^2 / R for the paraboloid), F = 2 E* a int phi. Small strains, one homogeneous layer, Poisson's
ratio up to 0.5.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import j0

from labrum.meshes.arrays import Floats

Spectrum = Callable[[Floats], Floats]

# L - 1 falls as x^2 exp(-2 x): below 1e-22 at 30. 400 nodes resolve the waves up to radii of 20 thicknesses.
_LAST_WAVE, _WAVES, _NODES = 30.0, 400, 64


def bonded(poisson_ratio: float) -> Spectrum:
    """L(x) of a layer bonded to its base, x = wave number times thickness (Hayes et al. 1972)."""
    c = 3.0 - 4.0 * poisson_ratio

    def spectrum(x: Floats) -> Floats:
        fade = np.exp(-2.0 * x)
        top = c * (1.0 - fade**2) - 4.0 * x * fade
        return top / (c * (1.0 + fade**2) + (1.0 + c**2 + 4.0 * x**2) * fade)

    return spectrum


def sliding() -> Spectrum:
    """L(x) of a layer free to slide on its base but not to leave it; Poisson's ratio drops out.

    (cosh 2x - 1) / (sinh 2x + 2x): Johnson, Contact Mechanics, 1985, section 5.8 (from memory).
    """

    def spectrum(x: Floats) -> Floats:
        fade = np.exp(-2.0 * x)
        return (1.0 - fade) ** 2 / np.maximum(1.0 - fade**2 + 4.0 * x * fade, 1e-300)

    return spectrum


def excess(spectrum: Spectrum) -> tuple[Floats, Floats]:
    """Waves x (n,) and (L(x) - 1) dx (n,) for integrals over 0 < x."""
    x, dx = _gauss(_WAVES, _LAST_WAVE)
    return x, dx * (spectrum(x) - 1.0)


@dataclass(frozen=True)
class LayerContact:
    """A punch on a layer. Lengths mm; ``modulus`` E* = E / (1 - nu^2) in MPa; ``force`` N, full circle.

    ``curvature`` is 1 / R of the sphere, 0 for the flat punch. ``waves`` (n,) and ``carried`` (n,) hold what
    the base adds: phi(t) = w - g(a t) - (2 e / pi) sum carried cos(e waves t).
    """

    contact_radius: float
    thickness: float
    modulus: float
    curvature: float
    sink: float
    force: float
    waves: Floats
    carried: Floats

    @property
    def factor(self) -> float:
        """Hayes' kappa = P (1 - nu) / (4 G a w): force over that of a flat punch on a half-space."""
        return self.force / (2.0 * self.modulus * self.contact_radius * self.sink)

    def pressure(self, r: ArrayLike) -> Floats:
        """Contact pressure in MPa at radii ``r``, zero outside (flat punch: infinite at the edge)."""
        radii = np.asarray(r, dtype=float)
        rise = np.sqrt(np.maximum(self.contact_radius**2 - radii**2, 0.0))
        v, dv = _gauss(_NODES, 1.0)
        t = np.hypot(radii[..., None], rise[..., None] * v) / self.contact_radius
        bulk = rise * ((self._slope(t) / np.maximum(t, 1e-300)) @ dv) / self.contact_radius**2
        # A sphere's phi vanishes at the edge, and with it the punch's singular term.
        edge = 0.0 if self.curvature else float(self._phi(np.array(1.0)))
        with np.errstate(divide="ignore"):
            singular = np.divide(edge, rise) if edge else np.zeros_like(rise)
        return np.where(radii <= self.contact_radius, self.modulus / np.pi * (singular - bulk), 0.0)

    def surface(self, r: ArrayLike) -> Floats:
        """Downward displacement of the layer's top in mm at radii ``r``, inside the contact and outside."""
        radii = np.asarray(r, dtype=float)
        last = np.arcsin(np.minimum(1.0, self.contact_radius / np.maximum(radii, 1e-300)))
        share, weight = _gauss(_NODES, 1.0)
        t = radii[..., None] * np.sin(last[..., None] * share) / self.contact_radius
        base = j0(radii[..., None] * self.waves / self.thickness) @ self.carried
        return 2.0 / np.pi * (last * (self._phi(t) @ weight) + self._ratio * base)

    @property
    def _ratio(self) -> float:
        return self.contact_radius / self.thickness

    def _phi(self, t: Floats) -> Floats:
        own = self.sink - self.curvature * (self.contact_radius * t) ** 2
        added = np.cos(self._ratio * t[..., None] * self.waves) @ self.carried
        return own - 2.0 * self._ratio / np.pi * added

    def _slope(self, t: Floats) -> Floats:
        own = -2.0 * self.curvature * self.contact_radius**2 * t
        added = np.sin(self._ratio * t[..., None] * self.waves) @ (self.waves * self.carried)
        return own + 2.0 * self._ratio**2 / np.pi * added


def flat_punch_on_layer(
    sink: float, contact_radius: float, thickness: float, modulus: float, spectrum: Spectrum
) -> LayerContact:
    """Flat punch of radius ``contact_radius`` pushed ``sink`` into a layer of ``thickness`` (mm)."""
    flat, _ = _unit_solutions(contact_radius / thickness, spectrum)
    return _contact(sink * flat, sink, 0.0, contact_radius, thickness, modulus, spectrum)


def sphere_on_layer(
    contact_radius: float, sphere_radius: float, thickness: float, modulus: float, spectrum: Spectrum
) -> LayerContact:
    """Sphere, as the paraboloid r^2 / (2 R), touching a layer out to ``contact_radius``.

    The sink is the one at which phi vanishes at the edge, that is, at which the pressure there is finite.
    """
    ratio, depth = contact_radius / thickness, contact_radius**2 / sphere_radius
    flat, bowl = _unit_solutions(ratio, spectrum)
    sink = depth * _edge(bowl, ratio, spectrum) / _edge(flat, ratio, spectrum)
    phi = sink * flat - depth * bowl
    return _contact(phi, sink, 1.0 / sphere_radius, contact_radius, thickness, modulus, spectrum)


def hayes_factor(ratio: float, poisson_ratio: float) -> float:
    """Hayes' kappa of the flat punch on a bonded layer at ``ratio`` = a / h."""
    return flat_punch_on_layer(1.0, ratio, 1.0, 1.0, bonded(poisson_ratio)).factor


def hayes_sphere_factors(ratio: float, poisson_ratio: float) -> tuple[float, float]:
    """a^2 / (R w) and kappa of the sphere on a bonded layer, ``ratio`` = a / h (half-space: 1 and 2 / 3)."""
    contact = sphere_on_layer(ratio, 1.0, 1.0, 1.0, bonded(poisson_ratio))
    return ratio**2 / contact.sink, contact.factor


@cache
def _gauss(count: int, length: float) -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes and weights on 0..length, kept: finding 400 of them costs more than their use."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    placed, scaled = 0.5 * length * (nodes + 1.0), 0.5 * length * weights
    placed.flags.writeable = scaled.flags.writeable = False
    return placed, scaled


def _unit_solutions(ratio: float, spectrum: Spectrum) -> tuple[Floats, Floats]:
    """Phi at the Gauss nodes for the right-hand sides 1 and t^2."""
    t, dt = _gauss(_NODES, 1.0)
    x, amount = excess(spectrum)
    wave = np.cos(ratio * np.outer(t, x))
    kernel = 2.0 * ratio / np.pi * (wave * amount) @ wave.T
    sides = np.column_stack([np.ones_like(t), t**2])
    flat, bowl = np.linalg.solve(np.eye(t.size) + kernel * dt, sides).T
    return flat.astype(float), bowl.astype(float)


def _carried(phi: Floats, ratio: float, spectrum: Spectrum) -> tuple[Floats, Floats]:
    """Waves and the excess weighted with phi's cosine transform."""
    t, dt = _gauss(_NODES, 1.0)
    x, amount = excess(spectrum)
    return x, amount * (np.cos(ratio * np.outer(x, t)) @ (dt * phi))


def _edge(phi: Floats, ratio: float, spectrum: Spectrum) -> float:
    """Phi at t = 1, where both unit right-hand sides are one."""
    x, carried = _carried(phi, ratio, spectrum)
    return 1.0 - 2.0 * ratio / np.pi * float(np.cos(ratio * x) @ carried)


def _contact(
    phi: Floats,
    sink: float,
    curvature: float,
    contact_radius: float,
    thickness: float,
    modulus: float,
    spectrum: Spectrum,
) -> LayerContact:
    force = 2.0 * modulus * contact_radius * float(_gauss(_NODES, 1.0)[1] @ phi)
    waves, carried = _carried(phi, contact_radius / thickness, spectrum)
    return LayerContact(contact_radius, thickness, modulus, curvature, sink, force, waves, carried)
