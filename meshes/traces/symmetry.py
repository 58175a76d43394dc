"""Which way up a profile lies, whether it shows one half or both, and where then its axis is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.signal import find_peaks
from scipy.spatial import cKDTree

from labrum.meshes.arrays import Floats
from labrum.meshes.traces.raw_trace import CountsFrom, refuse

# A high point stands out by at least this much on both sides.
PROMINENCE_MM = 0.3
# Points whose mirror images find nothing this near have no counterpart on the other side.
COUNTERPART_MM = 0.5
SOFT_MM = 0.02
WORTH_SAYING_MM, WORTH_SAYING_DEG = 0.001, 0.005


@dataclass(frozen=True)
class Placed:
    """Points in the rim's frame: r from the axis, s away from the lip (its zero still anywhere).

    Parameters
    ----------
    points
        (n, 2) mm, r of at least 0.
    side
        (n,) 1 on the half with positive x, -1 on the other; all 1 where there is one half only.
    source
        (n,) which of the given points each is.
    notes
        What was found out and corrected.
    axis_offset, tilt_deg
        Where the axis stood in the file and how it leaned; None where one half cannot tell.
    axis_uncertainty
        Standard uncertainty of the axis' place, mm; 0 where the file's is taken.
    misfit
        By how much the halves differ nearly everywhere, noise included, mm; 0 where there is one only.
    """

    points: Floats
    side: Floats
    source: NDArray[np.int64]
    notes: tuple[str, ...]
    axis_offset: float | None = None
    tilt_deg: float | None = None
    axis_uncertainty: float = 0.0
    misfit: float = 0.0


def placed(points: Floats, counts_from: CountsFrom) -> Placed:
    """Turn (n, 2) points in the order of travel into the rim's frame.

    Raises
    ------
    TraceError
        If neither way up shows one high point or two, if both do, or if one half is shown and nothing says
        where the axis is.
    """
    sign, both = _way_up(points)
    turned = points * (1.0, sign)
    notes = ["height in the file grows towards the lip: turned over" if sign < 0 else
             "height in the file grows away from the lip"]
    return _both_halves(turned, notes) if both else _one_half(turned, counts_from, notes)


def _way_up(points: Floats) -> tuple[float, bool]:
    """Tell by its high points whether the profile is upside down and whether it shows both halves."""
    high = {sign: len(_high_points(sign * points[:, 1])) for sign in (1.0, -1.0)}
    for sign in (1.0, -1.0):
        if high[sign] == 2 and high[-sign] <= 1:
            return sign, True
    for sign in (1.0, -1.0):
        if high[sign] == 1 and high[-sign] == 0:
            return sign, False
    if not any(high.values()):
        raise refuse("a profile that only rises or only falls", "a high point with the rim on both sides of it",
                     "trace from inside the cup, over the rim, to the outside")
    raise refuse(f"{int(high[1.0])} high points one way up and {int(high[-1.0])} the other",
                 "one high point, or two across the whole diameter, one way up only",
                 "trace the rim alone, from the cup wall to the outside")


def _high_points(s: Floats) -> list[int]:
    """Where s is least with a rise on both sides; of places that no rise parts, such as equal ones, the lowest."""
    found: list[int] = []
    for k in find_peaks(-s, prominence=PROMINENCE_MM)[0]:
        if found and s[found[-1] : k].max() - max(s[found[-1]], s[k]) < PROMINENCE_MM:
            found[-1] = min(found[-1], int(k), key=lambda i: float(s[i]))
        else:
            found.append(int(k))
    return found


def _one_half(points: Floats, counts_from: CountsFrom, notes: list[str]) -> Placed:
    if counts_from == "anywhere":
        raise refuse("x on one side of the axis only", "both sides, or a column r that counts from the axis",
                     "nothing in one half tells where the axis is: the diameter cannot be read")
    if points[:, 0].mean() < 0:
        points = points * (-1.0, 1.0)
        notes.append("the half at negative r: mirrored")
    notes.append("one half only: the axis and its direction are the file's, tilt and offset cannot be told")
    inside = points[:, 0] >= 0
    if not inside.all():
        notes.append(f"left out: {int((~inside).sum())} points beyond the axis")
    if points[inside][np.argmin(points[inside, 1]), 0] <= 0:
        raise refuse("a high point on the axis", "a rim around the axis")
    keep = np.flatnonzero(inside)
    return Placed(points[keep], np.ones(len(keep)), keep, tuple(notes))


def _both_halves(points: Floats, notes: list[str]) -> Placed:
    """Find the axis about which the profile is most nearly its own mirror image."""
    left, right = points[np.sort(_high_points(points[:, 1]))]
    if left[0] > right[0]:
        left, right = right, left
    pivot = 0.5 * (left + right)
    tilt = float(np.arctan2(right[1] - left[1], right[0] - left[0]))
    shift, tilt, uncertainty, misfit = _mirror_axis(points - pivot, tilt)
    q = _turned(points - pivot, tilt) - (shift, 0.0)
    # The axis meets the level of the high points here, in the file's own x.
    offset = float(pivot[0] + shift * np.cos(tilt))
    notes.append("both halves: folded about the axis of symmetry")
    if abs(offset) > WORTH_SAYING_MM:
        notes.append(f"axis moved by {-offset:+.3f} mm (it stood at x = {offset:.3f} mm)")
    if abs(np.degrees(tilt)) > WORTH_SAYING_DEG:
        notes.append(f"tilt of {np.degrees(tilt):+.3f} degrees taken out")
    folded = np.column_stack([np.abs(q[:, 0]), q[:, 1]])
    return Placed(folded, np.where(q[:, 0] < 0, -1.0, 1.0), np.arange(len(q)), tuple(notes), offset,
                  float(np.degrees(tilt)), uncertainty, misfit)


def _turned(points: Floats, tilt: float) -> Floats:
    c, s = np.cos(tilt), np.sin(tilt)
    return points @ np.array([[c, -s], [s, c]])


def _mirror_axis(points: Floats, tilt: float) -> tuple[float, float, float, float]:
    """Shift (in the turned frame) and tilt of the axis, the shift's standard uncertainty, and the misfit."""
    def misfit(x: Floats) -> Floats:
        q = _turned(points, x[1]) - (x[0], 0.0)
        return _offsets(q, q * (-1.0, 1.0))

    start = np.array([0.0, tilt])
    found = least_squares(misfit, start, loss="soft_l1", f_scale=SOFT_MM, x_scale=(1.0, 0.1), diff_step=1e-6)
    error = misfit(found.x)
    near = np.abs(error) < 5 * SOFT_MM
    spread = float(np.mean(error[near] ** 2)) if near.any() else SOFT_MM**2
    covariance = np.linalg.pinv(found.jac.T @ found.jac) * spread
    spread = float(np.sqrt(covariance[0, 0]))
    return float(found.x[0]), float(found.x[1]), spread, float(np.percentile(np.abs(error), 99))


def _offsets(line: Floats, points: Floats) -> Floats:
    """(n,) signed offsets of points from the nearest stretch of a line; 0 for those without a counterpart."""
    k = np.clip(cKDTree(line).query(points)[1], 2, len(line) - 3)
    way = line[k + 2] - line[k - 2]
    way /= np.maximum(np.hypot(*way.T), 1e-12)[:, None]
    rel = points - (line[k - 2] + line[k - 1] + line[k] + line[k + 1] + line[k + 2]) / 5.0
    along = np.abs(np.sum(rel * way, axis=1))
    off = way[:, 0] * rel[:, 1] - way[:, 1] * rel[:, 0]
    return np.where((np.abs(off) < COUNTERPART_MM) & (along < COUNTERPART_MM), off, 0.0)
