"""Signorini contact with Coulomb friction between surface nodes and rigid curves of arcs and lines.

Non-penetration is imposed exactly at the nodes by a multiplier, the normal reaction, with a primal-dual active
set: a semismooth Newton method (Hintermueller, Ito & Kunisch 2002, SIAM J. Optim. 13:865). The signed distance
to the curve is exact, and its second derivative enters the tangent. In an active node's own frame (t, n) the
normal increment is then known, so the node's normal equation leaves the system and what remains needs no
saddle-point solver; the reaction is what that equation would have needed.

Friction follows the same pattern: a sticking node is held at its foot on the curve, a slipping one carries the
tangential force -mu * reaction * direction, and the active-set step decides which. The slip is measured along the
curve from the foot the node had at the last equilibrium, and what comes to stick meanwhile is anchored where it was
caught (`caught_up`).
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import Any

import numpy as np

from labrum.meshes.arrays import Bools, Floats, Ints
from labrum.meshes.curves.curve import Curve, Nearest
from labrum.simulate.compiled import Library, library
from labrum.simulate.compiled.search import Chain, nearest


@dataclass(frozen=True)
class Pair:
    """A rigid curve and the nodes that may meet it.

    ``nodes`` (k,) node numbers along the surface; ``moving`` true for the rim, which stands ``travel`` lower
    than its own frame says; ``friction`` Coulomb coefficient; ``library`` compiled kernels that search, if any.
    """

    name: str
    curve: Curve
    nodes: Ints
    moving: bool
    friction: float = 0.0
    library: Library | None = field(default_factory=library)

    def __getstate__(self) -> dict[str, Any]:
        """Leave out the prepared curve: it holds addresses, which mean nothing in another process."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @cached_property
    def _chain(self) -> Chain:
        return Chain.of(self.curve)

    def look(self, places: Floats, travel: float) -> Nearest:
        """Distance, normal and curvature seen from nodes at ``places`` (k, 2) when the rim has gone ``travel``
        down.
        """
        shift = travel if self.moving else 0.0
        if self.library is not None:
            return nearest(self.library, self._chain, places, shift)
        return self.curve.nearest(places + np.array([0.0, shift]))


@dataclass(frozen=True)
class PairState:
    """What is known of each node (k,) of a pair.

    ``active`` touches; ``stuck`` touches and does not slip; ``direction`` sign of the slip along the curve;
    ``anchor`` arc length of the node's foot at the last equilibrium, mm; ``held`` stuck there already; ``caught`` how
    much further along than where it was when its step began the anchor of a stuck node lies, mm (see `caught_up`).
    """

    active: Bools
    stuck: Bools
    direction: Floats
    anchor: Floats
    held: Bools
    caught: Floats

    @classmethod
    def untouched(cls, anchor: Floats) -> PairState:
        """Nothing touches; slip will count from the feet ``anchor`` (k,)."""
        none = np.zeros(len(anchor), bool)
        return cls(none, none, np.zeros(len(anchor)), anchor, none, np.zeros(len(anchor)))

    def same_set(self, other: PairState) -> int:
        """Number of nodes whose status differs."""
        differs = (self.active != other.active) | (self.stuck != other.stuck)
        turned = self.active & other.active & ~self.stuck & ~other.stuck & (self.direction != other.direction)
        return int(np.count_nonzero(differs | turned))


@dataclass(frozen=True)
class Frame:
    """Per node of a pair: how its two equations are written in this iteration.

    ``tangent``, ``normal`` (k, 2) trial directions; ``mix`` (k,) the test direction of the tangential equation is
    tangent + mix * normal; ``bend`` (k,) second derivative of the distance along the tangent; ``gap`` (k,) mm;
    ``slide`` (k,) tangential increment a sticking node still lacks, mm.
    """

    tangent: Floats
    normal: Floats
    mix: Floats
    bend: Floats
    gap: Floats
    slide: Floats

    @property
    def tested(self) -> Floats:
        """(k, 2) direction along which the tangential equation is written."""
        return self.tangent + self.mix[:, None] * self.normal

    def bending(self, forces: Floats) -> Floats:
        """(k,) derivative of the tangential equation with the node's slide, from nodal forces (k, 2): N/mm.

        With n = grad g and t at right angles, dn = bend t and dt = -bend n per unit of slide.
        """
        across = np.einsum("ki,ki->k", self.normal, forces)
        along = np.einsum("ki,ki->k", self.tangent, forces)
        return -self.bend * (across - self.mix * along)


