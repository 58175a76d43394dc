"""Where one arc or line of a measured profile gives way to the next: the cheapest division of the points."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.traces.runs import RunningSums

# Parameters a piece brings with it, the place of its knot among them, less the tangency it usually keeps.
LINE_COST, ARC_COST = 2.0, 3.0
MOST_KNOTS = 900
POINTS_A_STEP = 2
FEWEST_IN_PIECE = 5
# Stretch over which a profile is near one circle, and how many points of it tell the noise.
BLOCK_MM, BLOCK_POINTS = 0.25, (6, 12)
# Means of so many neighbours tell whether errors are alike, given so many means and blocks no longer than this;
# from this ratio of variances on it is no chance.
GROUP, FEWEST_GROUPS, ALIKE_MM, ALIKE = 5, 40, 1.0, 1.7


@dataclass(frozen=True)
class Run:
    """Points ``first`` to ``last - 1``, near one line or one arc."""

    first: int
    last: int
    is_arc: bool


def divide(points: Floats, weights: Floats, noise: float, dearness: float = 1.0) -> list[Run]:
    """Divide (n, 2) points in the order of travel into runs near one line or arc each.

    Parameters
    ----------
    points, weights
        (n, 2) mm; (n,) how many measured points each stands for.
    noise
        Standard deviation of one measured point, mm.
    dearness
        Factor on the penalty.

    Returns
    -------
    list of Run
        The division with the least sum of squared distances over the noise's variance plus parameters times
        log(number of points), which is Schwarz's criterion (Schwarz 1978, Ann. Statist. 6:461) for noise of
        known size; found exactly among all divisions at every second point, by dynamic programming (Bellman
        1961; for curves, as in Pei & Horng 1996, from memory).
    """
    n = len(points)
    step = max(POINTS_A_STEP, -(-n // MOST_KNOTS))
    knots = np.unique(np.append(np.arange(0, n, step), n))
    sums = RunningSums.of(points, weights)
    dear = dearness * log(max(float(weights.sum()), 3.0))
    best = np.full(len(knots), np.inf)
    best[0] = 0.0
    came_from = np.zeros(len(knots), dtype=np.int64)
    arc_here = np.zeros(len(knots), dtype=bool)
    for j in range(1, len(knots)):
        behind = np.flatnonzero((knots[j] - knots[:j] >= min(FEWEST_IN_PIECE, n)) & np.isfinite(best[:j]))
        if not len(behind):
            continue
        _, line, circle = sums.squared_errors(knots[behind], np.full(len(behind), knots[j]))
        as_line = line / noise**2 + LINE_COST * dear
        as_arc = circle / noise**2 + ARC_COST * dear
        total = best[behind] + np.minimum(as_line, as_arc)
        k = int(np.argmin(total))
        best[j], came_from[j], arc_here[j] = total[k], behind[k], as_arc[k] < as_line[k]
    return _way_back(knots, came_from, arc_here)


def _way_back(knots: Ints, came_from: Ints, arc_here: NDArray[np.bool_]) -> list[Run]:
    runs, j = [], len(knots) - 1
    while j > 0:
        i = int(came_from[j])
        runs.append(Run(int(knots[i]), int(knots[j]), bool(arc_here[j])))
        j = i
    return runs[::-1]


def noise_of(points: Floats, weights: Floats) -> float:
    """Standard deviation of one measured point about the profile, mm, whatever the profile's shape.

    The middle one of the variances about a circle through every six to twelve neighbours; corners and joints
    spoil a few of them, which leaves the middle one alone.
    """
    far = max(1, min(BLOCK_POINTS[1], len(points) - 1))  # over several steps, which noise lengthens less
    apart = float(np.median(np.hypot(*(points[far:] - points[:-far]).T))) / far
    blocks = max(1, len(points) // int(np.clip(BLOCK_MM / max(apart, 1e-9), *BLOCK_POINTS)))
    ends = np.linspace(0, len(points), blocks + 1).astype(np.int64)
    _, _, circle = RunningSums.of(points, weights).squared_errors(ends[:-1], ends[1:])
    freedom = np.diff(ends) - 3.0
    variance = circle[freedom > 0] / freedom[freedom > 0]
    if not len(variance):
        return 0.0
    middle = (1.0 - 2.0 / (9.0 * freedom.mean())) ** 3  # median of chi-squared over its mean (Wilson, Hilferty)
    return float(np.sqrt(np.median(variance) / middle))


def alike_noise_of(points: Floats, weights: Floats) -> float:
    """Noise that independent points would need to scatter as means of neighbours do, mm.

    Larger than `noise_of` where neighbours' errors are alike: a fit that took them for independent would see
    shape in them. Means of five neighbours tell, as long as they are close together.
    """
    noise = noise_of(points, weights)
    count = len(points) // GROUP * GROUP
    length = float(np.hypot(*np.diff(points[::GROUP], axis=0).T).sum())
    if count < FEWEST_GROUPS * GROUP or length / count * GROUP * BLOCK_POINTS[0] > ALIKE_MM:
        return noise
    load = weights[:count].reshape(-1, GROUP)
    mean = (points[:count].reshape(-1, GROUP, 2) * load[..., None]).sum(axis=1) / load.sum(axis=1)[:, None]
    wide = noise_of(mean, load.sum(axis=1)) / max(noise, 1e-12)
    return noise * wide if wide**2 > ALIKE else noise
