"""A flat neo-Hookean disc, held at its rim, blown up by pressure: large-strain membrane theory.

The equations of Adkins and Rivlin (Phil. Trans. R. Soc. A 244 (1952) 505; from memory), for rest radius R:

    r' = l1 cos(psi),                          z' = -l1 sin(psi),
    (R N1 cos(psi))' = N2 - p r l1 sin(psi),   R N1 sin(psi) = p r^2 / 2,

l1 the meridional and l2 = r / R the hoop stretch, psi the meridian's slope, N1 and N2 the tensions per rest
length, N1 = mu H (l1 - 1 / (l1^3 l2^2)), N2 = mu H (l2 - 1 / (l2^3 l1^2)), H the rest thickness,
incompressible. The second row is the balance of an element along r and of the cap along the axis. Lengths
scale out, so a meridian is shot from the pole at unit pressure and the place where l2 comes back to 1 is
made the held rim.

Bending is left out: a real disc of thickness H and radius A departs from this near the held rim.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from labrum.meshes.arrays import Floats


@dataclass(frozen=True)
class Membrane:
    """An inflated disc: ``pressure`` MPa; from pole to rim (n,) ``rest`` radius, ``r`` and ``z`` in mm.

    ``meridional`` and ``hoop`` (n,) are the stretches; z is the height above the rim.
    """

    pressure: float
    rest: Floats
    r: Floats
    z: Floats
    meridional: Floats
    hoop: Floats

    @property
    def height(self) -> float:
        """Rise of the pole above the rim, mm."""
        return float(self.z[0])


def inflated_membrane(
    pole_stretch: float, radius: float, thickness: float, shear_modulus: float, points: int = 201
) -> Membrane:
    """Disc of rest ``radius`` and ``thickness`` (mm), its pole stretched by ``pole_stretch``.

    The pole's stretch (above 1), not the pressure, leads: a neo-Hookean disc passes a largest pressure.
    """

    def home(rest: float, state: Floats) -> float:
        return float(state[0] - rest)

    home.terminal, home.direction = True, -1  # type: ignore[attr-defined]
    # A whisker off the pole, beside a rim at about 27 (stretch - 1)^1.5: the error is its ratio squared.
    start = 1e-4 * min(pole_stretch - 1.0, 1.0) ** 1.5
    tension = _tension(pole_stretch, pole_stretch)
    first = [pole_stretch * start, start * tension, 0.0]
    small = 1e-10 * first[1]
    shot = solve_ivp(
        _meridian, (start, 1e3), first, "DOP853", events=home, dense_output=True, rtol=1e-11, atol=small
    )
    if not shot.t_events[0].size:
        raise ValueError(f"no rim is met at a pole stretch of {pole_stretch:g}")
    rim = float(shot.t_events[0][0])
    rest = np.linspace(start, rim, points)
    r, held, z = shot.sol(rest)
    hoop = r / rest
    load = np.hypot(held, 0.5 * r**2) / rest
    meridional = np.array([_meridional_stretch(n, q) for n, q in zip(load, hoop, strict=True)])
    scale = radius / rim
    pressure = shear_modulus * thickness / scale
    return Membrane(pressure, scale * rest, scale * r, scale * (z - z[-1]), meridional, hoop)


def pressed_membrane(
    pressure: float, radius: float, thickness: float, shear_modulus: float, largest_stretch: float = 1.3
) -> Membrane:
    """Disc at a given ``pressure``, on the rising branch up to a pole stretch of ``largest_stretch``."""

    def miss(pole: float) -> float:
        return inflated_membrane(pole, radius, thickness, shear_modulus, 2).pressure - pressure

    pole = float(brentq(miss, 1.0 + 1e-7, largest_stretch, xtol=1e-13))
    return inflated_membrane(pole, radius, thickness, shear_modulus)


def _meridian(rest: float, state: Floats) -> list[float]:
    """Rates of r, of R N1 cos(psi) and of z; unit pressure and unit mu H."""
    r, held, _ = state
    lift = 0.5 * r**2
    load = float(np.hypot(held, lift))
    hoop = r / rest
    along = _meridional_stretch(load / rest, hoop)
    rise = along * lift / load
    return [along * held / load, _tension(hoop, along) - r * rise, -rise]


def _tension(own: float, other: float) -> float:
    """Tension per rest length over mu H along the direction of stretch ``own``."""
    return own - 1.0 / (own**3 * other**2)


def _meridional_stretch(tension: float, hoop: float) -> float:
    """Stretch at which the meridional tension is ``tension``: Newton on a rising, hollow-down curve."""
    own = 1.0 / np.sqrt(hoop)
    for _ in range(100):
        step = (_tension(own, hoop) - tension) / (1.0 + 3.0 / (own**4 * hoop**2))
        own -= step
        if abs(step) < 1e-15 * own:
            break
    return float(own)
