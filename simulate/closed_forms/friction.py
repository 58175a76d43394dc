"""A flat punch pressed into a half-space with Coulomb friction: where it sticks, and how stiff it is.

Under the punch the surface wants to creep inwards (nu < 1/2). It sticks out to a radius c and slips between
c and the edge a; c / a depends on the friction coefficient and Poisson's ratio only, not on the force, and,
the loading being self-similar, is the same for a sphere or any other power-law indenter that is pressed and
never unloaded (Spence, J. Elasticity 5 (1975) 297, from memory; the equations are derived again here).

With pressure p = -(1/r) d/dr int_r^1 t phi / sqrt(t^2 - r^2) dt, outward shear q = -d/dr int_r^1 psi /
sqrt(t^2 - r^2) dt, a unit punch and beta = (1 - 2 nu) / (2 (1 - nu)), the half-space gives

    phi(t) - (2 beta / pi) int_0^1 psi(s) s / (s^2 - t^2) ds = 2 / pi                        no gap
    psi(t) + (2 beta / pi) t int_0^1 phi(s) / (s^2 - t^2) ds = 0                 t < c       no radial motion
    psi(t) - (2 mu / pi) t int_t^1 p(r) / sqrt(r^2 - t^2) dr = 0                 t > c       slip, q = mu p

and c is where the two forms of psi meet, so that q stays finite. Leaving psi out of the first (Goodman's
approximation) makes phi constant and c / a a closed relation.

Force is told as a factor on the frictionless 2 E* a w = 4 G a w / (1 - nu). Small strains.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ellipkm1

from labrum.meshes.arrays import Floats

_STICK_RANGE = (0.1, 0.98)

@dataclass(frozen=True)
class FrictionalPunch:
    """``stick_ratio`` c / a and ``force_factor`` (force over the frictionless force at the same travel)."""

    stick_ratio: float
    force_factor: float


def coupling(poisson_ratio: float) -> float:
    """Dundurs' beta of a rigid punch on a half-space, (1 - 2 nu) / (2 (1 - nu)); 0 at nu = 1/2."""
    return (1.0 - 2.0 * poisson_ratio) / (2.0 * (1.0 - poisson_ratio))


def bonded_punch_factor(poisson_ratio: float) -> float:
    """Force factor of a punch that sticks all over: (1 - nu) ln(3 - 4 nu) / (1 - 2 nu).

    Mossakovskii 1954; Spence, Proc. R. Soc. A 305 (1968) 55 (both from memory).
    """
    if poisson_ratio == 0.5:
        return 1.0
    return (1.0 - poisson_ratio) * math.log(3.0 - 4.0 * poisson_ratio) / (1.0 - 2.0 * poisson_ratio)


def uncoupled_stick_ratio(friction: float, poisson_ratio: float) -> float:
    """Stick radius c / a by Goodman's approximation: (a / 2c) ln((a + c) / (a - c)) = (mu / beta) K'(c / a).

    K' is the complete elliptic integral of the complementary modulus sqrt(1 - c^2 / a^2). Spence 1975;
    Johnson, Contact Mechanics, 1985, section 5.4 (from memory). At nu = 0.3 its c / a is too large by 2 to 15
    per cent, most where least sticks; it becomes right towards nu = 1/2, where the punch sticks all over.
    """
    beta = coupling(poisson_ratio)
    if beta == 0.0:
        return 1.0

    def miss(y: float) -> float:
        # c = tanh y keeps its digits near 1, and ln((1 + c) / (1 - c)) is 2 y.
        c = math.tanh(y)
        return beta * y - friction * c * float(ellipkm1(c * c))

    smallest = 1e-150
    if miss(smallest) >= 0.0:
        return 0.0
    return math.tanh(float(brentq(miss, smallest, 2.0 + 4.0 * friction / beta, xtol=1e-14)))


def frictional_punch(friction: float, poisson_ratio: float, panels: int = 160) -> FrictionalPunch:
    """Stick radius and force with shear and pressure fully coupled.

    The error falls as 1 / ``panels`` squared, to about 1e-5 at 160. Raises ``ValueError`` where c / a would
    fall outside 0.1 to 0.98: there the frictionless and the bonded punch are the better checks.
    """
    beta = coupling(poisson_ratio)

    def excess(ratio: float) -> float:
        stick, slip = _meeting(ratio, friction, beta, panels)[:2]
        return stick - slip

    first, last = _STICK_RANGE
    if beta == 0.0 or excess(first) > 0.0 or excess(last) < 0.0:
        raise ValueError(f"nearly all slips or sticks: c / a is outside {first:g} to {last:g}")
    ratio = float(brentq(excess, first, last, xtol=1e-11))
    return FrictionalPunch(ratio, _meeting(ratio, friction, beta, panels)[2])


def _meeting(ratio: float, friction: float, beta: float, panels: int) -> tuple[float, float, float]:
    """Psi at c from the stuck and from the slipping side, and the force factor."""
    edges, edge_widths, middles, widths = _staggered(ratio, panels)
    bend = 2.0 * beta / np.pi * edges * edge_widths / (edges**2 - middles[:, None] ** 2)
    stuck = -2.0 * beta / np.pi * edges[:, None] * widths / (middles**2 - edges[:, None] ** 2)
    slipping = friction * _slip_rows(edges, panels)
    here = panels // 2 - 1
    rows = np.where((np.arange(edges.size) <= here)[:, None], stuck, slipping)
    phi = np.linalg.solve(np.eye(panels) - bend @ rows, np.full(panels, 2.0 / np.pi))
    return float(stuck[here] @ phi), float(slipping[here] @ phi), float(0.5 * np.pi * widths @ phi)


def _staggered(ratio: float, panels: int) -> tuple[Floats, Floats, Floats, Floats]:
    """Inner panel edges (psi's places) and panel middles (phi's), each with its quadrature widths.

    The two sets interleave evenly in a smooth variable, which makes the principal values plain sums of second
    order. The map puts the middle edge at ``ratio`` and crowds the panels towards the punch's edge.
    """
    middle = 1.0 - (1.0 - ratio) ** (1.0 / 3.0)
    lean = (1.0 - middle) / middle
    v = np.arange(2 * panels + 1) / (2.0 * panels)
    below = v + lean * (1.0 - v)
    rest = 1.0 - v / below
    place, width = 1.0 - rest**3, 3.0 * rest**2 * lean / below**2 / panels
    return place[2:-1:2], width[2:-1:2], place[1::2], width[1::2]


def _slip_rows(edges: Floats, panels: int) -> Floats:
    """Matrix from phi to psi / mu where the punch slips.

    A phi constant on each panel steps at the edges, and a step at s gives int p / sqrt = K'(t / s) / s; the
    step at t itself counts half.
    """
    ends = np.append(edges, 1.0)
    share = np.minimum(edges[:, None] / ends, 1.0)
    steps = ellipkm1(share**2) / ends * np.where(share < 1.0, 1.0, 0.5)
    steps *= ends >= edges[:, None]
    return 2.0 / np.pi * edges[:, None] * (steps @ (np.eye(panels) - np.eye(panels, k=1)))
