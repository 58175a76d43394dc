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


@dataclass(frozen=True)
class Fineness:
    """How fine a grid is. ``refined`` halves every length.

    ``arc`` rad of rim arc per surface element; ``smallest``, ``touching``, ``largest`` mm: bounds of the
    element length under the rim and of any element; ``growth`` of the length per mm of distance; ``aspect`` of
    the surface row.
    """

    arc: float = 0.3
    smallest: float = 0.01
    touching: float = 0.45
    largest: float = 1.6
    growth: float = 0.28
    aspect: float = 1.5

    def refined(self, factor: float = 0.5) -> Fineness:
        """Every length times ``factor``; the growth stays, as it shapes the grid."""
        return Fineness(
            self.arc * factor, self.smallest * factor, self.touching * factor, self.largest * factor,
            self.growth * factor, self.aspect,
        )  # fmt: skip


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
    pair: Pair, travel: float, rest: Floats, place: Floats, fineness: Fineness, kept: tuple[float, ...] = ()
) -> tuple[Floats, float]:
    """Column lines for a surface whose points rest at ``rest`` (k,) and stand at ``place`` (k, 2).

    ``kept`` are radii that must be column lines (the edge of a support). Returns the lines and the smallest
    interval.
    """
    steps = np.maximum(np.hypot(*np.diff(place, axis=0).T), 1e-9)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = limited_sizes(along, _wanted(pair, travel, place, fineness), fineness.growth)
    stretch = np.interp(rest, 0.5 * (rest[1:] + rest[:-1]), steps / np.diff(rest))
    sizes = limited_sizes(rest, np.minimum(wanted / stretch, fineness.largest), fineness.growth)
    cuts = [rest[0], *(k for k in kept if rest[0] < k < rest[-1]), rest[-1]]
    pieces = [_lines_between(a, b, rest, sizes) for a, b in pairwise(cuts)]
    lines = np.concatenate([pieces[0]] + [piece[1:] for piece in pieces[1:]])
    return lines, float(np.diff(lines).min())


def _wanted(pair: Pair, travel: float, place: Floats, fineness: Fineness) -> Floats:
    """Element length (k,) wanted on the deformed surface: a share of the radius of the arc that is touched or
    near.
    """
    seen = pair.look(place, travel)
    bend = np.abs(pair.curve.curvature_at(seen.arc_length))
    radius = 1.0 / np.maximum(bend, 1e-6)
    reach = np.maximum(seen.distance, 0.0)
    near = np.minimum(fineness.arc * radius, fineness.touching) + fineness.arc * reach
    return np.clip(near, fineness.smallest, fineness.largest)


def _lines_between(start: float, stop: float, places: Floats, sizes: Floats) -> Floats:
    inside = places[(places > start) & (places < stop)]
    ends = np.concatenate([[start], inside, [stop]])
    return graded_lines(ends, np.interp(ends, places, sizes))
