"""What is solved for, on what: tissue, supports, contact pairs, air; and the state they are in."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.curves.curve import Nearest
from labrum.meshes.grids.grid import Grid
from labrum.simulate.contact.air import AirPressure
from labrum.simulate.contact.signorini import Pair, PairState
from labrum.simulate.equilibrium.sparse import Solver, standard_solvers
from labrum.simulate.tissue.condensation import Pattern, missing_compliance, regularised_bulk
from labrum.simulate.tissue.elements import ElementForces, Elements


@dataclass(frozen=True)
class SpringPlaces:
    """Springs as a share of element matrices: each (k,) ``element``, its outer displacement, and N/mm."""

    element: Ints
    displacement: Ints
    stiffness: Floats

    @classmethod
    def of(cls, grid: Grid, springs: Floats) -> SpringPlaces:
        """Give every sprung component (n, 2), which is no centre node's, to one of the elements that hold it."""
        node, component = np.nonzero(springs)
        places, holder = grid.quads[:, :8].ravel(), np.zeros(len(grid.nodes), np.int64)
        holder[places[::-1]] = np.arange(len(places))[::-1]  # what is written last stands: the first that holds it
        place = holder[node]
        return cls(place // 8, 2 * (place % 8) + component, springs[node, component])


@dataclass(frozen=True)
class Model:
    """Everything that does not change during an iteration. The first of ``pairs`` is the rim.

    ``springs`` (n, 2) N/mm hold each component of nodes where the support behind the lip begins and where the tissue
    goes on (see `labrum.simulate.contact.supports`, `labrum.simulate.contact.surroundings`).
    They carry nothing at displacements ``slack`` (n, 2) mm.
    ``solvers`` are tried in turn on every linear system (see `labrum.simulate.equilibrium.sparse`).
    """

    elements: Elements
    pattern: Pattern
    pairs: tuple[Pair, ...]
    air: AirPressure
    springs: Floats
    solvers: tuple[Solver, ...] = field(default_factory=standard_solvers)
    slack: Floats | float = 0.0

    @cached_property
    def bulk(self) -> Floats:
        """(e, 3, 3) what pressures are eliminated with; see `labrum.simulate.tissue.condensation`."""
        return regularised_bulk(self.elements.mass, self.elements.tissue.inverse_bulk, self.elements.tissue.shear)

    @cached_property
    def missing_compliance(self) -> Floats | None:
        """(e, 3, 3) compliance that elimination adds to layers that have less; None where there is none such."""
        tissue = self.elements.tissue
        return missing_compliance(self.elements.mass, tissue.inverse_bulk, tissue.shear)

    @cached_property
    def spring_places(self) -> SpringPlaces | None:
        """Where the springs' stiffness enters the element matrices; None where there are no springs."""
        return SpringPlaces.of(self.elements.grid, self.springs) if self.springs.any() else None

    @property
    def unknowns(self) -> int:
        """Displacement components solved for, centre nodes included, plus the rim's travel."""
        return int((~self.pattern.fixed).sum()) + 1


@dataclass(frozen=True)
class State:
    """Displacements ``u`` (n, 2) mm, pressures ``p`` (e, 3) MPa, the rim's ``travel`` mm, and the contact of
    each pair.
    """

    u: Floats
    p: Floats
    travel: float
    pairs: tuple[PairState, ...]


def look(model: Model, state: State) -> tuple[Nearest, ...]:
    """What every pair sees at the current positions."""
    places = model.elements.grid.nodes + state.u
    return tuple(pair.look(places[pair.nodes], state.travel) for pair in model.pairs)


def contact_forces(model: Model, state: State, forces: ElementForces) -> Floats:
    """(n, 2) internal and spring minus air forces, N: at equilibrium, what contact and rigid supports exert."""
    inner = model.elements.nodal_sums(forces.force)
    return inner + model.springs * (state.u - model.slack) - model.air.nodal_forces(state.u)


def rim_force(model: Model, state: State, forces: ElementForces) -> float:
    """Axial force of the rim on the tissue, N, positive when it presses."""
    return rim_share(model, state, contact_forces(model, state, forces))


def rim_share(model: Model, state: State, nodal: Floats) -> float:
    """The rim's axial force, N, out of the nodal forces (n, 2) that `contact_forces` gives."""
    return float(-nodal[model.pairs[0].nodes[state.pairs[0].active], 1].sum())
