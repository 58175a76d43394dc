"""What the muscle does to the lip as it contracts: how far the opening closes, and how much the fibres shorten."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.rims.rim import Rim
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.traction import peak
from labrum.simulate.load_path.transfer import displacement_at
from labrum.simulate.problem import Problem
from labrum.simulate.readings.crest import crest_height
from labrum.simulate.tissue.elements import POINTS

RING_RADIUS_MM = 2.0  # where the travel is read when there is no opening
Standing = tuple[Model, State]


@dataclass(frozen=True)
class Contraction:
    """What changed from a relaxed equilibrium to the contracted one; lengths mm.

    ``aperture`` inward travel of the opening's narrowest place, wherever in the depth that is before and after;
    ``skin`` that of its margin at the skin; without an opening, of the ring that rests at `RING_RADIUS_MM`.
    ``shortening`` N mm: integral over the resting volume of the active hoop stress times the fall of the hoop stretch,
    the work the fibres would do at their full stress. ``crest`` rise of the tissue's highest point over the high
    point's plane.
    """

    aperture: float
    skin: float
    shortening: float
    crest: float

    def over(self, free: Contraction) -> Freedom:
        """What of the travels and of the shortening is left, over ``free``, the same lip's without a rim.

        The margin at the skin is set against the free travel of the narrowest place too: its own may be next to none.
        """
        return Freedom(self.aperture / free.aperture, self.skin / free.aperture, self.shortening / free.shortening)


@dataclass(frozen=True)
class Freedom:
    """Rim on over rim off: travel at the narrowest place, at the skin, and the fibres' shortening.

    1 is free, 0 pinned; a negative one at the skin opens there. The shortening may exceed 1: the press has stretched
    the fibres, which a free lip's are not, and a muscle that pulls and stiffens takes much of that back. On the average
    lip, 20 N, friction 0.15, activation 0.3, their mean stretch goes from 1.080 to 0.984 under the rim and from 1.003
    to 0.930 without it, a ratio of 1.33; were it not to stiffen, the ratio would be 1.01.
    """

    aperture: float
    skin: float
    shortening: float


def contraction_between(problem: Problem, before: Standing, after: Standing) -> Contraction:
    """Read what contraction did; the two equilibria may stand on different grids."""
    wall, moved = margin_radii(problem, before), margin_radii(problem, after)
    return Contraction(
        aperture=_narrowest(wall) - _narrowest(moved),
        skin=float(wall[-1] - moved[-1]),
        shortening=_shortening(before, after),
        crest=_crest(problem.rim, after) - _crest(problem.rim, before),
    )


def margin_radii(problem: Problem, standing: Standing) -> Floats:
    """(nodes_per_column,) deformed radii, mm, of the opening's margin (or the ring) at the grid's node rows, back to
    skin.
    """
    (model, state), radius = standing, problem.lip.opening_radius or RING_RADIUS_MM
    grid = model.elements.grid
    line = np.column_stack([np.full(grid.nodes_per_column, radius), grid.node_rows])
    return np.asarray(radius + displacement_at(grid, state.u, line)[:, 0], dtype=np.float64)


def _narrowest(radii: Floats) -> float:
    """Smallest radius of the margin: quadratic between a row's three nodes, as the displacement is."""
    return -peak(-radii, np.ones(len(radii), bool))[0]


def _shortening(before: Standing, after: Standing) -> float:
    (old, relaxed), (new, contracted) = before, after
    elements, grid = new.elements, new.elements.grid
    height = grid.origins[:, 1:] + 0.5 * grid.sizes[:, 1:] * POINTS[:, 1]
    points = np.column_stack([elements.radius.ravel(), height.ravel()])
    moved = displacement_at(old.elements.grid, relaxed.u, points)[:, 0].reshape(elements.radius.shape)
    fall = 1.0 + moved / elements.radius - elements.gradients(contracted.u)[..., 4]
    return float(np.sum(elements.weight * elements.tissue.active * fall))


def _crest(rim: Rim, standing: Standing) -> float:
    model, state = standing
    return crest_height(model, state, rim) + state.travel
