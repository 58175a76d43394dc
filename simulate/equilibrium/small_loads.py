"""What a body in equilibrium answers to small nodal forces: the rim stands still, contact is held.

The tangent is the exact one of the equilibrium, factorised once: tissue with its pressures and centre nodes eliminated,
supports, air that follows, and the bending of the contact along the rim. Touching nodes go on touching and slide along
the curve, or do not slide, as the state's contact says.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.contact.signorini import frame_of
from labrum.simulate.equilibrium.linearised import linearise
from labrum.simulate.equilibrium.model import Model, State, look
from labrum.simulate.equilibrium.sparse import Solve, factorise
from labrum.simulate.equilibrium.system import System
from labrum.simulate.tissue.condensation import Condensed, recondense, under_forces, with_interior

REFINEMENTS = 3  # of the volume constraint of layers without compliance


@dataclass(frozen=True)
class SmallLoads:
    """A factorised tangent; `displacements` solves it. See `labrum.simulate.equilibrium.system` for ``system``."""

    model: Model
    condensed: Condensed
    system: System
    solve: Solve

    @classmethod
    def on(cls, model: Model, state: State) -> SmallLoads:
        """Linearise about an equilibrium; raises ``numpy.linalg.LinAlgError`` where the tangent is singular."""
        pairs = zip(model.pairs, state.pairs, look(model, state), strict=True)
        found = linearise(model, state, tuple(frame_of(*pair) for pair in pairs))
        return cls(model, found.condensed, found.system, found.solve)

    def symmetrised(self) -> SmallLoads:
        """The symmetric part of the tangent: what stores energy. Itself where nothing is unsymmetric.

        Air on an edge of the tissue, and with a share that varies, leaves a small skew part, which does work round a
        closed path. Raises ``numpy.linalg.LinAlgError`` where the symmetric part is singular.
        """
        if self.system.symmetric:
            return self
        stiffness = 0.5 * (self.condensed.stiffness + self.condensed.stiffness.swapaxes(1, 2))
        system = replace(self.system, stiffness=stiffness, skew=np.zeros_like(self.system.skew))
        sideways = np.where(system.known, 0.0, 1.0)[None]
        solve = factorise(system, sideways, self.model.solvers)[0]
        return SmallLoads(self.model, replace(self.condensed, stiffness=stiffness), system, solve)

    def displacements(self, forces: Floats) -> Floats:
        """(n, 2) mm under small forces (n, 2) N on any nodes, centre nodes too; exact in incompressible layers."""
        grid = self.model.elements.grid
        outer = forces.copy()
        outer[grid.quads[:, 8]] = 0.0
        u, pressure = self._moved(under_forces(self.condensed, forces[grid.quads[:, 8]]), outer)
        missing = self.model.missing_compliance
        if missing is not None:
            for _ in range(REFINEMENTS):
                lacking = recondense(self.condensed, np.einsum("ekl,el->ek", missing, pressure))
                more, pressure_change = self._moved(lacking, np.zeros_like(forces))
                u, pressure = u + more, pressure_change
        return u

    def _moved(self, condensed: Condensed, outer: Floats) -> tuple[Floats, Floats]:
        elements, directions = self.model.elements, self.system.directions
        wanted = outer - elements.nodal_sums(condensed.force.reshape(-1, 8, 2))
        wanted = np.where(self.system.known, 0.0, directions.along_test(wanted))
        answer = directions.from_trial(self.solve(wanted[None])[0])
        return with_interior(elements, condensed, answer)

