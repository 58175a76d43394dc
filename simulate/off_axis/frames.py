r"""How each node's three equations are written in a harmonic, and what contact adds to them.

A touching node of a curve g = 0 carries the force f = a (n - m s), n = grad g, s the tangent of the section, a the
normal reaction, and m zero or, where it slips with friction, the friction's share. Moved by w relative to the curve,

    f changes by  da (n - m s) + a [k (s s + m n s) + (n_r - m s_r) / r  e_theta e_theta] w,

k the curve's second derivative along s: the curve bends in the section, and around the axis. Its normal increment is
known, so da is the residual of the normal row. Nodes that touch go on touching: the ends of contact move at first
order, but pressure is zero there, so force and moment change at second order only. A sticking node is held in all
three; a slipping one goes on slipping along the section and is free around the axis. A full circle's reaction counts
with the harmonic's share of the circle.

A lip that slides on the teeth, with a free outer edge, would float off sideways: nothing but the rim holds it. There
the outer edge is held in the rim's plane, as the face holds a lip.

On the axis a harmonic n = 1 is smooth where U + V = 0 and W = 0, n >= 2 where all three are zero.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Bools, Floats, Ints
from labrum.simulate.contact.signorini import Frame, Pair, PairState, frame_of
from labrum.simulate.equilibrium.model import Model, State, contact_forces, look
from labrum.simulate.off_axis.motions import Motion
from labrum.simulate.off_axis.waves import circle_share


@dataclass(frozen=True)
class Touch:
    """The touching nodes of one pair: ``at`` (k,) node numbers, ``places`` (k, 2), ``forces`` (k, 2) N of the curve on
    them over the full circle, ``normal``, ``tested`` (k, 2), ``stuck`` (k,), and ``bend`` (k, 3, 3) N/mm, the change of
    those forces with a move relative to the curve.
    """

    at: NDArray[np.int64]
    places: Floats
    forces: Floats
    tangent: Floats
    normal: Floats
    tested: Floats
    stuck: Bools
    bend: Floats

    @property
    def reaction(self) -> Floats:
        """(k,) normal force, N."""
        return np.einsum("ki,ki->k", self.normal, self.forces)


@dataclass(frozen=True)
class Bases:
    """Per node (n, 3, 3) trial and test directions, as columns, and which of its three increments are known (n, 3).

    Most nodes write their equations in (r, theta, z) as they are: only ``own`` ones have directions of their own.
    """

    trial: Floats
    test: Floats
    known: Bools

    @cached_property
    def own(self) -> Ints:
        """(k,) nodes with directions of their own."""
        plain = (self.trial == np.eye(3)).all(axis=(1, 2)) & (self.test == np.eye(3)).all(axis=(1, 2))
        return np.asarray(np.nonzero(~plain)[0])

    def tested(self, loads: Floats) -> Floats:
        """Loads (n, 3, m) along the test directions."""
        return self._turned(loads, lambda own: self.test[self.own].swapaxes(1, 2) @ own)

    def whole(self, increments: Floats) -> Floats:
        """Increments (n, 3, m) along the trial directions, in (r, theta, z)."""
        return self._turned(increments, lambda own: self.trial[self.own] @ own)

    def along(self, moves: Floats) -> Floats:
        """Moves (n, 3, m) in (r, theta, z), along the trial directions."""
        return self._turned(moves, lambda own: np.asarray(np.linalg.solve(self.trial[self.own], own), dtype=np.float64))

    def untested(self, rows: Floats) -> Floats:
        """Loads (n, 3, m) in (r, theta, z) that have these rows along the test directions."""
        whole = self.test[self.own].swapaxes(1, 2)
        return self._turned(rows, lambda own: np.asarray(np.linalg.solve(whole, own), dtype=np.float64))

    def _turned(self, nodal: Floats, turn: Callable[[Floats], Floats]) -> Floats:
        out = nodal.copy()
        out[self.own] = turn(nodal[self.own])
        return out


def touches(model: Model, state: State) -> tuple[Touch, ...]:
    """What touches what in an equilibrium."""
    nodal = contact_forces(model, state, model.elements.forces(state.u, state.p))
    places = model.elements.grid.nodes + state.u
    frames = [frame_of(p, s, k) for p, s, k in zip(model.pairs, state.pairs, look(model, state), strict=True)]
    return tuple(
        _touch(pair, status, frame, places[pair.nodes], nodal[pair.nodes])
        for pair, status, frame in zip(model.pairs, state.pairs, frames, strict=True)
    )


def _touch(pair: Pair, status: PairState, frame: Frame, places: Floats, forces: Floats) -> Touch:
    on = status.active
    s, n, r, mix = frame.tangent[on], frame.normal[on], places[on, 0], frame.mix[on]
    reaction = np.einsum("ki,ki->k", n, forces[on])
    # at the axis the curve of revolution is as bent around as along
    around = np.divide(n[:, 0] - mix * s[:, 0], r, out=frame.bend[on].copy(), where=r > 0.0)
    bend = np.zeros((len(r), 3, 3))
    bend[:, 0::2, 0::2] = frame.bend[on, None, None] * (s + mix[:, None] * n)[:, :, None] * s[:, None, :]
    bend[:, 1, 1] = around
    return Touch(
        pair.nodes[on], places[on], forces[on], s, n, frame.tested[on], status.stuck[on], reaction[:, None, None] * bend
    )


def bases(model: Model, pairs: tuple[Touch, ...], order: int) -> Bases:
    """Directions and held components of harmonic ``order``."""
    grid, fixed = model.elements.grid, model.pattern.fixed
    trial = np.tile(np.eye(3), (len(fixed), 1, 1))
    test = trial.copy()
    # what holds a ring's radius holds it around the axis too
    known = np.column_stack([fixed[:, 0], fixed[:, 0] | (order == 0), fixed[:, 1]])
    for touch in pairs:
        at = touch.at
        trial[at], test[at] = _columns(touch.tangent, touch.normal), _columns(touch.tested, touch.normal)
        known[at] = np.column_stack([touch.stuck, touch.stuck | (order == 0), np.ones_like(touch.stuck)])
    if order > 0 and _adrift(model):
        known[-grid.nodes_per_column :, :2] = True
    if grid.columns[0] == 0.0:
        axis = grid.inner_edge
        stuck = np.isin(axis, np.concatenate([k.at[k.stuck] for k in pairs]))
        _on_axis(trial, test, known, axis, stuck | (fixed[axis, 0] & fixed[axis, 1]), order)
    return Bases(trial, test, known)


def _adrift(model: Model) -> bool:
    """Does nothing hold the tissue in the plane of the rim?"""
    off_axis = model.elements.grid.nodes[:, 0] > 0.0
    return not model.springs[:, 0].any() and not model.pattern.fixed[off_axis, 0].any()


def _columns(tangent: Floats, normal: Floats) -> Floats:
    """(k, 3, 3) with the tangent, the circle's direction and the normal as columns."""
    out = np.zeros((len(tangent), 3, 3))
    out[:, 0::2, 0], out[:, 1, 1], out[:, 0::2, 2] = tangent, 1.0, normal
    return out


def _on_axis(trial: Floats, test: Floats, known: Bools, axis: NDArray[np.int64], held: Bools, order: int) -> None:
    """Write the equations of nodes on the axis so that the harmonic is smooth there, in place."""
    if order == 0:
        known[axis, :2] = True
        return
    turned = np.array([[1.0, 1.0, 0.0], [-1.0, 1.0, 0.0], [0.0, 0.0, 1.0]])  # U + V = 0 leaves the first column
    trial[axis] = test[axis] = turned
    known[axis] = True
    if order == 1:
        known[axis, 0] = held


def carried(touch: Touch, motion: Motion) -> Floats:
    """(k, 3) forces, N per unit, that turn and bend bring to nodes which stay while the curve moves."""
    share = circle_share(motion.order)
    turned = motion.turned(touch.places, touch.forces)
    return np.asarray(share * (turned - np.einsum("kij,kj->ki", touch.bend, motion.at(touch.places))))
