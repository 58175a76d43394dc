"""Which faces of the lip the breath reaches, and with what share of the mouth's pressure.

Pressures are counted from the cup's, which is zero; the mouth's is P.

- The back within the gap between the teeth: P.
- With a sliding back, the rest of it too, out to the fold where its lining goes over to the gum (`Lip.fold_radius`,
  fading from there over the muscle's `FADE_MM`): the space between lip and gums is part of the mouth. P is laid on
  tissue that has lifted off the teeth and on tissue that touches them alike. Where it touches, that changes nothing
  but the account: teeth and air together push as hard as the teeth alone would. But the teeth's own share is then what
  is left over P, and contact opens where nothing is left, which is when the air would come between. So the load does
  not jump as a node lifts off, and its tangent stays exact.
- The opening's wall: P at the back, falling linearly with the resting depth to nothing at the skin, as in a slot of
  even width whose flow is slow or whose loss is by friction (common practice in models of a channel, no source).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.grids.grid import Grid
from labrum.simulate.contact.air import GAUSS, INNER, AirPressure
from labrum.simulate.contact.supports import reach_of_fold
from labrum.simulate.problem import Lip
from labrum.simulate.tissue.fading import FADE_MM, smooth_rise


def breath_on(lip: Lip, grid: Grid, pressure: float) -> AirPressure:
    """The mouth's ``pressure``, MPa, on all the faces it reaches."""
    air = _behind_to(reach_of_fold(lip), grid, pressure)
    if lip.backing == "bonded":
        air = AirPressure.behind(grid, lip.tooth_gap_radius, pressure)
    return air.and_on(in_opening(grid, pressure)) if lip.opening_radius > 0.0 else air


def in_opening(grid: Grid, pressure: float) -> AirPressure:
    """Air on the wall of the grid's opening: ``pressure``, MPa, at the back, falling linearly with depth to none."""
    elements = np.arange(len(grid.rows) - 1)
    depth = -_along(grid.rows)[:, ::-1]  # the edge is run through from the skin to the back
    return AirPressure(grid, elements, np.tile(INNER, (len(elements), 1)), depth / -grid.rows[0], pressure)


def _behind_to(fold: float, grid: Grid, pressure: float) -> AirPressure:
    whole = AirPressure.behind(grid, np.inf, pressure)
    share = smooth_rise((fold + FADE_MM - _along(grid.columns)) / FADE_MM)
    reached = share.any(axis=1)
    return AirPressure(grid, whole.elements[reached], whole.edges[reached], share[reached], pressure)


def _along(lines: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m, 4) places of the Gauss points between grid lines (m + 1,), mm."""
    return 0.5 * (lines[1:] + lines[:-1])[:, None] + 0.5 * np.diff(lines)[:, None] * GAUSS
