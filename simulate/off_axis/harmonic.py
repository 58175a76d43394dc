"""One harmonic of the angle about a pressed state: assembled and factorised once, answered for many causes at once.

The teeth's frame is kept: supports, springs and air stay where they are. What moves is the rim (or the relief of the
teeth), by a field v: a touching node has n . du = n . v, a sticking one du = v, and the curve's forces turn along (see
`labrum.simulate.off_axis.frames`). A change of the tissue or of its thickness comes as forces in the elements.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Bools, Floats
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.off_axis.air import air_tangents, loaded_unknowns
from labrum.simulate.off_axis.condensing import Reduced
from labrum.simulate.off_axis.factors import Solve, WaveSystem, factorised
from labrum.simulate.off_axis.frames import Bases, Touch, bases, carried, touches
from labrum.simulate.off_axis.motions import Motion
from labrum.simulate.off_axis.numbering import Numbering
from labrum.simulate.off_axis.springs import spring_blocks, support_blocks
from labrum.simulate.off_axis.waves import Waves, circle_share
from labrum.simulate.tissue.condensation import missing_compliance, regularised_bulk

REFINEMENTS = 3
ROUNDING = 1e-10  # of the largest load: beyond, what a solution leaves is solved for once more


@dataclass(frozen=True)
class Cause:
    """What asks for an answer, per unit: a ``motion`` of what pair ``moves`` (0 the rim), or residuals in the elements,
    ``force`` (e, 27) N and ``volume`` (e, 3) mm3; or both.

    Bonded nodes of the back follow the motion of pair 1, the teeth, whether the tissue touches them as a pair or not.
    """

    motion: Motion | None = None
    moves: int = 0
    force: Floats | None = None
    volume: Floats | None = None


@dataclass(frozen=True)
class Response:
    """The answer to one cause, amplitudes per unit of it.

    ``u`` (n, 3) mm of every node, in the teeth's frame; ``p`` (e, 3) MPa; ``forces`` (n, 3) N over the full circle, the
    change of what curves and supports exert on the nodes, in the teeth's frame; ``reaction`` (n,) N over the full
    circle, the change of a touching node's normal force, seen in the frame of what it touches.
    """

    u: Floats
    p: Floats
    forces: Floats
    reaction: Floats


@dataclass(frozen=True)
class Base:
    """A pressed state with all that its harmonics share."""

    model: Model
    state: State

    @cached_property
    def waves(self) -> Waves:
        """Point values of the tangent."""
        return Waves.about(self.model.elements, self.state.u, self.state.p)

    @cached_property
    def touches(self) -> tuple[Touch, ...]:
        """What touches what."""
        return touches(self.model, self.state)

    @cached_property
    def special(self) -> Bools:
        """(e,) elements that touch something or are in the air: no others' matrices can be unsymmetric."""
        touching = np.zeros(len(self.model.pattern.fixed), bool)
        touching[np.concatenate([touch.at for touch in self.touches])] = True
        out: Bools = np.asarray(touching[self.model.elements.grid.quads].any(axis=1))
        out[self.model.air.elements] = True
        return out

    @cached_property
    def numbering(self) -> Numbering:
        """Equations of any harmonic."""
        return Numbering(self.model.elements.grid)

    def harmonic(self, order: int) -> Harmonic:
        """Assemble and factorise a harmonic; raises ``numpy.linalg.LinAlgError`` where it is singular."""
        elements = self.model.elements
        share, tissue = circle_share(order), elements.tissue
        bulk = regularised_bulk(elements.mass, tissue.inverse_bulk, tissue.shear) / share
        reduced = Reduced.about(self.waves, order, bulk)
        missing = missing_compliance(elements.mass, tissue.inverse_bulk, tissue.shear)
        blocks = _with_air(self.model, self.state, order, reduced.stiffness)
        blocks = _with_nodal(self.model, self.touches, order, blocks)
        frame = bases(self.model, self.touches, order)
        turned = _turned(elements.grid.quads[:, :8], blocks, frame)
        system = WaveSystem(self.numbering, turned, self.numbering.gather(frame.known), self.special)
        solve = factorised(system, elements.library)
        lack = None if missing is None else share * missing
        return Harmonic(self, order, reduced, lack, frame, system, solve)


