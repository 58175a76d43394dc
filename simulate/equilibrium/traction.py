"""From nodal reactions to pressure on the deformed surface.

The nodal reaction is the integral of pressure times shape function over the full circle, so the pressure is
recovered by solving with the surface's consistent mass matrix over the touching nodes: third order in the
element length, where reaction over area alone is second order and alternates between corners and midsides. Both
are kept: their difference tells how well the peak is resolved.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.grids.quadratic import edge_polynomial, edges_along
from labrum.simulate.contact.air import SHAPE, SLOPE, WEIGHTS
from labrum.simulate.contact.signorini import Pair, PairState
from labrum.simulate.equilibrium.model import Model, State, contact_forces, look


@dataclass(frozen=True)
class Traction:
    """Contact of one pair, one row a surface node from the axis outwards.

    ``place`` (k, 2) mm; ``normal`` (k, 2) from the curve into the tissue; ``foot`` (k,) arc length on the
    curve; ``gap`` (k,) mm; ``reaction``, ``drag`` (k,) normal and tangential nodal force, N; ``pressure``,
    ``shear`` (k,) MPa, zero where nothing touches; ``raw`` (k,) reaction over area, MPa; ``active`` (k,).
    """

    place: Floats
    normal: Floats
    foot: Floats
    gap: Floats
    reaction: Floats
    drag: Floats
    pressure: Floats
    shear: Floats
    raw: Floats
    active: Bools


def traction(model: Model, state: State, which: int = 0) -> Traction:
    """Pressure and shear on the nodes of pair ``which`` (0 is the rim) in an equilibrium."""
    pair, status, seen = model.pairs[which], state.pairs[which], look(model, state)[which]
    nodal = contact_forces(model, state, model.elements.forces(state.u, state.p))[pair.nodes]
    tangent = np.column_stack([-seen.normal[:, 1], seen.normal[:, 0]])
    reaction = np.where(status.active, np.einsum("ki,ki->k", seen.normal, nodal), 0.0)
    drag = np.where(status.active, np.einsum("ki,ki->k", tangent, nodal), 0.0)
    place = _places(model, state, pair)
    mass = surface_mass(place)
    area = mass.sum(axis=1)
    pressure = _recovered(mass, reaction, status)
    return Traction(
        place, seen.normal, seen.arc_length, seen.distance, reaction, drag,
        pressure, _recovered(mass, drag, status), _raw(reaction, area, pressure), status.active,
    )  # fmt: skip


def surface_mass(place: Floats) -> Floats:
    """Mass matrix (k, k), mm2, of the quadratic surface through ``place`` (k, 2), over the full circle."""
    nodes = edges_along(len(place))
    triples = place[nodes]
    slope = np.einsum("ga,eai->egi", SLOPE, triples)
    weight = 2.0 * np.pi * WEIGHTS * np.hypot(slope[..., 0], slope[..., 1]) * (triples[..., 0] @ SHAPE.T)
    blocks = np.einsum("eg,ga,gb->eab", weight, SHAPE, SHAPE)
    mass = np.zeros((len(place), len(place)))
    for part in (slice(0, None, 2), slice(1, None, 2)):  # edges two apart share no node
        mass[nodes[part, :, None], nodes[part, None, :]] += blocks[part]
    return mass


def peak(values: Floats, active: Bools) -> tuple[float, float]:
    """Largest value of the quadratic interpolant of nodal ``values`` (k,), and where: fractional node index."""
    if not active.any():
        return 0.0, 0.0
    edges = edges_along(len(values))
    middle, slope, bend = edge_polynomial(values[edges]).T
    with np.errstate(divide="ignore", invalid="ignore"):
        at = np.where(bend < 0.0, np.clip(-0.5 * slope / bend, -1.0, 1.0), np.where(slope > 0.0, 1.0, -1.0))
    top = middle + slope * at + bend * at**2
    best = int(np.argmax(top))
    return float(top[best]), float(edges[best, 1] + at[best])


def _places(model: Model, state: State, pair: Pair) -> Floats:
    return (model.elements.grid.nodes + state.u)[pair.nodes]


def _raw(reaction: Floats, area: Floats, pressure: Floats) -> Floats:
    """Reaction over area; the node on the axis stands for no area, and takes the recovered pressure."""
    whole = area > 1e-9 * area.max()
    return np.where(whole, reaction / np.where(whole, area, 1.0), pressure)


def _recovered(mass: Floats, forces: Floats, status: PairState) -> Floats:
    out = np.zeros(len(forces))
    on = status.active
    if on.any() and forces.any():
        out[on] = np.linalg.solve(mass[np.ix_(on, on)], forces[on])
    return out
