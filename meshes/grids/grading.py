"""Placing grid lines so that each interval is as long as a size function asks for."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats


def limited_sizes(places: Floats, sizes: Floats, growth: float) -> Floats:
    """Smallest size function above none of ``sizes`` whose slope stays within ``growth`` (per mm, both ways).

    ``places`` (n,) ascending mm; ``sizes`` (n,) wanted interval lengths, mm.
    """
    rise = growth * places
    from_left = np.minimum.accumulate(sizes - rise) + rise
    from_right = np.minimum.accumulate((sizes + rise)[::-1])[::-1] - rise
    return np.minimum(from_left, from_right)


def graded_lines(places: Floats, sizes: Floats, fewest: int = 2) -> Floats:
    """Grid lines from ``places[0]`` to ``places[-1]`` with intervals about ``sizes`` long (equidistributed 1/size).

    At least ``fewest`` intervals.
    """
    density = np.concatenate([[0.0], np.cumsum(np.diff(places) * 0.5 * (1 / sizes[1:] + 1 / sizes[:-1]))])
    count = max(fewest, int(np.ceil(density[-1])))
    lines = np.interp(np.linspace(0.0, density[-1], count + 1), density, places)
    lines[0], lines[-1] = places[0], places[-1]
    return lines


def layered_rows(
    thicknesses: Sequence[float], top_size: float, growth: float, largest: float, bottom_size: float = np.inf,
    bottom_growth: float | None = None,
) -> tuple[Floats, NDArray[np.int64]]:
    """Rows from the back face to the surface, finest at the surface, with a line on every layer interface.

    Parameters
    ----------
    thicknesses
        Layer thicknesses, mm, from the surface down.
    top_size, growth, largest
        Height of the surface row, mm; increase of height per mm of depth; greatest height, mm.
    bottom_size
        Height of the row on the back face, mm, where it must be fine too.
    bottom_growth
        Increase of height per mm from there; ``growth`` where not given.

    Returns
    -------
    rows (nr + 1,) ascending Z, mm, and the layer index (nr,) of each row.
    """
    lines, owners, depth = [np.array([0.0])], [], 0.0
    whole, rise = float(sum(thicknesses)), growth if bottom_growth is None else bottom_growth
    for index, thickness in enumerate(thicknesses):
        places = np.linspace(depth, depth + thickness, 400)
        sizes = np.minimum(top_size + growth * places, bottom_size + rise * (whole - places))
        cuts = graded_lines(places, np.minimum(sizes, largest), fewest=1)
        lines.append(cuts[1:])
        owners.append(np.full(len(cuts) - 1, index))
        depth += thickness
    return -np.concatenate(lines)[::-1], np.concatenate(owners)[::-1]
