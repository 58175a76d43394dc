"""Air pressure on the free part of the back face: a follower load with its exact tangent.

The air pushes against the deformed face, whatever way it turns: on an edge with tangent (r', z') the force on
node a over the full circle is p * integral of N_a 2 pi r (-z', r') d(xi), which points into the tissue when the
edge runs outwards along the back. Source: the principle of virtual work; compare Bonet & Wood 2008, *Nonlinear
Continuum Mechanics for Finite Element Analysis*, section 8.5 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.grids.grid import Grid
from labrum.meshes.grids.quadratic import EDGES, edge_functions, edge_rule
from labrum.simulate.tissue.condensation import Condensed

EDGE = EDGES[0]  # local nodes of an element's bottom edge, from the axis outwards
GAUSS, WEIGHTS = edge_rule(4)
SHAPE, SLOPE = edge_functions(GAUSS)
LOCAL = np.stack([2 * EDGE, 2 * EDGE + 1], axis=-1).ravel()


@dataclass(frozen=True)
class AirPressure:
    """Pressure (MPa) on the back edges of ``elements`` (m,), numbers of bottom-row elements."""

    grid: Grid
    elements: Ints
    pressure: float

    @classmethod
    def behind(cls, grid: Grid, radius: float, pressure: float) -> AirPressure:
        """Air behind the lip within ``radius`` mm at rest (a grid column must stand there)."""
        inside = grid.columns[1:] <= radius + 1e-9
        return cls(grid, np.nonzero(inside)[0] * (len(grid.rows) - 1), pressure)

    def nodal_forces(self, u: Floats) -> Floats:
        """(n, 2) forces of the air on the tissue, N."""
        out = np.zeros_like(u)
        if self.pressure and len(self.elements):
            np.add.at(out, self._nodes, self._edge_forces(u))
        return out

    def added(self, u: Floats, condensed: Condensed) -> Condensed:
        """Element systems with the air's share taken off: it acts on edges, so nothing that was eliminated feels it."""
        if not self.pressure or not len(self.elements):
            return condensed
        force, stiffness = condensed.force.copy(), condensed.stiffness.copy()
        force[self.elements[:, None], LOCAL] -= self._edge_forces(u).reshape(-1, 6)
        stiffness[self.elements[:, None, None], LOCAL[:, None], LOCAL] -= self._edge_tangents(u)
        return replace(condensed, force=force, stiffness=stiffness)

    @property
    def _nodes(self) -> Ints:
        return self.grid.quads[self.elements][:, EDGE]

    def _edge_forces(self, u: Floats) -> Floats:
        place = (self.grid.nodes + u)[self._nodes]
        radius, slope = place[..., 0] @ SHAPE.T, np.einsum("ga,mai->mgi", SLOPE, place)
        push = np.stack([-slope[..., 1], slope[..., 0]], axis=-1)
        return 2 * np.pi * self.pressure * np.einsum("g,ga,mg,mgi->mai", WEIGHTS, SHAPE, radius, push)

    def _edge_tangents(self, u: Floats) -> Floats:
        """(m, 6, 6) derivative of the edge forces with respect to the edge's displacements."""
        place = (self.grid.nodes + u)[self._nodes]
        radius, slope = place[..., 0] @ SHAPE.T, np.einsum("ga,mai->mgi", SLOPE, place)
        push = np.stack([-slope[..., 1], slope[..., 0]], axis=-1)
        out = np.zeros((len(place), 3, 2, 3, 2))
        out[..., 0] += np.einsum("g,ga,gb,mgi->maib", WEIGHTS, SHAPE, SHAPE, push)
        turn = np.einsum("g,ga,mg,gb->mab", WEIGHTS, SHAPE, radius, SLOPE)
        out[:, :, 0, :, 1] -= turn
        out[:, :, 1, :, 0] += turn
        return 2 * np.pi * self.pressure * out.reshape(-1, 6, 6)
