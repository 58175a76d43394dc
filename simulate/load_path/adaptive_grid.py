"""Where the grid must be fine: columns fitted to where the tissue ends up, not to where it rests.

Under a sharp bite the tissue is stretched along its surface and slides past the edge, so a grid that is fine
there at rest is coarse there when pressed. The wanted element length is set on the deformed surface, from the
radius of the rim's curve that each point touches, and divided by the local stretch to give the length at rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from labrum.meshes.arrays import Bools, Floats, Ints
from labrum.meshes.grids.grading import graded_lines, limited_sizes
from labrum.meshes.grids.quadratic import edge_functions, edges_along
from labrum.simulate.contact.signorini import Pair
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.traction import traction

FINEST_ARC = 0.06  # rad an element: below this a load path gains nothing more
PER_EDGE = 8  # samples of a face an element
NEAR_PEAK = 0.9  # share of the peak above which the pressure is resolved as finely as the peak


@dataclass(frozen=True)
class Fineness:
    """How fine a grid is; lengths on the deformed surface.

    ``arc`` rad of rim arc per surface element. ``touching`` and ``ends``: longest element under the rim, and at
    the ends of contact and where the rim's curvature jumps, as shares of the contact's width; ``span`` the
    share of the stretch between two such places; ``hump`` longest element where the pressure is near its peak,
    as a share of that stretch. ``smallest``, ``largest`` mm bound any element; ``growth`` of the length per mm of
    distance; ``aspect`` height of the surface row over the shortest column; ``margin`` mm bounds the elements between
    an opening's wall and the back, from where lengths grow by ``margin_growth`` per mm at most.

    The defaults suit a load path: short elements only on arcs, where a step would fail for want of them.
    """

    arc: float = 0.3
    touching: float = 0.18
    ends: float = 0.06
    span: float = 0.5
    smallest: float = 0.004
    largest: float = 1.6
    growth: float = 0.7
    aspect: float = 1.5
    hump: float = np.inf
    margin: float = np.inf
    margin_growth: float = 0.28

    def finer_arcs(self) -> Fineness:
        """Somewhat shorter elements on arcs, where a step that failed may have failed for want of them."""
        return replace(self, arc=max(0.8 * self.arc, FINEST_ARC))

    def coarser_arcs(self, longest: float) -> Fineness:
        """Elements on arcs somewhat longer again, up to ``longest`` rad."""
        return replace(self, arc=min(1.25 * self.arc, longest))

    def sharper(self) -> Fineness:
        """Elements half as long where the pressure peaks, and three quarters as long elsewhere.

        Displacements are right to a few parts in ten thousand on coarse grids already; the peak is not.
        """
        return replace(self.refined(0.75), hump=0.5 * self.hump)

    def with_margin_of(self, other: Fineness) -> Fineness:
        """The same with the elements at an opening's margin as long as those of another."""
        return replace(self, margin=other.margin, margin_growth=other.margin_growth)

    def refined(self, factor: float = 0.5) -> Fineness:
        """Every length times ``factor``."""
        return Fineness(
            self.arc * factor, self.touching * factor, self.ends * factor, self.span * factor, self.smallest * factor,
            self.largest * factor, self.growth * factor, self.aspect, self.hump * factor,
            self.margin * factor, self.margin_growth * factor,
        )  # fmt: skip


@dataclass(frozen=True)
class Surface:
    """Points along a face of the lip from the axis outwards, and the rigid curve it may meet.

    ``rest`` (k,) mm; ``place`` (k, 2) mm; ``touching`` (k,); ``pressure`` (k,) MPa; ``travel`` mm of the rim.
    """

    pair: Pair
    travel: float
    rest: Floats
    place: Floats
    touching: Bools
    pressure: Floats


def resting_surface(pair: Pair, inner: float, outer: float, height: float, count: int = 2000) -> Surface:
    """An undeformed face at ``height`` between two radii, touching nothing."""
    rest = np.linspace(inner, outer, count)
    place, none = np.column_stack([rest, np.full(count, height)]), np.zeros(count)
    return Surface(pair, 0.0, rest, place, none > 0.0, none)


def deformed_surfaces(model: Model, state: State, pressed: bool) -> list[Surface]:
    """The faces of a state that meet a curve, sampled between nodes too; with the rim's pressure if ``pressed``."""
    grid, out = model.elements.grid, []
    for which, (pair, status) in enumerate(zip(model.pairs, state.pairs, strict=True)):
        rest, place = surface_samples(model, state, pair.nodes)
        active = np.nonzero(status.active)[0]
        touching = np.zeros(len(rest), bool)
        if len(active):
            ends = grid.node_columns[active[[0, -1]]]
            touching = (rest >= ends[0]) & (rest <= ends[1])
        pressure = np.zeros(len(rest))
        if pressed and pair.moving:
            pressure = np.interp(rest, grid.node_columns, traction(model, state, which).pressure)
        out.append(Surface(pair, state.travel, rest, place, touching, pressure))
    return out


