"""One linearised system: tissue, contact and rim travel, factorised once and solved as often as needed.

Every touching node writes its two equations along (t, n). Its normal increment is known up to the rim's travel,
so the row and column of that increment become the identity's; the reaction is the row's residual. With the
travel d as the last unknown, increments are y = y0 + y_d * dd, and dd follows from the wanted travel or the
wanted axial force.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp

from labrum.meshes.arrays import Bools, Floats, Indices, Ints
from labrum.simulate.contact.signorini import Frame
from labrum.simulate.equilibrium.model import Model, State, contact_forces
from labrum.simulate.equilibrium.sparse import Solve
from labrum.simulate.tissue.condensation import Condensed, condense, recondense


@dataclass(frozen=True)
class Step:
    """A Newton increment: ``u`` (n, 2), ``p`` (e, 3), ``travel``, and (n, 2) linearised reactions along (t, n),
    N.
    """

    u: Floats
    p: Floats
    travel: float
    reaction: Floats


@dataclass(frozen=True)
class _Bases:
    """(n, 2, 2) trial and test directions of every node's two equations, as columns; the axes off contact."""

    trial: Floats
    test: Floats
    turned: Bools


@dataclass(frozen=True)
class _Constraints:
    """Per equation: is it prescribed, by how much, and at what rate per mm of travel; and the contact's own terms.

    ``bend`` is the curvature term on a tangential diagonal, ``bend_rate`` its coupling to the travel; ``axial``
    picks the axial force of the rim from the tested rows.
    """

    known: Bools
    increment: Floats
    rate: Floats
    bend: Floats
    bend_rate: Floats
    axial: Floats


@dataclass(frozen=True)
class Linearised:
    """A factorised system; `step_to_travel` and `step_to_force` solve it.

    ``per_travel`` is the increment per mm of the rim's travel, ``standing`` the increment with the rim standing
    still.
    """

    model: Model
    condensed: Condensed
    bases: _Bases
    constraints: _Constraints
    matrix: sp.csc_matrix
    tested: Floats
    solve: Solve
    per_travel: Floats
    standing: Floats
    stiffness: float

    def step_to_travel(self, increment: float) -> Step:
        """The increment that moves the rim by ``increment`` mm."""
        return self._step(None, increment)

    def step_to_force(self, force: float) -> Step:
        """The increment after which the linearised axial force is ``force`` N."""
        return self._step(force, None)

    def _step(self, force: float | None, travel: float | None) -> Step:
        outer, moved = self._bordered(self.tested, self.standing, force, travel)
        reaction = self.tested + self.matrix @ outer
        centre, pressure = self.condensed.interior(self._element_outer(outer))
        missing = self.model.missing_compliance
        if missing is not None:
            fixed_travel = None if travel is None else 0.0
            change = pressure
            for _ in range(3):  # iterative refinement: restore the exact volume constraint
                again = recondense(self.condensed, np.einsum("ekl,el->ek", missing, change))
                tested = self._tested(again)
                first = self.solve(np.where(self.constraints.known, 0.0, -tested))
                more, extra = self._bordered(tested, first, 0.0, fixed_travel)
                inner, change = again.interior(self._element_outer(more))
                outer, moved, reaction = outer + more, moved + extra, reaction + tested + self.matrix @ more
                centre, pressure = centre + inner, pressure + change
        u = np.einsum("nij,nj->ni", self.bases.trial, self.model.pattern.spread(outer))
        u[self.model.elements.grid.quads[:, 8]] = centre
        return Step(u, pressure, moved, self.model.pattern.spread(reaction))

    def _bordered(
        self, tested: Floats, first: Floats, force: float | None, travel: float | None
    ) -> tuple[Floats, float]:
        """Add to the answer ``first`` with the rim standing what the rim's own travel brings."""
        if travel is None:
            assert force is not None
            travel = (force + float(self.constraints.axial @ (tested + self.matrix @ first))) / self.stiffness
        return first + self.per_travel * travel, travel

    def _element_outer(self, outer: Floats) -> Floats:
        nodal = np.einsum("nij,nj->ni", self.bases.trial, self.model.pattern.spread(outer))
        return nodal[self.model.elements.grid.quads[:, :8]].reshape(-1, 16)

    def _tested(self, condensed: Condensed) -> Floats:
        loads = _turned_forces(self.model.elements.grid.quads, condensed.force, self.bases)
        return self.model.pattern.vector(loads)