@dataclass(frozen=True)
class Harmonic:
    """The factorised ``system`` of one ``order``; `answers` solves it.

    The system is the tangent in the nodes' own directions, contact's bending taken off.
    """

    base: Base
    order: int
    reduced: Reduced
    missing: Floats | None
    bases: Bases
    system: WaveSystem
    solve: Solve

    def answers(self, causes: Sequence[Cause]) -> list[Response]:
        """The responses to causes of this order."""
        if any(cause.motion is not None and cause.motion.order != self.order for cause in causes):
            raise ValueError(f"every cause must be of order {self.order}")
        force, volume = self._element_residuals(causes)
        tested = self._tested(self.reduced.residual(force, volume)) - self._nodal_pushes(causes)
        given = self._given(causes)
        outer, reaction = self._solved(tested, given)
        centre, pressure = self.reduced.interior(self._element_outer(outer), force, volume)
        if self.missing is not None:
            change, none = pressure, np.zeros_like(force)
            for _ in range(REFINEMENTS):  # restore the exact volume constraint
                lack = self.missing @ change
                tested = self._tested(self.reduced.residual(none, lack))
                more, extra = self._solved(tested, np.zeros_like(given))
                inner, change = self.reduced.interior(self._element_outer(more), none, lack)
                outer, reaction = outer + more, reaction + extra
                centre, pressure = centre + inner, pressure + change
        u = self._nodal(outer)
        u[self.base.model.elements.grid.quads[:, 8]] = centre
        return self._responses(causes, u, pressure, self.base.numbering.spread(reaction))

    def _solved(self, tested: Floats, given: Floats) -> tuple[Floats, Floats]:
        """Increments (size, m) with the known ones ``given``, and the residual of every row: the reactions."""
        system, known = self.system, self.system.known[:, None]
        loads = tested + system.product_of_few(given) if given.any() else tested
        outer = self.solve(np.where(known, given, -loads))
        made = system.product(np.where(known, 0.0, outer))
        left = np.where(known, 0.0, -loads - made)
        if (_largest(left) > ROUNDING * _largest(loads)).any():
            more = self.solve(left)
            outer, made = outer + more, made + system.product(np.where(known, 0.0, more))
        return outer, loads + made

    def _element_residuals(self, causes: Sequence[Cause]) -> tuple[Floats, Floats]:
        count = len(self.reduced.bulk)
        force, volume = np.zeros((count, 27, len(causes))), np.zeros((count, 3, len(causes)))
        for which, cause in enumerate(causes):
            if cause.force is not None:
                force[..., which] = cause.force
            if cause.volume is not None:
                volume[..., which] = cause.volume
        return force, volume

    def _nodal_pushes(self, causes: Sequence[Cause]) -> Floats:
        """(size, m) what turning curves and moving springs push, tested."""
        model, share = self.base.model, circle_share(self.order)
        push = np.zeros((len(model.pattern.fixed), 3, len(causes)))
        for which, cause in enumerate(causes):
            if cause.motion is None:
                continue
            if cause.moves < len(self.base.touches):
                touch = self.base.touches[cause.moves]
                push[touch.at, :, which] += carried(touch, cause.motion)
            if cause.moves == 1:
                springs, moved = support_blocks(model), cause.motion.at(model.elements.grid.nodes)
                push[..., which] += share * np.einsum("nij,nj->ni", springs, moved)
        return self.base.numbering.gather(self.bases.tested(push))

    def _given(self, causes: Sequence[Cause]) -> Floats:
        """(size, m) the known increments along the nodes' own directions; zero elsewhere."""
        model = self.base.model
        wanted = np.zeros((len(model.pattern.fixed), 3, len(causes)))
        for which, cause in enumerate(causes):
            if cause.motion is None:
                continue
            if cause.moves < len(self.base.touches):
                touch = self.base.touches[cause.moves]
                wanted[touch.at, :, which] = cause.motion.at(touch.places)
            if cause.moves == 1:
                held = _bonded_back(model)
                wanted[held, :, which] = cause.motion.at(model.elements.grid.nodes[held])
        return self.base.numbering.gather(np.where(self.bases.known[..., None], self.bases.along(wanted), 0.0))

    def _nodal(self, outer: Floats) -> Floats:
        return self.bases.whole(self.base.numbering.spread(outer))

    def _element_outer(self, outer: Floats) -> Floats:
        quads = self.base.model.elements.grid.quads[:, :8]
        return self._nodal(outer)[quads].reshape(len(quads), 24, -1)

    def _tested(self, loads: Floats) -> Floats:
        numbering = self.base.numbering
        return numbering.gather(self.bases.tested(numbering.spread(numbering.vector(loads))))

    def _responses(self, causes: Sequence[Cause], u: Floats, p: Floats, rows: Floats) -> list[Response]:
        """Turn the rows' residuals into forces in (r, theta, z), with what the curves' bending and turning adds."""
        share = circle_share(self.order)
        rows = np.where(self.bases.known[..., None], rows, 0.0) / share
        forces = self.bases.untested(rows)
        out = []
        for which, cause in enumerate(causes):
            total, reaction = forces[..., which].copy(), np.zeros(len(u))
            for pair, touch in enumerate(self.base.touches):
                reaction[touch.at] = np.einsum("ki,ki->k", touch.normal, total[touch.at][:, ::2])
                total[touch.at] += np.einsum("kij,kj->ki", touch.bend, u[touch.at, :, which])
                if cause.motion is not None and cause.moves == pair:
                    total[touch.at] += carried(touch, cause.motion) / share
            out.append(Response(u[..., which], p[..., which], total, reaction))
        return out


