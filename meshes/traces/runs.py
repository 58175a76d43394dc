"""Lines and circles through many runs of points at once, from running sums: what a search for knots needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats, Ints

NEWTON_STEPS = 40


@dataclass(frozen=True)
class RunningSums:
    """Sums of products of coordinates up to each point, in extended precision: differences lose digits."""

    sums: NDArray[np.longdouble]

    @classmethod
    def of(cls, points: Floats, weights: Floats) -> RunningSums:
        """Prepare (n, 2) points with (n,) weights."""
        x, y = (points - points.mean(axis=0)).astype(np.longdouble).T
        z = x * x + y * y
        rows = np.array([np.ones_like(x), x, y, x * x, x * y, y * y, x * z, y * z, z * z]) * weights
        return cls(np.concatenate([np.zeros((9, 1), dtype=np.longdouble), rows.cumsum(axis=1)], axis=1))

    def squared_errors(self, first: Ints, last: Ints) -> tuple[Floats, Floats, Floats]:
        """Weight, and weighted sums of squared distances from the best line and circle, of many runs.

        Parameters
        ----------
        first, last
            (k,) each run holds the points ``first`` to ``last - 1``.

        Returns
        -------
        weight, line, circle
            (k,) each. The circle is Pratt's, to which a line is but one more circle: the least root of its
            characteristic polynomial is the mean squared distance, to first order in the noise (Pratt 1987,
            Chernov 2010, section 5.5; the formulas from memory, checked in tests against direct fits).
        """
        weight, xx, xy, yy, xz, yz, zz = _central(self.sums[:, last] - self.sums[:, first])
        mean = xx + yy
        spread = np.sqrt(np.maximum(0.25 * (xx - yy) ** 2 + xy * xy, 0.0))
        line = np.maximum(0.5 * mean - spread, 0.0)
        circle = np.minimum(_pratt_root(xx, xy, yy, xz, yz, zz), line)
        return weight, weight * line, weight * circle


def _central(total: NDArray[np.longdouble]) -> tuple[Floats, ...]:
    """Weight and mean products about the mean of each run; z is the squared distance from that mean."""
    weight = np.maximum(total[0], np.longdouble(1e-300))
    a, b, xx, xy, yy, xz, yz, zz = total[1:] / weight
    c = a * a + b * b
    z = xx + yy
    cxx, cxy, cyy = xx - a * a, xy - a * b, yy - b * b
    # z' = z - 2 a x - 2 b y + c about the mean (a, b): each product expanded once.
    cxz = xz - a * z - 2 * a * cxx - 2 * b * cxy
    cyz = yz - b * z - 2 * a * cxy - 2 * b * cyy
    czz = (zz - z * z - 4 * a * (xz - a * z) - 4 * b * (yz - b * z)
           + 4 * (a * a * cxx + 2 * a * b * cxy + b * b * cyy)) + (z - c) ** 2
    return tuple(np.asarray(m, dtype=np.float64) for m in (total[0], cxx, cxy, cyy, cxz, cyz, czz))


def _pratt_root(xx: Floats, xy: Floats, yy: Floats, xz: Floats, yz: Floats, zz: Floats) -> Floats:
    """Least root of Pratt's characteristic polynomial, by Newton's steps up from 0, which never overshoot."""
    mz = xx + yy
    cov = xx * yy - xy * xy
    a2 = 4.0 * cov - 3.0 * mz * mz - zz
    a1 = zz * mz + 4.0 * cov * mz - xz * xz - yz * yz - mz**3
    a0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - (zz - mz * mz) * cov
    root = np.zeros_like(mz)
    for _ in range(NEWTON_STEPS):
        value = a0 + root * (a1 + root * (a2 + 4.0 * root * root))
        slope = a1 + root * (2.0 * a2 + 16.0 * root * root)
        step = np.divide(value, slope, out=np.zeros_like(value), where=slope > 0.0)
        root = np.maximum(root - step, 0.0)
        if (np.abs(step) <= 1e-10 * mz).all():
            break
    return root


def hyper_circle(points: Floats, weights: Floats) -> tuple[float, float, float]:
    """Centre and radius of the circle through (n, 2) points that is free of bias to the order of the noise.

    The algebraic fit called Hyper (Al-Sharadqah & Chernov 2009, Electron. J. Stat. 3:886; the formulas from
    memory). The radius is infinite where the points lie on a line.
    """
    middle = np.average(points, axis=0, weights=weights)
    x, y = (points - middle).T
    size = float(np.sqrt(np.average(x * x + y * y, weights=weights))) or 1.0
    x, y = x / size, y / size
    z = x * x + y * y
    xx, xy, yy, xz, yz, zz = (float(np.average(p, weights=weights))
                              for p in (x * x, x * y, y * y, x * z, y * z, z * z))
    mz, cov, var = xx + yy, xx * yy - xy * xy, zz - (xx + yy) ** 2
    a2 = 4.0 * cov - 3.0 * mz * mz - zz
    a1 = var * mz + 4.0 * cov * mz - xz * xz - yz * yz
    a0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - var * cov
    root = 0.0
    for _ in range(NEWTON_STEPS):
        slope = a1 + root * (2.0 * a2 + 16.0 * root * root)
        step = (a0 + root * (a1 + root * (a2 + 4.0 * root * root))) / slope if slope else 0.0
        root -= step
        if abs(step) < 1e-14:
            break
    det = root * root - root * mz + cov
    if abs(det) < 1e-12:
        return float(middle[0]), float(middle[1]), float("inf")
    cx = (xz * (yy - root) - yz * xy) / det / 2.0
    cy = (yz * (xx - root) - xz * xy) / det / 2.0
    radius = float(np.sqrt(max(cx * cx + cy * cy + mz - 2.0 * root, 0.0)))
    return float(middle[0] + size * cx), float(middle[1] + size * cy), size * radius
