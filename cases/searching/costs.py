"""What holds a search back, and what each limit costs: the multipliers at the rim it found.

At the best rim the goal's slope is held by the slopes of whatever limits are reached (Karush 1939, Kuhn & Tucker 1951):
g + sum of m_i a_i = 0, a_i the outward slope of limit i, m_i nought or more. m_i is what the goal would gain for one
unit of limit i. Slopes are taken between solved rims to both sides, the multipliers by least squares.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import lsq_linear

from labrum.cases.searching.goals import Bound, number
from labrum.cases.searching.trials import Trials, Tried, ends_of
from labrum.meshes.arrays import Floats

REACH = 0.04
NEAR_SCALE = 0.01
NEAR_END = 0.02


@dataclass(frozen=True)
class Cost:
    """A limit that is reached, in words, and what the goal would gain for one ``unit`` more room."""

    limit: str
    gain: float
    unit: str


@dataclass(frozen=True)
class Costs:
    """Limits reached at a rim; ``unexplained`` is the share of the goal's slope that they do not account for."""

    reached: tuple[Cost, ...]
    unexplained: float


def costs_at(trials: Trials, best: Tried) -> Costs | None:
    """Take the multipliers at a rim; None where its neighbours could not be solved."""
    slopes = _slopes(trials, best)
    if slopes is None:
        return None
    goal, limits = slopes
    names, outward, free = _reached(trials, best, limits)
    if not names:
        return Costs((), 1.0 if np.linalg.norm(goal) > 0 else 0.0)
    sizes = np.linalg.norm(outward, axis=1)
    shapes = outward / sizes[:, None]
    found = lsq_linear(shapes.T, -goal, (np.where(free, -np.inf, -1e-12), np.full(len(free), np.inf)))
    gains = found.x / sizes
    left = float(np.linalg.norm(goal + shapes.T @ found.x) / max(float(np.linalg.norm(goal)), 1e-12))
    reached = [Cost(name, float(gain), unit) for (name, unit), gain in zip(names, gains, strict=True)]
    return Costs(tuple(reached), left)


def _slopes(trials: Trials, best: Tried) -> tuple[Floats, Floats] | None:
    """Slopes of the goal (n,) and of the limited measures (k, n) per unit of each dimension."""
    low, high = ends_of(trials.plan)
    trials.prepare(_place_beside(best, axis, way) for axis in range(len(low)) for way in (-REACH, REACH))
    goal, limits = [], []
    for axis in range(len(low)):
        sides = [_beside(trials, best, axis, way) for way in (-REACH, REACH)]
        if any(side.score is None for side in sides):
            return None
        before, after = sides
        run = (after.place[axis] - before.place[axis]) * (high[axis] - low[axis])
        assert before.score is not None
        assert after.score is not None
        goal.append((after.score - before.score) / run)
        limits.append([_rise(bound, before, after) / run for bound in trials.plan.bounds])
    return np.array(goal), np.array(limits).T.reshape(len(trials.plan.bounds), len(low))


def _beside(trials: Trials, best: Tried, axis: int, way: float) -> Tried:
    return trials.at(_place_beside(best, axis, way))


def _place_beside(best: Tried, axis: int, way: float) -> Floats:
    place = best.place.copy()
    place[axis] = np.clip(place[axis] + way, 0.0, 1.0)
    return place


def _rise(bound: Bound, before: Tried, after: Tried) -> float:
    return number(after.measures, bound.measure) - number(before.measures, bound.measure)


def _reached(
    trials: Trials, best: Tried, limits: Floats
) -> tuple[list[tuple[str, str]], Floats, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Names and units, outward slopes (m, n) and freedom of sign of what is reached."""
    names: list[tuple[str, str]] = []
    outward: list[Floats] = []
    free: list[bool] = []
    for bound, slope in zip(trials.plan.bounds, limits, strict=True):
        value = number(best.measures, bound.measure)
        for end, sign in ((bound.least, -1.0), (bound.most, 1.0)):
            if abs(value - end) <= bound.within + NEAR_SCALE * bound.scale and not (bound.is_equality and sign < 0):
                names.append((f"{bound.measure} {'=' if bound.is_equality else '<=' if sign > 0 else '>='} {end:g}",
                              bound.measure))  # fmt: skip
                outward.append(sign * slope)
                free.append(bound.is_equality)
    for axis, span in enumerate(trials.plan.spans):
        for end, at, sign in ((span.low, 0.0, -1.0), (span.high, 1.0, 1.0)):
            if abs(best.place[axis] - at) <= NEAR_END:
                names.append((f"{span.name} {'<=' if sign > 0 else '>='} {end:g}", span.name))
                outward.append(sign * np.eye(len(trials.plan.spans))[axis])
                free.append(False)
    return names, np.array(outward), np.array(free, dtype=bool)
