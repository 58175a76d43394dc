"""How several rims differ, measure by measure, and which differences outlive other lips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from labrum.reports.pages.content import RimSheet, Softened
from labrum.simulate.conclusions.measure_errors import higher, ranking
from labrum.simulate.measures.catalogue import CATALOGUE, Measures
from labrum.simulate.measures.declaration import Better

ORDERED = tuple(
    CATALOGUE[name]
    for name in (
        "peak_pressure_kpa", "bearing_area_mm2", "edge_concentration", "skin_stretch_max", "felt_diameter_mm",
        "intrusion_height_mm", "sink_mm",
    )
)  # fmt: skip
"""Measures by which rims are put in order."""


@dataclass(frozen=True)
class Difference:
    """How a value differs from the first rim's: ``sign`` -1, 0 or 1, and words that say so, with their unit.

    ``better`` tells whether that is better, where one side of the measure is; None where none is.
    """

    sign: int
    words: str
    better: bool | None = None

    @property
    def look(self) -> str:
        """How a page marks it: by a colour only where one side is better."""
        return "even" if self.better is None else "better" if self.better else "worse"


SAME = Difference(0, "")


def difference(name: str, first: Measures, other: Measures) -> Difference:
    """Compare one measure of two rims; what is within both errors is no difference.

    See `labrum.simulate.conclusions.measure_errors`.
    """
    a, b, measure = getattr(first, name), getattr(other, name), CATALOGUE[name]
    if a is None or b is None or measure.fact:
        return SAME if a == b else Difference(1, "differs")
    # without an error nothing can be called a difference
    sign = clear_sign(name, first, other) if measure.error is not None else 0
    if sign == 0:
        return SAME
    shared = not measure.interval and abs(a) > 1e-9 and abs(b / a) < 10
    percent = 100.0 * (b / a - 1.0) if shared else 0.0
    if shared:
        change = f"{percent:+.0f} %" if abs(percent) >= 9.95 else f"{percent:+.1f} %"
    else:
        change = f"{b - a:+.2g} {measure.typeset_unit}".rstrip()
    better = None if measure.better is Better.NEITHER else sign == measure.better.value
    return Difference(sign, change.replace("-", "−"), better)


def clear_sign(name: str, first: Measures, other: Measures) -> int:
    """Tell whether a measure is clearly less (-1) or more (1) on the other rim, or neither (0)."""
    more = higher(other, first, name)
    return 0 if more is None else 1 if more else -1


def letter(number: int) -> str:
    """Name a rim among several: A for the first."""
    return chr(ord("A") + number)


@dataclass(frozen=True)
class OrderKept:
    """Whether the rims' order by one measure outlives every change of the lip: ``holds``, and words."""

    label: str
    holds: bool
    words: str


def orders_kept(sheets: Sequence[RimSheet]) -> tuple[OrderKept, ...]:
    """Say, for every measure of :data:`ORDERED`, whether the rims' order survives every lip; empty if not tried."""
    if len(sheets) < 2 or not all(sheet.softened for sheet in sheets):
        return ()
    return tuple(_conclusion(measure.name, measure.label, sheets) for measure in ORDERED)


def _conclusion(name: str, label: str, sheets: Sequence[RimSheet]) -> OrderKept:
    rims = [(letter(number), sheet) for number, sheet in enumerate(sheets)]
    clear = [
        (a, b) for a, b in combinations(rims, 2)
        if clear_sign(name, a[1].outcome.measures, b[1].outcome.measures) != 0
    ]  # fmt: skip
    if not clear:
        return OrderKept(label, True, "the rims do not differ clearly, so there is no order to lose")
    lost = [text for a, b in clear for text in _losses(name, a, b)]
    if lost:
        return OrderKept(label, False, "; ".join(lost))
    return OrderKept(label, True, ranking(name, [(rim, sheet.outcome.measures) for rim, sheet in rims]))


def _losses(name: str, a: tuple[str, RimSheet], b: tuple[str, RimSheet]) -> list[str]:
    wanted, pair = clear_sign(name, a[1].outcome.measures, b[1].outcome.measures), f"{a[0]} and {b[0]}"
    lost = []
    for soft_a, soft_b in zip(a[1].softened, b[1].softened, strict=True):
        if not (isinstance(soft_a.result, Measures) and isinstance(soft_b.result, Measures)):
            lost.append(f"{pair}: not known at {times(soft_a)}")
        elif (sign := clear_sign(name, soft_a.result, soft_b.result)) != wanted:
            what = "no longer differ clearly" if sign == 0 else "change places"
            lost.append(f"{pair} {what} at {times(soft_a)}")
    return lost


def times(softened: Softened) -> str:
    """Name a varied lip by what is varied."""
    words = {1.0: "", 0.5: "half the stiffness", 2.0: "double the stiffness"}
    stiffness = words.get(softened.factor, f"{softened.factor:g} times the stiffness")
    friction = "" if softened.friction is None else f"friction {softened.friction:g}"
    return ", ".join(part for part in (stiffness, friction) if part) or "the lip as given"


@dataclass(frozen=True)
class Range:
    """One measure of one rim in the lips of `range_columns`, written out."""

    label: str
    unit: str
    values: tuple[str, ...]


def ranges(sheet: RimSheet) -> tuple[Range, ...]:
    """List how far one rim's own numbers move; a solve that stopped stands as a dash."""
    columns = [result for _, result in range_columns(sheet)]
    return tuple(Range(m.label, m.typeset_unit, tuple(_value(c, m.name) for c in columns)) for m in ORDERED)


def range_columns(sheet: RimSheet) -> list[tuple[str, Any]]:
    """Name the lips a rim's range is told over, softest first, then those of other friction, each with its result."""
    alone = sorted((s for s in sheet.softened if s.alone), key=lambda s: (s.friction or 0.0, s.factor))
    stiff = [(times(s), s.result) for s in alone if s.friction is None]
    softer = sum(s.factor < 1.0 for s in alone)
    rubbing = [(times(s), s.result) for s in alone if s.friction is not None]
    return [*stiff[:softer], ("as given", sheet.outcome.measures), *stiff[softer:], *rubbing]


def _value(result: Any, name: str) -> str:
    return f"{getattr(result, name):.4g}" if isinstance(result, Measures) else "–"