def _largest(values: Floats) -> Floats:
    """(m,) largest sizes in the columns of (size, m), which numpy is slow to find along long columns."""
    return np.asarray(np.abs(np.ascontiguousarray(values.T)).max(axis=1))


def _bonded_back(model: Model) -> NDArray[np.int64]:
    """Nodes of the back face that are bonded to the teeth."""
    back = model.elements.grid.back
    return np.asarray(back[model.pattern.fixed[back].all(axis=1)])


def _with_air(model: Model, state: State, order: int, blocks: Floats) -> Floats:
    """Element matrices with the air's share taken off, in place."""
    air = model.air
    if air.pressure and len(air.elements):
        at = loaded_unknowns(air)
        places = (air.elements[:, None, None], at[:, :, None], at[:, None, :])
        # the element between back and opening has two edges in the air, so one index may come twice
        np.subtract.at(blocks, places, air_tangents(air, state.u, order))
    return blocks


def _with_nodal(model: Model, pairs: tuple[Touch, ...], order: int, blocks: Floats) -> Floats:
    """Element matrices with springs and contact's bending, each node's in one of its elements, in place."""
    nodal = spring_blocks(model, order)
    for touch in pairs:
        nodal[touch.at] -= touch.bend
    some = np.nonzero(nodal.any(axis=(1, 2)))[0]
    quads = model.elements.grid.quads[:, :8]
    owner = np.zeros(len(nodal), dtype=np.int64)
    owner[quads.ravel()] = np.arange(quads.size)
    element, local = np.divmod(owner[some], 8)
    at = 3 * local[:, None] + np.arange(3)
    blocks[element[:, None, None], at[:, :, None], at[:, None, :]] += circle_share(order) * nodal[some]
    return blocks


def _turned(quads: NDArray[np.int64], blocks: Floats, frame: Bases) -> Floats:
    """Element matrices (e, 24, 24) with rows and columns along the nodes' own directions, in place."""
    turns = np.zeros(len(frame.known), bool)
    turns[frame.own] = True
    some = np.nonzero(turns[quads].any(axis=1))[0]
    rows = frame.test[quads[some]].swapaxes(2, 3) @ blocks[some].reshape(-1, 8, 3, 24)
    columns = rows.reshape(-1, 24, 8, 3).swapaxes(1, 2) @ frame.trial[quads[some]]
    blocks[some] = columns.swapaxes(1, 2).reshape(-1, 24, 24)
    return blocks
