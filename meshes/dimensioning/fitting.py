"""Least squares of a rim's dimensions to points on its outline (scipy.optimize.least_squares)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.dimensioning.box_coordinates import (
    DEPTH,
    HIGH,
    INNER_BEND,
    INNER_RUN,
    KEYS,
    LOW,
    OUTER_BEND,
    OUTER_RUN,
    WALL,
    from_box,
    slopes_at,
    values_of,
)
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions

# So many points find the place; all of them then set it.
ENOUGH_POINTS = 1200
STEP = 1e-6
# A start stands so far from the ends, as a share of what lies between them.
NEAR_END = 1e-5
# A crown whose curvature is no more than so many times its uncertainty cannot be told from a flat one.
FLAT_SIGMAS = 2.0
# A direction that moves no point by this share of what the best known one does is not told by the points.
BLIND = 1e-9
ITS_OWN = {"high_point": INNER_RUN, "cup_wall_angle_deg": WALL, "cup_depth_mm": DEPTH}
"""Dimensions that nothing but one coordinate tells: where that was held, they are not known."""
SCALES = np.array([1.0, 1.0, 1.0, 0.3, 0.3, 0.3, 0.3, 0.2, 1.0, 0.1])


@dataclass(frozen=True)
class BoxFit:
    """Where a fit ended.

    Parameters
    ----------
    x
        (10,) box coordinates.
    free
        (10,) which of them the points set; the others stayed as they were given.
    residual
        (n,) signed distances of the points from the outline drawn, mm.
    covariance
        (10, 10) of the coordinates: nought where one was held, infinite on the diagonal where the points do not tell.
    """

    x: Floats
    free: Bools
    residual: Floats
    covariance: Floats

    @property
    def dimensions(self) -> RimDimensions:
        """The dimensions found."""
        return from_box(self.x)

    @property
    def scatter(self) -> float:
        """Standard deviation of the points about the outline, mm."""
        return _scatter(self.residual, int(self.free.sum()))

    def uncertainties(self) -> dict[str, float]:
        """Standard uncertainty of every dimension, to first order; infinite where the points do not tell it."""
        out = {}
        for key, row, value in zip(KEYS, slopes_at(self.x), values_of(self.dimensions), strict=True):
            on = np.abs(row) > 0.0
            blind = not on.any() or not np.isfinite(value) or not np.isfinite(np.diag(self.covariance)[on]).all()
            untold = key in ITS_OWN and not self.free[ITS_OWN[key]]
            variance = row[on] @ self.covariance[np.ix_(on, on)] @ row[on]
            out[key] = np.inf if blind or untold else float(np.sqrt(variance))
        return out


def distances(x: Floats, points: Floats) -> Floats:
    """(n,) signed distances of (n, 2) points, mm, from the outline that (10,) box coordinates draw."""
    curve = rim_from_dimensions(from_box(x)).curve
    return np.asarray(curve.nearest(points - (0.0, x[-1])).distance)


def fit_box(start: Floats, free: Bools, points: Floats) -> BoxFit:
    """Bring the free coordinates of (10,) ``start`` to the least sum of squared distances of (n, 2) points.

    A crown that the points cannot tell from a flat one is made flat; where both are, the high point stays where it was.

    Raises
    ------
    GeometryError
        If on the way there is no rim.
    """
    few = points[:: max(1, len(points) // ENOUGH_POINTS)]
    fit = _fit(_fit(start, free, few).x, free, points)
    flat = _flat_crowns(fit)
    if not flat.any():
        return fit
    x, still = np.where(flat, 0.0, fit.x), fit.free & ~flat
    if x[INNER_BEND] == 0.0 == x[OUTER_BEND]:
        x[OUTER_RUN] += x[INNER_RUN] - start[INNER_RUN]
        x[INNER_RUN], still[INNER_RUN] = start[INNER_RUN], False
    return _fit(x, still, points)


def _fit(start: Floats, free: Bools, points: Floats) -> BoxFit:
    low, high = LOW[free], HIGH[free]

    def whole(part: Floats) -> Floats:
        x = start.copy()
        x[free] = part
        return x

    def slopes(part: Floats) -> Floats:
        """(n, k) central differences: distances are exact to rounding, and a ratio near nought keeps its step."""
        out = []
        for k in range(len(part)):
            ahead, behind = part.copy(), part.copy()
            ahead[k], behind[k] = min(part[k] + STEP, high[k]), max(part[k] - STEP, low[k])
            out.append((distances(whole(ahead), points) - distances(whole(behind), points)) / (ahead[k] - behind[k]))
        return np.column_stack(out)

    inside = np.clip(start[free], low + NEAR_END * (high - low), high - NEAR_END * (high - low))
    found = least_squares(lambda part: distances(whole(part), points), inside, slopes, (low, high),
                          x_scale=SCALES[free], xtol=1e-9, ftol=1e-9, max_nfev=60)
    x = whole(found.x)
    spread = np.zeros((len(x), len(x)))
    spread[np.ix_(free, free)] = _covariance(np.asarray(found.jac), found.fun, SCALES[free])
    return BoxFit(x, free, np.asarray(found.fun), spread)


def _covariance(jacobian: Floats, residual: Floats, scales: Floats) -> Floats:
    """s^2 (J^T J)^-1, s the points' own scatter; infinite variance along what moves no point."""
    _, size, way = np.linalg.svd(jacobian * scales, full_matrices=False)
    seen = size > BLIND * size[0]
    root = scales[:, None] * (way[seen].T / size[seen])
    blind = (np.abs(way[~seen]) > 1e-3).any(axis=0)
    out = _scatter(residual, len(scales)) ** 2 * (root @ root.T)
    out[blind, blind] = np.inf
    return np.asarray(out)


def _scatter(residual: Floats, parameters: int) -> float:
    return float(np.sqrt(residual @ residual / max(len(residual) - parameters, 1)))


def _flat_crowns(fit: BoxFit) -> Bools:
    """(10,) crowns' curvatures that are free and nought within their doubt."""
    flat = np.zeros(len(fit.x), dtype=bool)
    for k in (INNER_BEND, OUTER_BEND):
        doubt = float(np.sqrt(fit.covariance[k, k]))
        flat[k] = fit.free[k] and fit.x[k] <= FLAT_SIGMAS * doubt
    return flat
