"""Tolerances as a drawing gives them: plus or minus a length, thousandths of an inch, or a class of ISO 2768-1.

The classes are in `labrum.meshes.machining.iso_2768`. Below 0.5 mm the standard wants the tolerance beside the
dimension, and so do we.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from labrum.cases.exits import CannotDo
from labrum.meshes.gauges.readings import MM_PER_THOU
from labrum.meshes.machining.iso_2768 import ISO_CLASSES, SMALLEST_TOLERATED_MM, SizeKind, general_deviation

FORMS = "0.05mm, 2thou or iso2768-f, iso2768-m, iso2768-c"
Tolerance = Callable[[float, SizeKind], float]
"""From a dimension in mm and its kind, ``length`` or ``radius``, to the half width of what is allowed, mm."""


def tolerance_of(text: str) -> Tolerance:
    """Read a tolerance.

    Raises
    ------
    CannotDo
        Here for what cannot be read, and from the tolerance for a dimension that its class does not cover.
    """
    by_class = re.fullmatch(rf"iso\s*2768-([{''.join(ISO_CLASSES)}])", text.strip().lower())
    if by_class:
        return lambda size, kind: _by_class(by_class[1], size, kind)
    by_length = re.fullmatch(r"([0-9.]+)\s*(mm|um|thou)", text.strip().lower())
    try:
        half = float(by_length[1]) * {"mm": 1.0, "um": 1e-3, "thou": MM_PER_THOU}[by_length[2]] if by_length else 0.0
    except ValueError:
        half = 0.0
    if half <= 0:
        raise CannotDo(f'tolerance "{text}": write {FORMS}')
    return lambda size, kind: half


def _by_class(letter: str, size: float, kind: SizeKind) -> float:
    half = general_deviation(letter, kind, size)
    if half is not None:
        return half
    if size < SMALLEST_TOLERATED_MM:
        raise CannotDo(f"ISO 2768 gives no tolerance to {size:g} mm: give that dimension its own, as NAME=0.05mm")
    raise CannotDo(f"no tolerance is known here for {size:g} mm: give that dimension its own, as NAME=0.3mm")
