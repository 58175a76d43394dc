"""Breath on the faces it reaches: a follower load with its exact tangent.

The air pushes against the deformed face, whatever way it turns: on an edge with tangent (r', z') the force on
node a over the full circle is the integral of p N_a 2 pi r (-z', r') d(xi), which points into the tissue when the
tissue lies on the left of the way along the edge. Source: the principle of virtual work; compare Bonet & Wood 2008,
*Nonlinear Continuum Mechanics for Finite Element Analysis*, section 8.5 (from memory). Which faces the breath of a
living lip reaches, `labrum.simulate.contact.breath` says.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.grids.grid import Grid
from labrum.meshes.grids.quadratic import EDGES, edge_functions, edge_rule
from labrum.simulate.tissue.condensation import Condensed

BOTTOM = EDGES[0]  # local nodes of an element's bottom edge, from the axis outwards
INNER = EDGES[3]  # local nodes of an element's inner edge, from the skin to the back
GAUSS, WEIGHTS = edge_rule(4)
SHAPE, SLOPE = edge_functions(GAUSS)


@dataclass(frozen=True)
class AirPressure:
    """Air on edges of elements.

    ``elements`` (m,) numbers of elements; ``edges`` (m, 3) the local nodes of each one's edge, tissue on the left;
    ``share`` (m, 4) of ``pressure`` (MPa) at the edge's Gauss points, fixed to the tissue.
    """

    grid: Grid
    elements: Ints
    edges: Ints
    share: Floats
    pressure: float

    @classmethod
    def nowhere(cls, grid: Grid) -> AirPressure:
        """Air on no face."""
        none = np.zeros(0, dtype=np.int64)
        return cls(grid, none, none.reshape(0, 3), np.zeros((0, len(GAUSS))), 0.0)

    @classmethod
    def behind(cls, grid: Grid, radius: float, pressure: float) -> AirPressure:
        """Air behind the lip within ``radius`` mm at rest (a grid column must stand there)."""
        columns = np.nonzero(grid.columns[1:] <= radius + 1e-9)[0]
        whole = np.ones((len(columns), len(GAUSS)))
        return cls(grid, columns * (len(grid.rows) - 1), np.tile(BOTTOM, (len(columns), 1)), whole, pressure)

    def and_on(self, other: AirPressure) -> AirPressure:
        """Put air of the same pressure on the edges of ``other`` too, by its shares."""
        return replace(
            self,
            elements=np.concatenate([self.elements, other.elements]),
            edges=np.concatenate([self.edges, other.edges]),
            share=np.concatenate([self.share, other.share]),
        )

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
        at, local = self.elements, np.stack([2 * self.edges, 2 * self.edges + 1], axis=-1).reshape(-1, 6)
        # the element between back and opening has two edges in the air, so one index may come twice
        np.subtract.at(force, (at[:, None], local), self._edge_forces(u).reshape(-1, 6))
        np.subtract.at(stiffness, (at[:, None, None], local[:, :, None], local[:, None, :]), self._edge_tangents(u))
        return replace(condensed, force=force, stiffness=stiffness)

    @cached_property
    def _nodes(self) -> Ints:
        return self.grid.quads[self.elements[:, None], self.edges]

    @cached_property
    def _weights(self) -> Floats:
        """(m, 4) 2 pi times the pressure, MPa, times each Gauss point's weight."""
        return 2.0 * np.pi * self.pressure * self.share * WEIGHTS

    def _edge_forces(self, u: Floats) -> Floats:
        place = (self.grid.nodes + u)[self._nodes]
        radius, slope = place[..., 0] @ SHAPE.T, np.einsum("ga,mai->mgi", SLOPE, place)
        push = np.stack([-slope[..., 1], slope[..., 0]], axis=-1)
        return np.einsum("mg,ga,mgi->mai", self._weights * radius, SHAPE, push)

    def _edge_tangents(self, u: Floats) -> Floats:
        """(m, 6, 6) derivative of the edge forces with respect to the edge's displacements."""
        place = (self.grid.nodes + u)[self._nodes]
        radius, slope = place[..., 0] @ SHAPE.T, np.einsum("ga,mai->mgi", SLOPE, place)
        push = np.stack([-slope[..., 1], slope[..., 0]], axis=-1)
        out = np.zeros((len(place), 3, 2, 3, 2))
        out[..., 0] += np.einsum("mg,ga,gb,mgi->maib", self._weights, SHAPE, SHAPE, push, optimize=True)
        turn = np.einsum("mg,ga,gb->mab", self._weights * radius, SHAPE, SLOPE, optimize=True)
        out[:, :, 0, :, 1] -= turn
        out[:, :, 1, :, 0] += turn
        return out.reshape(-1, 6, 6)
