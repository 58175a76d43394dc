"""Which parameter matters most, told twice: by derivatives at the nominal, and by Sobol indices over the whole box.

The indices are read off a least-squares fit of Legendre polynomials to all solved cases (Sudret 2008, Reliab. Eng.
Syst. Saf. 93:964, from memory): the polynomials are orthogonal over the box, so each term's squared coefficient is its
share of the variance. The first-order shares by derivatives are (f_i t_i)^2 over their sum; where the measure is nearly
linear within the tolerances, both must agree, and how far they do not is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from labrum.meshes.arrays import Floats

POINTS_PER_TERM = 1.4
"""Cases to a term of the fit: with fewer, products of two parameters are left out."""


@dataclass(frozen=True)
class Shares:
    """Shares of a measure's variance, (d,) each.

    ``by_slopes`` from derivatives; ``single`` and ``total`` Sobol indices; ``unexplained`` the share of the variance
    that the fit misses in leave-one-out prediction: the solver's scatter, and curvature beyond the second degree.
    """

    by_slopes: Floats
    single: Floats
    total: Floats
    unexplained: float

    @property
    def gap(self) -> float:
        """The greatest difference between both ways of telling."""
        return float(np.max(np.abs(self.by_slopes - self.single)))


@dataclass(frozen=True)
class Fit:
    """A polynomial over the box: the parameters' degrees (m, d) and coefficients (m,) of orthonormal terms."""

    degrees: np.ndarray[tuple[int, int], np.dtype[np.int64]]
    coefficients: Floats
    unexplained: float

    def at(self, places: Floats) -> Floats:
        """Value at places (n, d); outside the box it is a guess."""
        value: Floats = _terms(places, self.degrees) @ self.coefficients
        return value


def polynomial_fit(places: Floats, values: Floats) -> Fit:
    """Fit values (n,) at places (n, d) from -1 to 1 by polynomials of the second degree."""
    degrees = _degrees(places.shape[1], products=True)
    if len(values) < POINTS_PER_TERM * len(degrees):
        degrees = _degrees(places.shape[1], products=False)
    terms = _terms(places, degrees)
    coefficients: Floats = np.asarray(np.linalg.lstsq(terms, values, rcond=None)[0], dtype=np.float64)
    return Fit(degrees, coefficients, _missed(terms, values, coefficients))


def shares(places: Floats, values: Floats) -> Shares:
    """Tell both ways; ``places`` (n, d) begin with the nominal and the pairs of ends, as a design lays them out."""
    count = places.shape[1]
    rises = 0.5 * (values[2 : 2 + 2 * count : 2] - values[1 : 1 + 2 * count : 2])
    fit = polynomial_fit(places, values)
    squares, used = fit.coefficients**2, fit.degrees > 0
    varied = squares[used.any(axis=1)].sum() or 1.0
    alone = used.sum(axis=1) == 1
    single = np.array([squares[alone & used[:, axis]].sum() for axis in range(count)]) / varied
    total = np.array([squares[used[:, axis]].sum() for axis in range(count)]) / varied
    return Shares(rises**2 / (np.sum(rises**2) or 1.0), single, total, fit.unexplained)


def _degrees(count: int, products: bool) -> np.ndarray[tuple[int, int], np.dtype[np.int64]]:
    one = np.eye(count, dtype=np.int64)
    pairs = [one[i] + one[j] for i, j in combinations(range(count), 2)] if products else []
    return np.vstack([np.zeros(count, dtype=np.int64), one, 2 * one, *pairs])


def _terms(places: Floats, degrees: np.ndarray[tuple[int, int], np.dtype[np.int64]]) -> Floats:
    """Orthonormal over the uniform box: 1, sqrt(3) x, sqrt(5) (3 x^2 - 1) / 2, and products."""
    kinds = np.stack([np.ones_like(places), np.sqrt(3.0) * places, np.sqrt(5.0) * (1.5 * places**2 - 0.5)])
    terms = np.ones((len(places), len(degrees)))
    for axis in range(places.shape[1]):
        terms *= kinds[degrees[:, axis], :, axis].T
    return terms


def _missed(terms: Floats, values: Floats, coefficients: Floats) -> float:
    """Leave-one-out error of a least-squares fit as a share of the variance (Allen's PRESS)."""
    hat = np.einsum("ij,ji->i", terms, np.linalg.pinv(terms))
    left = (values - terms @ coefficients) / np.maximum(1e-9, 1.0 - hat)
    variance = float(np.var(values))
    return float(np.mean(left**2)) / variance if variance > 0 else 0.0
