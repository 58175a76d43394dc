"""Several elastic layers, bonded to one another, on a rigid base: their answer to a wave of pressure.

With displacements u_r = U J1(k r), u_z = V J0(k r) and tractions s_rz = k t J1(k r), s_zz = k s J0(k r) on a
level, linear elasticity is four equations along z,

    U' = k (V + t / G),                        V' = k ((1 - 2 nu) / (2 G (1 - nu)) s - nu / (1 - nu) U),
    t' = k (2 G / (1 - nu) U + nu / (1 - nu) s),                                                s' = -k t,

good up to nu = 0.5. The state is carried up from the base through each layer by the matrix exponential, which
closes because (A^2 - 1)^2 = 0. Derived here; the method is Thomson's and Haskell's, from memory. It yields
a spectrum L for ``layer.py`` and ``rings.py``: small strains, any number of layers.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.closed_forms.layer import Spectrum


def layered(
    thicknesses: Sequence[float],
    shear_moduli: Sequence[float],
    poisson_ratios: Sequence[float],
    slides: bool = False,
) -> Spectrum:
    """Spectrum of a stack of layers, listed from the punch's side to the base.

    Parameters
    ----------
    thicknesses, shear_moduli, poisson_ratios
        One each a layer: mm, MPa, up to 0.5.
    slides
        The last layer is free to slide on the base (but not to leave it) and not bonded.

    Returns
    -------
    Spectrum
        Relative to a half-space of the first layer, x = wave number times the first layer's thickness: so
        ``thickness`` and ``modulus`` wherever a spectrum is used are the first layer's.
    """
    first = thicknesses[0]
    modulus = 2.0 * shear_moduli[0] / (1.0 - poisson_ratios[0])

    stack = list(zip(thicknesses, shear_moduli, poisson_ratios, strict=True))

    def spectrum(x: Floats) -> Floats:
        state = np.zeros((*x.shape, 4, 2))
        # Free at the base: both tractions where it is bonded, sideways motion and push where it slides.
        state[..., 0 if slides else 2, 0] = state[..., 3, 1] = 1.0
        for h, shear, poisson in reversed(stack):
            state = _climb(x * h / first, shear, poisson) @ state
        # No shear on top: the share of the two columns, then motion over push.
        left, right = state[..., 2, 1], -state[..., 2, 0]
        motion = state[..., 1, 0] * left + state[..., 1, 1] * right
        push = state[..., 3, 0] * left + state[..., 3, 1] * right
        return 0.5 * modulus * motion / push

    return spectrum


def _climb(x: Floats, shear: float, poisson: float) -> Floats:
    """exp(x A) exp(-x) (..., 4, 4) for one layer, x = wave number times its thickness."""
    side = poisson / (1.0 - poisson)
    rates = np.array(
        [
            [0.0, 1.0, 1.0 / shear, 0.0],
            [-side, 0.0, 0.0, (1.0 - 2.0 * poisson) / (2.0 * shear * (1.0 - poisson))],
            [2.0 * shear / (1.0 - poisson), 0.0, 0.0, side],
            [0.0, 0.0, -1.0, 0.0],
        ]
    )
    own = np.eye(4)
    rest = rates @ rates - own
    fade = np.exp(-2.0 * x)[..., None, None]
    up, down, length = 0.5 * (1.0 + fade), 0.5 * (1.0 - fade), x[..., None, None]
    even = up * own + 0.5 * length * down * rest
    odd = down * own + 0.5 * (length * up - down) * rest
    return even + odd @ rates
