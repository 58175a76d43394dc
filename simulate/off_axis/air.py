r"""A follower pressure's change with one harmonic of the displacement.

On a face through x(xi, t) the air's force is p x,xi x x,t dxi dt. About the base state (r, z), with primes for d/dxi
and (U, V, W) as in `labrum.simulate.off_axis.waves`, its first variation is, per p dxi dt,

    r: -(r W' + z' (U + n V)) cos    theta: (n r' W - z' (n U + V)) sin    z: (r U' + r' (U + n V)) cos,

which at n = 0 is the tangent of `labrum.simulate.contact.air`. The air itself does not move: the pressure follows the
tissue.
"""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats, Ints
from labrum.simulate.contact.air import SHAPE, SLOPE, WEIGHTS, AirPressure
from labrum.simulate.off_axis.waves import circle_share


def air_tangents(air: AirPressure, u: Floats, order: int) -> Floats:
    """(m, 9, 9) derivative of the air's forces, N, on each loaded edge with respect to its nodes' (U, V, W), mm."""
    place = (air.grid.nodes + u)[air.grid.quads[air.elements[:, None], air.edges]]
    return edge_tangents(place, air.pressure * air.share, order)


def edge_tangents(place: Floats, pressure: Floats, order: int) -> Floats:
    """(m, 9, 9) the same for edges through ``place`` (m, 3, 2) mm under ``pressure`` (m, 4) MPa at their points."""
    n = float(order)
    r, slope = place[..., 0] @ SHAPE.T, np.einsum("ga,mai->mgi", SLOPE, place)
    stretch, lean = slope[..., 0], slope[..., 1]
    by_value = np.zeros((*r.shape, 3, 3))  # of (r, theta, z) with (U, V, W)
    by_value[..., 0, 0], by_value[..., 0, 1] = -lean, -n * lean
    by_value[..., 1, 0], by_value[..., 1, 1], by_value[..., 1, 2] = -n * lean, -lean, n * stretch
    by_value[..., 2, 0], by_value[..., 2, 1] = stretch, n * stretch
    by_slope = np.zeros((*r.shape, 3, 3))  # with (U', V', W')
    by_slope[..., 0, 2], by_slope[..., 2, 0] = -r, r
    weight = 2.0 * np.pi * circle_share(order) * WEIGHTS * pressure
    out = np.einsum("mg,ga,gb,mgij->maibj", weight, SHAPE, SHAPE, by_value)
    out += np.einsum("mg,ga,gb,mgij->maibj", weight, SHAPE, SLOPE, by_slope)
    return np.asarray(out.reshape(-1, 9, 9))


def loaded_unknowns(air: AirPressure) -> Ints:
    """(m, 9) places of each edge's (U, V, W) among the unknowns of its element, node by node."""
    return np.asarray((3 * air.edges[..., None] + np.arange(3)).reshape(-1, 9))
