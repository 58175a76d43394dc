"""Where the grid must be fine: columns fitted to where the tissue ends up, not to where it rests.

Under a sharp bite the tissue is stretched along its surface and slides past the edge, so a grid that is fine
there at rest is coarse there when pressed. The wanted element length is set on the deformed surface, from the
radius of the rim's curve that each point touches, and divided by the local stretch to give the length at rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from meshes.grading import graded_lines, limited_sizes

from .contact import Pair
from .model import Model, State

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Fineness:
    """How fine a grid is; lengths on the deformed surface.

    ``arc`` rad of rim arc per surface element. ``touching`` and ``ends``: longest element under the rim, and at the ends
    of contact and where the rim's curvature jumps, as shares of the contact's width; ``span`` the share of the stretch
    between two such places. ``smallest``, ``largest`` mm bound any element; ``growth`` of the length per mm of distance;
    ``aspect`` height of the surface row over the shortest column.
    """

    arc: float = 0.3
    touching: float = 0.09
    ends: float = 0.03
    span: float = 0.35
    smallest: float = 0.004
    largest: float = 1.6
    growth: float = 0.28
    aspect: float = 1.5

    def refined(self, factor: float = 0.5) -> Fineness:
        """Every length times ``factor``."""
        return Fineness(
            self.arc * factor, self.touching * factor, self.ends * factor, self.span * factor, self.smallest * factor,
            self.largest * factor, self.growth * factor, self.aspect,
        )  # fmt: skip


@dataclass(frozen=True)
class Surface:
    """Points along the lip's surface from the axis outwards: where they rest, where they stand, whether they touch.

    ``rest`` (k,) mm; ``place`` (k, 2) mm; ``touching`` (k,).
    """

    rest: Floats
    place: Floats
    touching: Bools


def resting_surface(inner: float, outer: float, count: int = 2000) -> Surface:
    """An undeformed surface between two radii."""
    rest = np.linspace(inner, outer, count)
    return Surface(rest, np.column_stack([rest, np.zeros(count)]), np.zeros(count, bool))


def deformed_surface(model: Model, state: State) -> Surface:
    """The surface of a state, sampled between nodes too."""
    rest, place = surface_samples(model, state)
    active = np.nonzero(state.pairs[0].active)[0]
    if len(active) == 0:
        return Surface(rest, place, np.zeros(len(rest), bool))
    nodes = model.elements.grid.node_columns
    return Surface(rest, place, (rest >= nodes[active[0]]) & (rest <= nodes[active[-1]]))


def surface_samples(model: Model, state: State, per_edge: int = 8) -> tuple[Floats, Floats]:
    """Resting radii (k,) and deformed positions (k, 2) along the surface, ``per_edge`` points an element."""
    grid = model.elements.grid
    t = np.linspace(0.0, 2.0, per_edge, endpoint=False)
    shape = np.column_stack([0.5 * (t - 1) * (t - 2), t * (2 - t), 0.5 * t * (t - 1)])
    place = (grid.nodes + state.u)[grid.surface]
    triples = np.stack([place[0:-2:2], place[1:-1:2], place[2::2]], axis=1)
    inner = np.einsum("ta,eai->eti", shape, triples).reshape(-1, 2)
    radii = grid.columns[:-1, None] + 0.5 * t * np.diff(grid.columns)[:, None]
    return np.append(radii.ravel(), grid.columns[-1]), np.vstack([inner, place[-1]])


def fitted_columns(
    pair: Pair, travel: float, surface: Surface, fineness: Fineness, kept: tuple[float, ...] = ()
) -> tuple[Floats, float]:
    """Column lines that suit a surface under the rim, and the smallest interval, mm.

    ``kept`` are radii that must be column lines (the edge of a support).
    """
    rest = surface.rest
    steps = np.maximum(np.hypot(*np.diff(surface.place, axis=0).T), 1e-9)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = limited_sizes(along, _wanted(pair, travel, surface, along, fineness), fineness.growth)
    stretch = np.interp(rest, 0.5 * (rest[1:] + rest[:-1]), steps / np.diff(rest))
    sizes = limited_sizes(rest, np.minimum(wanted / stretch, fineness.largest), fineness.growth)
    cuts = [rest[0], *(k for k in kept if rest[0] < k < rest[-1]), rest[-1]]
    pieces = [_lines_between(a, b, rest, sizes) for a, b in pairwise(cuts)]
    lines = np.concatenate([pieces[0]] + [piece[1:] for piece in pieces[1:]])
    return lines, float(np.diff(lines).min())


def _wanted(pair: Pair, travel: float, surface: Surface, along: Floats, fineness: Fineness) -> Floats:
    """Element length (k,) wanted on the deformed surface, before its growth is limited."""
    seen = pair.look(surface.place, travel)
    radius = 1.0 / np.maximum(np.abs(pair.curve.curvature_at(seen.arc_length)), 1e-6)
    wanted = fineness.arc * (radius + np.maximum(seen.distance, 0.0))
    marks = _marks(surface, seen.piece)
    if len(marks) > 1:
        width = along[marks[-1]] - along[marks[0]]
        wanted[surface.touching] = np.minimum(wanted[surface.touching], fineness.touching * width)
        gaps = np.diff(along[marks])
        nearest = np.minimum(np.append(gaps, np.inf), np.insert(gaps, 0, np.inf))
        wanted[marks] = np.minimum(wanted[marks], np.minimum(fineness.ends * width, fineness.span * nearest))
    return np.clip(wanted, fineness.smallest, fineness.largest)


def _marks(surface: Surface, piece: Ints) -> Ints:
    """Samples where the pressure is not smooth: the ends of contact, and joints of the rim's pieces under it."""
    touching = np.nonzero(surface.touching)[0]
    if len(touching) < 2:
        return touching
    joints = touching[1:][piece[touching[1:]] != piece[touching[:-1]]]
    return np.unique(np.concatenate([touching[[0, -1]], joints]))


def _lines_between(start: float, stop: float, places: Floats, sizes: Floats) -> Floats:
    inside = places[(places > start) & (places < stop)]
    ends = np.concatenate([[start], inside, [stop]])
    return graded_lines(ends, np.interp(ends, places, sizes))
