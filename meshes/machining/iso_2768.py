"""General tolerances of ISO 2768-1, classes f, m and c.

ISO 2768-1:1989, tables 1 (lengths), 2 (external radii) and 3 (angles, by the shorter leg). From memory but for class m
of table 1, which was read in a published copy.
"""

from __future__ import annotations

from math import inf
from typing import Literal

SizeKind = Literal["length", "radius", "angle"]

SMALLEST_TOLERATED_MM = 0.5
"""Below this size the standard wants the tolerance beside the dimension."""

# Upper ends of the ranges of nominal size, mm, and the deviation either way there: mm, or degrees.
_ENDS: dict[SizeKind, tuple[float, ...]] = {
    "length": (3.0, 6.0, 30.0, 120.0),
    "radius": (3.0, 6.0, inf),
    "angle": (10.0, 50.0, 120.0),
}
_DEVIATIONS: dict[str, dict[SizeKind, tuple[float, ...]]] = {
    "f": {"length": (0.05, 0.05, 0.1, 0.15), "radius": (0.2, 0.5, 1.0), "angle": (1.0, 0.5, 1 / 3)},
    "m": {"length": (0.1, 0.1, 0.2, 0.3), "radius": (0.2, 0.5, 1.0), "angle": (1.0, 0.5, 1 / 3)},
    "c": {"length": (0.2, 0.3, 0.5, 0.8), "radius": (0.4, 1.0, 2.0), "angle": (1.5, 1.0, 0.5)},
}
ISO_CLASSES = tuple(_DEVIATIONS)


def general_deviation(name: str, kind: SizeKind, size_mm: float) -> float | None:
    """Deviation either way that class ``name`` allows: mm, or degrees for an angle whose shorter leg is ``size_mm``.

    None where the tables give none: below `SMALLEST_TOLERATED_MM` (an angle's leg may be shorter) and beyond 120 mm.
    """
    if kind != "angle" and size_mm < SMALLEST_TOLERATED_MM:
        return None
    rows = zip(_ENDS[kind], _DEVIATIONS[name][kind], strict=True)
    return next((deviation for end, deviation in rows if size_mm <= end), None)
