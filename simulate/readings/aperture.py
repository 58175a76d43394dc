"""How stiff the opening is: the answer of the pressed lip to a small load on the opening's wall."""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.small_loads import SmallLoads


def aperture_stiffness(model: Model, state: State) -> float | None:
    """Radial load on the opening's wall over the wall's mean radial travel, N/mm; None where there is no opening.

    The load is the same on every part of the resting wall, counted over the full circle; the travel is the mean over
    that wall. The tangent is the exact one at the equilibrium, the rim stands still, touching nodes go on touching and
    sticking ones sticking. The nodes' shares of the load and of the mean are Simpson's, the same for both, so the
    number is the work-conjugate one.
    """
    grid = model.elements.grid
    if grid.columns[0] == 0.0:
        return None
    share = np.zeros_like(state.u)
    share[grid.inner_edge, 0] = wall_shares(np.diff(grid.rows))
    moved = SmallLoads.on(model, state).displacements(share)
    return float(1.0 / np.sum(share * moved))


def wall_shares(heights: Floats) -> Floats:
    """(2 k + 1,) share of the wall each node of k edges stands for, by Simpson's weights; they add up to 1."""
    out = np.zeros(2 * len(heights) + 1)
    for first, weight in ((0, 1 / 6), (1, 4 / 6), (2, 1 / 6)):
        out[first : first + 2 * len(heights) : 2] += weight * heights
    return np.asarray(out / heights.sum(), dtype=np.float64)
