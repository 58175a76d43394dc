"""What a measure may be between solved cases: linear, or by a Gaussian process with its error by cross-validation.

Either only draws; whatever is answered as a number has been solved.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.interpolate import LinearNDInterpolator

from labrum.cases.exits import CannotDo
from labrum.meshes.arrays import Floats

FOLDS = 10
FEWEST_FOR_PROCESS = 12


@dataclass(frozen=True)
class Interpolated:
    """Values at the places asked for, (n,): NaN beyond the solved ones.

    ``error`` is the root mean square of what each tenth of the cases is missed by when the rest predict it; None for a
    linear reading, which is not tested.
    """

    values: Floats
    error: float | None


Reader = Callable[[Floats, Floats, Floats], Interpolated]
"""From solved places (k, d), their values (k,), and places asked for (n, d)."""


def linear(solved: Floats, values: Floats, asked: Floats) -> Interpolated:
    """Read linearly between neighbouring solved cases."""
    return Interpolated(LinearNDInterpolator(solved, values, rescale=True)(asked), None)


def by_process(solved: Floats, values: Floats, asked: Floats) -> Interpolated:
    """Read by a Gaussian process with one length a dimension and a scatter of its own (Rasmussen & Williams 2006).

    Raises
    ------
    CannotDo
        Without the extra that has it, or with too few cases to test it.
    """
    if len(values) < FEWEST_FOR_PROCESS:
        raise CannotDo(f"{len(values)} cases have results; testing a Gaussian process takes {FEWEST_FOR_PROCESS}")
    low, reach = solved.min(axis=0), np.ptp(solved, axis=0)
    places = (solved - low) / reach
    process = _fitted(places, values)
    level = process.predict((asked - low) / reach)
    beyond = np.isnan(linear(solved, values, asked).values)
    return Interpolated(np.where(beyond, np.nan, level), _error(process, places, values))


def _fitted(places: Floats, values: Floats) -> Any:
    try:
        from sklearn.exceptions import ConvergenceWarning
        from sklearn.gaussian_process import GaussianProcessRegressor
        from sklearn.gaussian_process.kernels import RBF, ConstantKernel, WhiteKernel
    except ModuleNotFoundError:
        raise CannotDo("--surrogate needs an extra: pip install 'labrum[surrogate]'") from None
    lengths = RBF(np.full(places.shape[1], 0.5), (0.05, 20.0))
    kernel = ConstantKernel(1.0, (1e-2, 1e3)) * lengths + WhiteKernel(1e-4, (1e-8, 1e-1))
    process = GaussianProcessRegressor(kernel, normalize_y=True, n_restarts_optimizer=2, random_state=0)
    with warnings.catch_warnings():
        # A length at the end of its range says that a dimension hardly matters, which is no fault.
        warnings.simplefilter("ignore", ConvergenceWarning)
        return process.fit(places, values)


def _error(process: Any, places: Floats, values: Floats) -> float:
    """Predict each tenth of the cases from the others, the lengths as found."""
    from sklearn.base import clone

    missed = np.empty(len(values))
    order = np.random.default_rng(0).permutation(len(values))
    for fold in np.array_split(order, min(FOLDS, len(values))):
        rest = np.setdiff1d(order, fold)
        other = clone(process).set_params(kernel=process.kernel_, optimizer=None).fit(places[rest], values[rest])
        missed[fold] = other.predict(places[fold]) - values[fold]
    return float(np.sqrt(np.mean(missed**2)))
