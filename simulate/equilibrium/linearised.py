"""One linearised system: tissue, contact and rim travel, factorised once and solved as often as needed.

Every touching node writes its two equations along (t, n). Its normal increment is known up to the rim's travel,
so the row and column of that increment become the identity's; the reaction is the row's residual. With the
travel d as the last unknown, increments are y = y0 + y_d * dd, and dd follows from the wanted travel or the
wanted axial force. All vectors are nodal, (n, 2): see `labrum.simulate.equilibrium.system`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.simulate.contact.signorini import Frame
from labrum.simulate.equilibrium.model import Model, State, contact_forces
from labrum.simulate.equilibrium.sparse import Solve, factorise
from labrum.simulate.equilibrium.system import Directions, System
from labrum.simulate.tissue.condensation import Condensed, condensed_system, recondense, with_interior


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
class _Constraints:
    """Per component (n, 2): is it known, by how much, and at what rate per mm of travel; and the contact's own terms.

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
class _Response:
    """Increments (n, 2), and what the matrix, with nothing masked or added, makes of them."""

    outer: Floats
    made: Floats

    def __add__(self, other: _Response) -> _Response:
        return _Response(self.outer + other.outer, self.made + other.made)

    def __mul__(self, factor: float) -> _Response:
        return _Response(factor * self.outer, factor * self.made)


@dataclass(frozen=True)
class Linearised:
    """A factorised system; `step_to_travel` and `step_to_force` solve it.

    ``per_travel`` is the increment per mm of the rim's travel, ``standing`` the increment with the rim standing
    still; ``tested`` (n, 2) the forces along the test directions, N.
    """

    model: Model
    condensed: Condensed
    system: System
    constraints: _Constraints
    tested: Floats
    solve: Solve
    per_travel: _Response
    standing: _Response
    stiffness: float

    def with_forces_of(self, state: State, frames: tuple[Frame, ...], nodal: Floats, volume: Floats) -> Linearised:
        """The same matrix, and its factors, against the forces of a state close by, in which the same nodes touch.

        A step by it is one of the chord method (Ortega, Rheinboldt 1970, Iterative Solution of Nonlinear Equations in
        Several Variables, 7.1; from memory). ``frames``, ``nodal`` (n, 2) N and ``volume`` (e, 3) mm3 are that state's
        own, so that it ends where Newton's method does.
        """
        model, system = self.model, self.system
        centre = nodal[model.elements.grid.quads[:, 8]]
        condensed = recondense(self.condensed, volume, centre)
        constraints = _constraints(model, state, frames, nodal)
        tested = _tested(model, _directions(model, state, frames), condensed, nodal)
        given = constraints.increment[None]
        lift = _lift(system, given)
        answer = self.solve(np.where(constraints.known, given, -tested - lift))
        made = system.product(np.where(constraints.known, 0.0, answer)) + lift
        standing = _Response(answer[0], made[0])
        return replace(self, condensed=condensed, constraints=constraints, tested=tested, standing=standing)

    def step_to_travel(self, increment: float) -> Step:
        """The increment that moves the rim by ``increment`` mm."""
        return self._step(None, increment)

    def step_to_force(self, force: float) -> Step:
        """The increment after which the linearised axial force is ``force`` N."""
        return self._step(force, None)

    def _step(self, force: float | None, travel: float | None) -> Step:
        elements, directions = self.model.elements, self.system.directions
        response, moved = self._bordered(self.tested, self.standing, force, travel)
        reaction = self.tested + response.made
        u, pressure = with_interior(elements, self.condensed, directions.from_trial(response.outer))
        missing = self.model.missing_compliance
        if missing is not None:
            fixed_travel = None if travel is None else 0.0
            change = pressure
            for _ in range(3):  # iterative refinement: restore the exact volume constraint
                again = recondense(self.condensed, np.einsum("ekl,el->ek", missing, change))
                tested = _tested(self.model, directions, again)
                more, extra = self._bordered(tested, self._answer(tested), 0.0, fixed_travel)
                inner, change = with_interior(elements, again, directions.from_trial(more.outer))
                moved, reaction = moved + extra, reaction + tested + more.made
                u, pressure = u + inner, pressure + change
        return Step(u, pressure, moved, np.where(self.model.pattern.free, reaction, 0.0))

    def _bordered(
        self, tested: Floats, first: _Response, force: float | None, travel: float | None
    ) -> tuple[_Response, float]:
        """Add to the answer ``first`` with the rim standing what the rim's own travel brings."""
        if travel is None:
            assert force is not None
            travel = (force + float(np.vdot(self.constraints.axial, tested + first.made))) / self.stiffness
        return first + self.per_travel * travel, travel

    def _answer(self, tested: Floats) -> _Response:
        """The increment that forces ``tested`` (n, 2) call for, all that is known standing still."""
        outer = self.solve(np.where(self.constraints.known, 0.0, -tested)[None])
        return _Response(outer[0], self.system.product(outer)[0])


