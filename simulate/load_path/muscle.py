r"""The ring muscle: how far it reaches, how hard it pulls and how much it stiffens.

The muscle of the lips (orbicularis oris) is a ring of limited reach. Its nominal hoop stress S and the stiffness it
adds are multiplied by the ring's share of the tissue, 1 inside its outer radius and none beyond `FADE_MM` further out;
a smooth fade (3 t^2 - 2 t^3), so that no grid sees a jump and the answer does not hang on where columns fall.

A contracting muscle is also stiffer: at activation a its shear modulus, c2 and c3 are those of the passive layer times
1 + k a, k the layer's ``active_stiffening``. Poisson's ratio is kept: it says how nearly incompressible the tissue is
against its own shear stiffness, and must not fall because that rises. Moduli are constants of an element, so an
element that lies in the fade takes the mean share over its volume: as smooth as the fade itself, and right to second
order in the element's width.

Rings around the axis itself cannot pull: with a hoop stress S down to r = 0 equilibrium, d(sigma_r)/dr = S / r,
asks for a pressure that grows without bound as ln r. A lip without an opening is therefore passive on the axis, and
its rings fade in over `FADE_MM` from there, as the fibres of both corners cross in the middle of a closed mouth.
"""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.grids.grid import Grid
from labrum.simulate.problem import Lip
from labrum.simulate.tissue.elements import POINTS, WEIGHTS
from labrum.simulate.tissue.fading import FADE_MM, smooth_rise
from labrum.simulate.tissue.law import Tissue, bulk_modulus


def ring_share(radius: Floats, outer: Floats | float, opening: float) -> Floats:
    """Share of the muscle in the tissue at resting ``radius``, mm, of a ring that reaches to ``outer``, mm."""
    share = smooth_rise((outer + FADE_MM - radius) / FADE_MM)
    return share * smooth_rise(radius / FADE_MM) if opening == 0.0 else share


def tissue_of(lip: Lip, grid: Grid, activation: float) -> Tissue:
    """Material constants of a grid's elements with the muscle active: (e, 1), the active stress (e, 9)."""

    def spread(values: list[float]) -> Floats:
        return np.array(values)[grid.layer][:, None]

    radius = grid.origins[:, :1] + 0.5 * grid.sizes[:, :1] * POINTS[:, 0]
    share = ring_share(radius, spread([k.muscle_outer_radius for k in lip.layers]), lip.opening_radius)
    mean = np.sum(share * radius * WEIGHTS, axis=1) / np.sum(radius * WEIGHTS, axis=1)
    slope = spread([k.active_stiffening if k.muscle else 0.0 for k in lip.layers])
    stiffer = 1.0 + activation * slope * mean[:, None]
    return Tissue(
        shear=stiffer * spread([k.shear_modulus for k in lip.layers]),
        second=stiffer * spread([k.stiffening[0] for k in lip.layers]),
        third=stiffer * spread([k.stiffening[1] for k in lip.layers]),
        inverse_bulk=spread([1.0 / bulk_modulus(k.shear_modulus, k.poisson_ratio) for k in lip.layers]) / stiffer,
        active=activation * spread([k.active_stress if k.muscle else 0.0 for k in lip.layers]) * share,
    )
