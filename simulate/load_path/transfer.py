"""Carrying a state from one grid to another.

The tissue is elastic: its resting shape is the only memory, so a new grid over the same resting lip needs the
old displacement and pressure as a first guess only, and equilibrium is sought again. Friction's memory is the
foot of each touching node on the curve, carried along the surface.
"""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.grids.grid import Grid
from labrum.meshes.grids.quadratic import pressure_functions, shape_functions
from labrum.simulate.contact.signorini import PairState
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.tissue.elements import POINTS, Q


def displacement_at(grid: Grid, u: Floats, points: Floats) -> Floats:
    """Displacement (k, 2) of resting points (k, 2) from nodal displacements (n, 2)."""
    element, local = grid.locate(points)
    return np.einsum("ka,kai->ki", shape_functions(local)[0], u[grid.quads[element]])


def pressure_at(grid: Grid, p: Floats, points: Floats) -> Floats:
    """Pressure (k,) at resting points (k, 2) from element coefficients (e, 3)."""
    element, local = grid.locate(points)
    return np.einsum("kj,kj->k", pressure_functions(local), p[element])


def transferred(old: Model, state: State, new: Model) -> State:
    """The old state read off at the new grid's nodes and elements."""
    before, after = old.elements.grid, new.elements.grid
    u = displacement_at(before, state.u, after.nodes)
    u[new.pattern.fixed] = 0.0
    pairs = tuple(
        _carried(before.nodes[a.nodes, 0], s, after.nodes[b.nodes, 0])
        for a, b, s in zip(old.pairs, new.pairs, state.pairs, strict=True)
    )
    return State(u, _fitted_pressure(before, state.p, after), state.travel, pairs)


def _fitted_pressure(before: Grid, p: Floats, after: Grid) -> Floats:
    """Least-squares linear pressure per new element through the old pressure at its integration points."""
    points = after.origins[:, None, :] + 0.5 * after.sizes[:, None, :] * POINTS
    values = pressure_at(before, p, points.reshape(-1, 2)).reshape(-1, 9)
    return values @ np.linalg.pinv(Q).T


def _carried(old_places: Floats, status: PairState, places: Floats) -> PairState:
    def nearest(values: Floats | Bools) -> Floats:
        return np.interp(places, old_places, values.astype(float))

    active = nearest(status.active) > 0.5
    direction = np.sign(nearest(status.direction))
    stuck = active & (nearest(status.stuck) > 0.5)
    return PairState(active, stuck, direction, nearest(status.anchor))