def surface_samples(
    model: Model, state: State, nodes: Ints | None = None, per_edge: int = PER_EDGE
) -> tuple[Floats, Floats]:
    """Resting radii (k,) and deformed positions (k, 2) along a face, ``per_edge`` points an element.

    ``nodes`` are the face's, from the axis outwards; the lip's surface where none are given.
    """
    grid = model.elements.grid
    nodes = grid.surface if nodes is None else nodes
    t = np.linspace(-1.0, 1.0, per_edge, endpoint=False)
    place = (grid.nodes + state.u)[nodes]
    inner = np.einsum("ta,eai->eti", edge_functions(t)[0], place[edges_along(len(place))]).reshape(-1, 2)
    radii = grid.columns[:-1, None] + 0.5 * (t + 1.0) * np.diff(grid.columns)[:, None]
    return np.append(radii.ravel(), grid.columns[-1]), np.vstack([inner, place[-1]])


def fitted_columns(
    surfaces: Sequence[Surface], fineness: Fineness, kept: tuple[float, ...] = ()
) -> tuple[Floats, list[float]]:
    """Column lines that suit the faces of the lip, and per face the smallest length it asked for at rest, mm.

    ``kept`` are radii that must be column lines, with fine columns beside them (the edge of a support).
    """
    rest = surfaces[0].rest
    asked = [np.interp(rest, face.rest, _wanted_at_rest(face, fineness)) for face in surfaces]
    sizes = np.minimum(np.min(asked, axis=0), fineness.largest)
    if rest[0] > 0.0:
        sizes = np.minimum(sizes, fineness.margin + fineness.margin_growth * (rest - rest[0]))
    for place in kept:
        sizes[np.argmin(np.abs(rest - place))] = min(fineness.arc, fineness.largest)
    sizes = limited_sizes(rest, sizes, fineness.growth)
    cuts = [rest[0], *(k for k in kept if rest[0] < k < rest[-1]), rest[-1]]
    pieces = [_lines_between(a, b, rest, sizes) for a, b in pairwise(cuts)]
    return np.concatenate([pieces[0]] + [piece[1:] for piece in pieces[1:]]), [float(a.min()) for a in asked]


def _wanted_at_rest(face: Surface, fineness: Fineness) -> Floats:
    """Element length (k,) wanted on the deformed face, divided by the local stretch."""
    steps = np.maximum(np.hypot(*np.diff(face.place, axis=0).T), 1e-9)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = limited_sizes(along, _wanted(face, along, fineness), fineness.growth)
    stretch = np.interp(face.rest, 0.5 * (face.rest[1:] + face.rest[:-1]), steps / np.diff(face.rest))
    return wanted / stretch


def _wanted(face: Surface, along: Floats, fineness: Fineness) -> Floats:
    """Element length (k,) wanted on the deformed face, before its growth is limited."""
    seen = face.pair.look(face.place, face.travel)
    radius = 1.0 / np.maximum(np.abs(face.pair.curve.curvature_at(seen.arc_length)), 1e-6)
    wanted = fineness.arc * (radius + np.maximum(seen.distance, 0.0))
    marks = _marks(face, seen.piece)
    if face.pair.moving and len(marks) > 1:
        width = along[marks[-1]] - along[marks[0]]
        wanted[face.touching] = np.minimum(wanted[face.touching], fineness.touching * width)
        gaps = np.diff(along[marks])
        nearest = np.minimum(np.append(gaps, np.inf), np.insert(gaps, 0, np.inf))
        for hump in _humps(face.pressure):
            middle, half = (hump.start + hump.stop) // 2, PER_EDGE // 2  # a hump of less than an element may be noise
            wide = slice(max(min(hump.start, middle - half), 0), min(max(hump.stop, middle + half), len(along)))
            wanted[hump] = np.minimum(wanted[hump], fineness.hump * (along[wide.stop - 1] - along[wide.start]))
        wanted[marks] = np.minimum(wanted[marks], np.minimum(fineness.ends * width, fineness.span * nearest))
    return np.clip(wanted, fineness.smallest, fineness.largest)


def _humps(pressure: Floats) -> list[slice]:
    """Stretches of samples where the pressure is near its peak; none where nothing presses."""
    high = np.concatenate([[False], pressure > NEAR_PEAK * pressure.max(), [False]])
    edges = np.nonzero(high[1:] != high[:-1])[0]
    return [slice(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]


def _marks(surface: Surface, piece: Ints) -> Ints:
    """Samples where the pressure is not smooth: the ends of contact, and joints of the rim's pieces under it."""
    touching = np.nonzero(surface.touching)[0]
    if len(touching) < 2:
        return touching
    joints = touching[1:][piece[touching[1:]] != piece[touching[:-1]]]
    return np.array(sorted({*touching[[0, -1]].tolist(), *joints.tolist()}), dtype=np.int64)


def _lines_between(start: float, stop: float, places: Floats, sizes: Floats) -> Floats:
    inside = places[(places > start) & (places < stop)]
    ends = np.concatenate([[start], inside, [stop]])
    return graded_lines(ends, np.interp(ends, places, sizes))