def linearise(
    model: Model, state: State, frames: tuple[Frame, ...], nodal: Floats | None = None
) -> Linearised:
    """Assemble and factorise; raises ``numpy.linalg.LinAlgError`` where the system is singular.

    ``nodal`` (n, 2) are the state's `labrum.simulate.equilibrium.model.contact_forces`, where they are known already.
    """
    forces, bare = condensed_system(model.elements, state.u, state.p, model.bulk)
    loaded = model.air.added(state.u, bare)
    condensed = _with_springs(model, state, loaded)
    directions = _directions(model, state, frames)
    nodal = contact_forces(model, state, forces) if nodal is None else nodal
    constraints = _constraints(model, state, frames, nodal)
    tested = _tested(model, directions, condensed)
    system = System(
        model.elements, model.pattern, condensed.stiffness, directions, constraints.known, constraints.bend,
        _skew(bare, loaded),
    )  # fmt: skip
    per_travel, standing, solve = _responses(model, system, constraints, tested)
    stiffness = -float(np.vdot(constraints.axial, per_travel.made))
    return Linearised(model, condensed, system, constraints, tested, solve, per_travel, standing, stiffness)


def _responses(
    model: Model, system: System, constraints: _Constraints, tested: Floats
) -> tuple[_Response, _Response, Solve]:
    """Responses to the rim's travel, per mm, and to the forces with the rim standing; and the solver."""
    known = constraints.known
    given = np.stack([constraints.rate, constraints.increment])
    lift = _lift(system, given)
    wanted = np.where(known, given, -np.stack([constraints.bend_rate, tested]) - lift)
    solve, answer, made = factorise(system, wanted, model.solvers)
    made = made + lift
    return _Response(answer[0], made[0]), _Response(answer[1], made[1]), solve


def _lift(system: System, given: Floats) -> Floats:
    """What the matrix makes of prescribed increments (k, n, 2): nothing but touching nodes has any but zero."""
    moved = np.zeros(len(system.known), bool)
    moved[system.directions.nodes] = True
    return system.product(given, moved)


def _directions(model: Model, state: State, frames: tuple[Frame, ...]) -> Directions:
    """Trial directions (t, n), test directions (t + mix n, n), of the nodes that touch."""
    nodes, trial, test = [], [], []
    for pair, status, frame in zip(model.pairs, state.pairs, frames, strict=True):
        on = status.active
        nodes.append(pair.nodes[on])
        trial.append(np.stack([frame.tangent[on], frame.normal[on]], axis=-1))
        test.append(np.stack([frame.tested[on], frame.normal[on]], axis=-1))
    return Directions(np.concatenate(nodes), np.concatenate(trial), np.concatenate(test))


def _tested(model: Model, directions: Directions, condensed: Condensed, beside: Floats | float = 0.0) -> Floats:
    """Forces (n, 2) along the test directions, those ``beside`` the condensed ones added; zero without an equation."""
    sums = model.elements.nodal_sums(condensed.force.reshape(-1, 8, 2)) + beside
    return np.where(model.pattern.free, directions.along_test(sums), 0.0)


def _constraints(model: Model, state: State, frames: tuple[Frame, ...], nodal: Floats) -> _Constraints:
    free, zeros = model.pattern.free, np.zeros_like(state.u)
    bend, bend_rate, axial, step, rate = (zeros.copy() for _ in range(5))
    known = ~free
    for pair, status, frame in zip(model.pairs, state.pairs, frames, strict=True):
        at, on = pair.nodes[status.active], status.active
        stuck = status.stuck[on]
        known[at] |= np.column_stack([stuck, np.ones_like(stuck)])
        step[at] = np.column_stack([frame.slide[on], -frame.gap[on]])
        bend[at, 0] = np.where(stuck, 0.0, frame.bending(nodal[pair.nodes])[on])
        if pair.moving:
            tangent, normal = frame.tangent[on, 1], frame.normal[on, 1]
            rate[at] = np.column_stack([np.where(stuck, -tangent, 0.0), -normal])
            bend_rate[at, 0] = bend[at, 0] * tangent
            axial[at] = np.column_stack([tangent, normal - frame.mix[on] * tangent])
    return _Constraints(known, step * (known & free), rate * free, bend, bend_rate, axial * free)


def _with_springs(model: Model, state: State, condensed: Condensed) -> Condensed:
    """Add the support's springs, each to the matrix and the force of an element that holds its node."""
    places = model.spring_places
    if places is None:
        return condensed
    force, stiffness = condensed.force.copy(), condensed.stiffness.copy()
    e, i = places.element, places.displacement
    stiffness[e, i, i] += places.stiffness
    stretched = state.u - model.slack
    force[e, i] += places.stiffness * stretched[model.elements.grid.quads[e, i // 2], i % 2]
    return replace(condensed, force=force, stiffness=stiffness)


def _skew(before: Condensed, after: Condensed) -> Bools:
    """(e,) elements that have been given an unsymmetric share; tissue and springs have none."""
    if after.stiffness is before.stiffness:
        return np.zeros(len(before.stiffness), bool)
    changed = np.nonzero((after.stiffness != before.stiffness).any(axis=(1, 2)))[0]
    added = after.stiffness[changed] - before.stiffness[changed]
    skew = np.zeros(len(before.stiffness), bool)
    skew[changed] = (added != added.swapaxes(1, 2)).any(axis=(1, 2))
    return skew