def frame_of(pair: Pair, state: PairState, seen: Nearest) -> Frame:
    """Local frames and constraint values of one iteration."""
    normal = seen.normal
    tangent = np.column_stack([-normal[:, 1], normal[:, 0]])
    slipping = state.active & ~state.stuck
    mix = np.where(slipping, pair.friction * state.direction, 0.0)
    slide = np.where(state.stuck, state.anchor - seen.arc_length, 0.0)
    return Frame(tangent, normal, mix, seen.hessian, seen.distance, slide)


def updated(pair: Pair, state: PairState, seen: Nearest, reaction: Floats, shear: Floats, least: float) -> PairState:
    """Active-set step: status of every node from its gap and its linearised reactions.

    Parameters
    ----------
    reaction, shear
        (k,) normal and tangential force of the curve on the node in the last linear solve, N.
    least
        Reactions below ``-least`` release a node, N.
    """
    active = np.where(state.active, reaction > -least, seen.distance < 0.0)
    if pair.friction == 0.0:
        return replace(state, active=active)
    slip = seen.arc_length - state.anchor
    held = np.abs(shear) <= pair.friction * np.maximum(reaction, 0.0)
    fresh = active & ~state.active
    turned_back = slip * state.direction < 0.0
    stuck = active & np.where(fresh, slip == 0.0, np.where(state.stuck, held, turned_back))
    direction = np.where(state.stuck & ~held, -np.sign(shear), state.direction)
    return replace(state, active=active, stuck=stuck, direction=np.where(fresh, np.sign(slip), direction))


def settled(pair: Pair, state: PairState, seen: Nearest) -> PairState:
    """The state from which the next step's slip is measured: every node is anchored at its foot, touching ones
    stick.

    What came to stick in the step that ends is anchored where it was caught (`caught_up`).
    """
    if pair.friction == 0.0:
        return replace(state, anchor=seen.arc_length, stuck=np.zeros_like(state.active))
    ended = caught_up(state, seen)
    anchor = np.where(ended.stuck, ended.anchor, seen.arc_length)
    return replace(ended, anchor=anchor, stuck=ended.active, held=ended.stuck)


def caught_up(state: PairState, seen: Nearest) -> PairState:
    """Anchor what came to stick in a step where it was when it was caught, not where it was when the step began.

    The edge of what sticks runs over these nodes in the course of the step. Each slipped until then, which an implicit
    step leaves out: an error of first order in the step's length, with a jump from one step's nodes to the next one's.
    At a node that the edge reached after a share t of its run that slip is taken as t^(3/2) of what the first node
    beyond slipped in the whole step: the surface ahead of an edge that sticks moves along the curve as the root of the
    distance. So one step's slip ends where the next one's begins, with the same slope.
    """
    late = state.stuck & ~state.held
    if not late.any():
        return replace(state, held=state.stuck)
    told = ~late
    told[[0, -1]] = True  # what is caught as far as the axis has not moved there
    at, known = seen.arc_length[told], np.where(state.stuck, 0.0, seen.arc_length - state.anchor)[told]
    above = np.clip(np.searchsorted(at, seen.arc_length), 1, len(at) - 1)
    beyond = np.maximum(np.abs(known[above - 1]), np.abs(known[above]))
    even = np.interp(seen.arc_length, at, known)
    lost = np.where(late, even * np.sqrt(np.abs(even) / np.maximum(beyond, 1e-300)), 0.0)
    caught = np.where(state.stuck, state.caught + lost, 0.0)
    return replace(state, anchor=state.anchor + lost, held=state.stuck, caught=caught)


def not_caught_up(state: PairState) -> PairState:
    """The state of steps that leave out what `caught_up` adds: of first order, to tell how much that is."""
    early = np.where(state.stuck, state.anchor - state.caught, state.anchor)
    return replace(state, anchor=early, held=state.stuck, caught=np.zeros_like(early))


def free_anew(state: PairState, seen: Nearest) -> PairState:
    """Anchor what does not touch at its own foot: it has no memory."""
    return replace(state, anchor=np.where(state.active, state.anchor, seen.arc_length))