def linearise(model: Model, state: State, frames: tuple[Frame, ...]) -> Linearised:
    """Assemble, and factorise by the model's solver; raises ``numpy.linalg.LinAlgError`` for a singular system."""
    elements, pattern = model.elements, model.pattern
    forces, matrices = elements.linearised(state.u, state.p)
    nodal = contact_forces(model, state, forces)
    condensed = model.air.added(state.u, condense(matrices, forces, model.bulk))
    del matrices  # half of the memory that a large grid takes by now
    bases = _bases(model, state, frames)
    matrix = pattern.matrix(_turned_blocks(elements.grid.quads, condensed.stiffness, bases))
    tested = pattern.vector(_turned_forces(elements.grid.quads, condensed.force, bases))
    condensed = replace(condensed, stiffness=condensed.stiffness[:0])  # assembled; a large grid's would fill memory
    matrix, tested = _with_springs(model, state, matrix, tested)
    constraints = _constraints(model, state, frames, nodal)
    masked = _masked(pattern.columns, matrix, constraints)
    rate, known, increment = constraints.rate, constraints.known, constraints.increment
    wanted = np.column_stack([
        np.where(known, rate, -constraints.bend_rate - matrix @ rate),
        np.where(known, increment, -tested - matrix @ increment),
    ])  # fmt: skip
    solve, answer = model.solver(masked, wanted)
    per_travel, standing = answer.T
    stiffness = float(-constraints.axial @ (matrix @ per_travel))
    return Linearised(model, condensed, bases, constraints, matrix, tested, solve, per_travel, standing, stiffness)


def _bases(model: Model, state: State, frames: tuple[Frame, ...]) -> _Bases:
    trial = np.tile(np.eye(2), (len(state.u), 1, 1))
    test, turned = trial.copy(), np.zeros(len(trial), bool)
    for pair, status, frame in zip(model.pairs, state.pairs, frames, strict=True):
        at, on = pair.nodes[status.active], status.active
        trial[at] = np.stack([frame.tangent[on], frame.normal[on]], axis=-1)
        test[at] = np.stack([frame.tested[on], frame.normal[on]], axis=-1)
        turned[at] = True
    return _Bases(trial, test, turned)


def _turned_blocks(quads: Ints, blocks: Floats, bases: _Bases) -> Floats:
    """Element matrices (e, 16, 16) with the rows and columns of touching nodes along their own directions."""
    some = np.nonzero(bases.turned[quads[:, :8]].any(axis=1))[0]
    left, right = bases.test[quads[some, :8]], bases.trial[quads[some, :8]]
    part = blocks[some].reshape(-1, 8, 2, 8, 2)
    part = np.einsum("eaki,eakbl->eaibl", left, part)
    out = blocks.copy()
    out[some] = np.einsum("eaibl,eblj->eaibj", part, right).reshape(-1, 16, 16)
    return out


def _turned_forces(quads: Ints, forces: Floats, bases: _Bases) -> Floats:
    some = np.nonzero(bases.turned[quads[:, :8]].any(axis=1))[0]
    out = forces.copy()
    part = np.einsum("eaki,eak->eai", bases.test[quads[some, :8]], forces[some].reshape(-1, 8, 2))
    out[some] = part.reshape(-1, 16)
    return out


def _constraints(model: Model, state: State, frames: tuple[Frame, ...], nodal: Floats) -> _Constraints:
    zeros = np.zeros_like(state.u)
    known, bend, bend_rate, axial = (zeros.copy() for _ in range(4))
    step, rate = zeros.copy(), zeros.copy()
    for pair, status, frame in zip(model.pairs, state.pairs, frames, strict=True):
        at, on = pair.nodes[status.active], status.active
        stuck = status.stuck[on]
        known[at] = np.column_stack([stuck, np.ones_like(stuck)])
        step[at] = np.column_stack([frame.slide[on], -frame.gap[on]])
        bend[at, 0] = np.where(stuck, 0.0, frame.bending(nodal[pair.nodes])[on])
        if pair.moving:
            tangent, normal = frame.tangent[on, 1], frame.normal[on, 1]
            rate[at] = np.column_stack([np.where(stuck, -tangent, 0.0), -normal])
            bend_rate[at, 0] = bend[at, 0] * tangent
            axial[at] = np.column_stack([tangent, normal - frame.mix[on] * tangent])
    gather = model.pattern.gather
    return _Constraints(
        gather(known) > 0, gather(step), gather(rate), gather(bend), gather(bend_rate), gather(axial)
    )


def _with_springs(model: Model, state: State, matrix: sp.csc_matrix, tested: Floats) -> tuple[sp.csc_matrix, Floats]:
    """Add the support's springs; they stand on nodes that no curve touches, so directions need no turning."""
    if not model.springs.any():
        return matrix, tested
    pattern = model.pattern
    stiffness = pattern.gather(np.repeat(model.springs[:, None], 2, axis=1))
    diagonal = matrix.indices == pattern.columns
    matrix.data[diagonal] += stiffness[pattern.columns[diagonal]]
    return matrix, tested + stiffness * pattern.gather(state.u)


def _masked(columns: Indices, matrix: sp.csc_matrix, constraints: _Constraints) -> sp.csc_matrix:
    """The matrix to factorise: curvature on the diagonal, prescribed rows and columns replaced by the
    identity's.
    """
    out = sp.csc_matrix((matrix.data.copy(), matrix.indices, matrix.indptr), shape=matrix.shape)
    known = constraints.known
    diagonal = matrix.indices == columns
    out.data[diagonal] += constraints.bend[columns[diagonal]]
    out.data[known[columns] | known[matrix.indices]] = 0.0
    out.data[diagonal & known[columns]] = 1.0
    return out
