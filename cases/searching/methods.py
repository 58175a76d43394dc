"""How a search moves: existing optimisers, fed with rims that are solved as they ask for them."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

import numpy as np
from scipy.optimize import NonlinearConstraint, differential_evolution, minimize
from scipy.stats import qmc

from labrum.cases.searching.plan import COBYQA, EVOLUTION
from labrum.cases.searching.trials import EnoughTried, Trials, Tried, levels
from labrum.meshes.arrays import Floats

FIRST_REACH, LAST_REACH = 0.15, 0.005
POPULATION = 6
MARGIN = 0.002
UNSOLVED = 1.0
"""How far beyond the worst so far a rim without a result is taken to lie, in spreads of the scores."""


def search_from(trials: Trials) -> None:
    """Try rims until the effort is spent or the method sees no way on: first spread out, then from the best."""
    effort = trials.plan.effort
    with suppress(EnoughTried):
        spread_out = first_places(len(trials.plan.spans), effort.first, effort.seed)
        trials.prepare(spread_out)
        for place in spread_out:
            trials.at(place)
        METHODS[effort.method](trials)


def first_places(count: int, points: int, seed: int) -> Floats:
    """Places (points, count): the middle, then a scrambled Sobol sequence."""
    sequence = qmc.Sobol(count, scramble=True, seed=seed).random_base2(max(0, int(np.ceil(np.log2(max(1, points))))))
    return np.vstack([np.full((1, count), 0.5), sequence])[:points]


def by_cobyqa(trials: Trials) -> None:
    """Go downhill by quadratic models without derivatives, limits included (COBYQA; Ragonneau 2022, as in scipy)."""
    best = trials.best()
    start = np.full(len(trials.plan.spans), 0.5) if best is None else best.place
    scale = _spread_of(trials)
    bounds = trials.plan.bounds
    sizes = _spreads(trials)
    # Aimed a little inside, for the method lets limits be broken by a little and a rim that breaks one is no answer.
    inside = [min(MARGIN * size, b.within or b.scale) for size, b in zip(sizes, bounds, strict=True)]
    least = np.array([b.least - b.within + margin for b, margin in zip(bounds, inside, strict=True)])
    most = np.array([b.most + b.within - margin for b, margin in zip(bounds, inside, strict=True)])
    limits = [NonlinearConstraint(lambda place: _limited(trials, place) / sizes, least / sizes, most / sizes)]
    minimize(
        lambda place: _scored(trials, place) / scale,
        start,
        method="COBYQA",
        bounds=[(0.0, 1.0)] * len(start),
        constraints=limits if bounds else (),
        options={"initial_tr_radius": FIRST_REACH, "final_tr_radius": LAST_REACH, "maxfev": trials.most},
    )


def by_evolution(trials: Trials) -> None:
    """Mutate and select (differential evolution, Storn & Price 1997, as in scipy), for spaces with several valleys.

    Broken limits are charged at the spread of the scores for each scale a limit is broken by.
    """
    scale = _spread_of(trials)

    def cost(place: Floats) -> float:
        trial = trials.at(place)
        if trial.score is None:
            return _scored(trials, place) + 10 * scale
        return trial.score + 20.0 * scale * trials.broken(trial.excess)

    differential_evolution(
        cost,
        [(0.0, 1.0)] * len(trials.plan.spans),
        popsize=POPULATION,
        maxiter=trials.most,
        rng=trials.plan.effort.seed,
        polish=False,
        tol=1e-3,
    )


METHODS: dict[str, Callable[[Trials], None]] = {COBYQA: by_cobyqa, EVOLUTION: by_evolution}


def _scores(trials: Trials) -> list[float]:
    return [trial.score for trial in trials.tried.values() if trial.score is not None]


def _spread_of(trials: Trials) -> float:
    scores = _scores(trials)
    return float(max(np.ptp(scores), 1e-9 + 1e-3 * abs(scores[0]))) if scores else 1.0


def _spreads(trials: Trials) -> Floats:
    """How much each limited measure differs between the rims tried, (k,)."""
    solved = [levels(trial, trials.plan.bounds) for trial in trials.tried.values() if trial.score is not None]
    own = np.array([bound.scale for bound in trials.plan.bounds])
    if len(solved) < 2:
        return own
    first_places: Floats = np.maximum(np.ptp(solved, axis=0), 1e-6 * own)
    return first_places


def _scored(trials: Trials, place: Floats) -> float:
    trial = trials.at(place)
    if trial.score is not None:
        return trial.score
    return max(_scores(trials), default=0.0) + UNSOLVED * _spread_of(trials)


def _limited(trials: Trials, place: Floats) -> Floats:
    trial = trials.at(place)
    bounds = trials.plan.bounds
    if trial.score is not None:
        return levels(trial, bounds)
    # A rim without a result says nothing of its measures: those of the nearest one that has.
    near = _nearest(trials, trial)
    return np.zeros(len(bounds)) if near is None else levels(near, bounds)


def _nearest(trials: Trials, trial: Tried) -> Tried | None:
    have = [other for other in trials.tried.values() if other.score is not None]
    return min(have, key=lambda other: float(np.linalg.norm(other.place - trial.place))) if have else None
