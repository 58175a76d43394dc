"""Carrying a state from one grid to another.

The tissue is elastic: its resting shape is the only memory, so a new grid over the same resting lip needs the
old displacement and pressure as a first guess only, and equilibrium is sought again. Friction's memory is the
foot of each touching node on the curve, carried along the surface without a kink: what sticks would keep one, and
show it as a spike of pressure on a finer grid.
"""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.grids.grid import Grid, located
from labrum.meshes.grids.interpolation import monotone
from labrum.meshes.grids.quadratic import edge_rule, shape_functions
from labrum.simulate.contact.signorini import PairState
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.tissue.elements import Q

FROM_POINTS = np.linalg.pinv(Q).T  # (9, 3) from values at the integration points to pressure coefficients
GAUSS = edge_rule(3)[0]


def displacement_at(grid: Grid, u: Floats, points: Floats) -> Floats:
    """Displacement (k, 2) of resting points (k, 2) from nodal displacements (n, 2)."""
    element, local = grid.locate(points)
    return np.einsum("ka,kai->ki", shape_functions(local)[0], u[grid.quads[element]])


def transferred(old: Model, state: State, new: Model) -> State:
    """The old state read off at the new grid's nodes and elements."""
    before, after = old.elements.grid, new.elements.grid
    u = _moved_nodes(before, state.u, after)
    u[new.pattern.fixed] = 0.0
    pairs = tuple(
        _carried(before.nodes[a.nodes, 0], s, after.nodes[b.nodes, 0])
        for a, b, s in zip(old.pairs, new.pairs, state.pairs, strict=True)
    )
    return State(u, _fitted_pressure(before, state.p, after), state.travel, pairs)


def _moved_nodes(before: Grid, u: Floats, after: Grid) -> Floats:
    """Displacements (n, 2) of another grid's nodes: both grids being tensor grids, one direction after the other."""
    across = _interpolation(before.columns, after.node_columns)
    along = _interpolation(before.rows, after.node_rows)
    values = u.reshape(before.nodes_per_row, before.nodes_per_column, 2)
    return np.tensordot(across, along @ values, axes=1).reshape(-1, 2)


def _interpolation(lines: Floats, places: Floats) -> Floats:
    """(k, 2 lines - 1) weights of the nodes along one side, midsides included, at ``places`` (k,)."""
    interval, x = located(lines, places)
    out = np.zeros((len(places), 2 * len(lines) - 1))
    at = 2 * interval[:, None] + np.arange(3)
    np.put_along_axis(out, at, np.column_stack([0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0)]), axis=1)
    return out


def _fitted_pressure(before: Grid, p: Floats, after: Grid) -> Floats:
    """Least-squares linear pressure per new element through the old pressure at its integration points."""
    column, xi = located(before.columns, _gauss_places(after.columns))
    row, eta = located(before.rows, _gauss_places(after.rows))
    mean, across, along = np.moveaxis(p.reshape(len(before.columns) - 1, -1, 3)[np.ix_(column, row)], -1, 0)
    values = mean + across * xi[:, None] + along * eta
    each = values.reshape(-1, 3, len(after.rows) - 1, 3).swapaxes(1, 2).reshape(-1, 9)
    return each @ FROM_POINTS


def _gauss_places(lines: Floats) -> Floats:
    """(3 (lines - 1),) integration points of every interval, one interval after the other."""
    middle, half = 0.5 * (lines[1:] + lines[:-1]), 0.5 * np.diff(lines)
    return (middle[:, None] + half[:, None] * GAUSS).ravel()


def _carried(old_places: Floats, status: PairState, places: Floats) -> PairState:
    def nearest(values: Floats | Bools) -> Floats:
        return np.interp(places, old_places, values.astype(float))

    active = nearest(status.active) > 0.5
    direction = np.sign(nearest(status.direction))
    stuck = active & (nearest(status.stuck) > 0.5)
    held = stuck & (nearest(status.held) > 0.5)
    anchor = monotone(old_places, status.anchor, places)
    return PairState(active, stuck, direction, anchor, held, np.where(stuck, nearest(status.caught), 0.0))
