"""The loosest tolerance that keeps the peak within so many per cent: guessed by a fit, then solved until it holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from labrum.cases.sweeping.expansion import unit_sample
from labrum.cases.sweeping.plan import Sample
from labrum.cases.tolerancing.shares import Fit
from labrum.meshes.arrays import Floats

SHARE = 0.95
LARGEST_FACTOR = 3.0
ROUNDS = 6
CLOSE = 1.1
GUESSES = 2048


@dataclass(frozen=True)
class Loosest:
    """All tolerances times ``factor``: the ``share`` of ``solved`` rims whose peak is within; ``holds`` if enough are.

    ``is_most`` where it would hold for looser ones yet than are tried.
    """

    factor: float
    share: float
    solved: int
    holds: bool
    is_most: bool


SolveTolerance = Callable[[Floats], Floats]
"""From places (n, d), beyond 1 too, to the peaks (n,), NaN where there is no result."""


def loosest(fit: Fit, nominal: float, keep_percent: float, solve: SolveTolerance, points: int, seed: int) -> Loosest:
    """Find the factor on all tolerances; its answer rests on solved rims only.

    A rim that has no result counts as one whose peak is not within.
    """
    sample = 2.0 * unit_sample(fit.degrees.shape[1], Sample(points, seed)) - 1.0
    factor, allowed = _guess(fit, nominal, keep_percent, seed), keep_percent / 100 * nominal
    held, missed, share_held = 0.0, np.inf, 0.0
    for _ in range(ROUNDS):
        off = np.abs(solve(factor * sample) - nominal)
        share = float(np.mean(off <= allowed))
        if share >= SHARE:
            held, share_held = factor, share
        else:
            missed = factor
        if missed <= CLOSE * held or (held > 0 and np.isinf(missed)):
            break
        factor = 0.5 * (held + missed) if held > 0 else factor * _shrink(off, allowed)
    return Loosest(held or factor, share_held or share, points, held > 0, held >= LARGEST_FACTOR)


def _shrink(off: Floats, allowed: float) -> float:
    """By how much to tighten after a miss: what is off grows about as the tolerances do."""
    known = off[~np.isnan(off)]
    if len(known) == 0:
        return 0.5
    return min(0.98, 0.99 * allowed / max(float(np.quantile(known, SHARE, method="higher")), 1e-12))


def _guess(fit: Fit, nominal: float, keep_percent: float, seed: int) -> float:
    places = 2.0 * unit_sample(fit.degrees.shape[1], Sample(GUESSES, seed)) - 1.0
    factors = np.linspace(0.02, LARGEST_FACTOR, 150)
    off = [np.quantile(np.abs(fit.at(factor * places) - nominal), SHARE) for factor in factors]
    within = factors[np.array(off) <= keep_percent / 100 * nominal]
    return float(within[-1]) if len(within) else float(factors[0])
