"""The dimensions that a shop may turn: how far, in which steps, and the rim they give."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from labrum.cases.asking.habits import habit
from labrum.cases.player.sheet import KnownRim, Sheet
from labrum.cases.player.slopes import changed_rim
from labrum.meshes.arrays import Floats
from labrum.meshes.machining.lathe_view import MM_PER_INCH

CUP_COMPLAINTS = ("falls in", "touches the cup")
DEGREE_STEP = 0.5
SHOP_STEP = "0.05"
LEAST_STEP_MM, MOST_STEP_MM = 0.005, 0.5
_STEP = re.compile(r"\s*(\d*\.?\d+)\s*(mm|in|inch)?\s*")


@dataclass(frozen=True)
class Dial:
    """A dimension, ``key`` of ``[rim]``, from ``low`` to ``high``; ``by_ratio`` steps multiply.

    ``step`` is what counts as one: as much is tried either way to see what it does. ``range_words`` say where the ends
    come from.
    """

    key: str
    now: float
    step: float
    low: float
    high: float
    by_ratio: bool
    range_words: str

    @property
    def words(self) -> str:
        """Its name in words."""
        return self.key.removesuffix("_mm").removesuffix("_deg").replace("_", " ")

    def shown(self, value: float) -> str:
        """A value with its unit."""
        unit = self.key.rpartition("_")[2]
        return f"{value:.4g} {unit}" if unit in ("mm", "deg") else f"{value:.4g} of the width"

    def place(self, value: float) -> float:
        """How many steps a value is away from the present."""
        return math.log(value / self.now) / self.step if self.by_ratio else (value - self.now) / self.step

    def value(self, place: float) -> float:
        """The value so many steps away, within the range."""
        far = self.now * math.exp(place * self.step) if self.by_ratio else self.now + place * self.step
        return min(max(far, self.low), self.high)


_STEPS: dict[str, tuple[float, bool]] = {
    "inner_diameter_mm": (0.4, False),
    "width_mm": (0.5, False),
    "high_point": (0.05, False),
    "bite_radius_mm": (0.35, True),
    "inner_crown_radius_mm": (0.25, True),
    "outer_crown_radius_mm": (0.25, True),
    "cup_wall_angle_deg": (5.0, False),
}
"""What counts as one step of each, and whether it is a ratio's logarithm. Judgement, no source."""
OUR_RANGES = {
    "high_point": (0.25, 0.65),
    "inner_crown_radius_mm": (2.5, 14.0),
    "outer_crown_radius_mm": (3.5, 18.0),
    "cup_wall_angle_deg": (50.0, 80.0),
}
"""Where the trade's habits say nothing. Judgement, no source."""
REACH_STEPS = 3.0
"""So far from the present rim at most: beyond, it is another mouthpiece and not a change of this one."""


def dials_of(sheet: Sheet, rim: KnownRim, held: Mapping[str, str]) -> tuple[Dial, ...]:
    """The dimensions of a rim that may be changed for a player, those ``held`` left out."""
    table = rim.dimensions or {}
    common = _habits(sheet, table)
    with_cup = any(name in CUP_COMPLAINTS for name in sheet.complaints)
    keys = [key for key in _STEPS if key not in held and (with_cup or key != "cup_wall_angle_deg")]
    dials = (_dial(key, table[key], common) for key in keys if isinstance(table.get(key), float))
    return tuple(dial for dial in dials if dial.low < dial.high)


def _habits(sheet: Sheet, table: Mapping[str, Any]) -> dict[str, tuple[float, float]]:
    if sheet.instrument != "trombone":
        return habit(sheet.instrument, None)[1]
    kinds = ("tenor-trombone", "bass-trombone")
    middles = [habit(kind, None)[1] for kind in kinds]
    return min(middles, key=lambda one: abs(sum(one["rim.inner_diameter_mm"]) / 2.0 - table["inner_diameter_mm"]))


def _dial(key: str, now: float, common: Mapping[str, tuple[float, float]]) -> Dial:
    step, by_ratio = _STEPS[key]
    usual = common.get(f"rim.{key}")
    low, high = usual or OUR_RANGES[key]
    far = (now * math.exp(-REACH_STEPS * step), now * math.exp(REACH_STEPS * step)) if by_ratio else (
        now - REACH_STEPS * step, now + REACH_STEPS * step)  # fmt: skip
    words = "what such rims commonly have" if usual else "our own range"
    return Dial(key, now, step, min(now, max(low, far[0])), max(now, min(high, far[1])), by_ratio, words)


@dataclass(frozen=True)
class ShopStep:
    """What a shop rounds lengths to: ``mm``, as ``words``."""

    mm: float
    words: str

    @classmethod
    def read(cls, text: str) -> ShopStep:
        """Read 0.05, 0.05mm or 0.002in.

        Raises
        ------
        ValueError
            With what is allowed.
        """
        found = _STEP.fullmatch(text)
        mm = float(found[1]) * (MM_PER_INCH if (found[2] or "mm").startswith("in") else 1.0) if found else 0.0
        if found is None or not LEAST_STEP_MM <= mm <= MOST_STEP_MM:
            raise ValueError(f"a length from {LEAST_STEP_MM:g} to {MOST_STEP_MM:g} mm, as 0.05 or 0.001in")
        inches = (found[2] or "mm").startswith("in")
        return cls(mm, f"{found[1]} inch" if inches else f"{found[1]} mm")

    def rounded(self, length: float) -> float:
        """The nearest length that the shop makes."""
        return round(round(length / self.mm) * self.mm, 6)


def turned_rim(rim: KnownRim, dials: Sequence[Dial], place: Floats, shop: ShopStep) -> dict[str, float]:
    """The dimensions that change at a place (n,), counted in steps, rounded to the shop's; the rest stays as it is."""
    table = rim.dimensions or {}
    wanted = {dial.key: dial.value(float(u)) for dial, u in zip(dials, place, strict=True)}
    share = wanted.pop("high_point", table["high_point"])
    new = {key: _shop_value(key, value, shop) for key, value in wanted.items()}
    changes = {key: value for key, value in new.items() if not _alike(key, value, table[key], shop)}
    width = changes.get("width_mm", table["width_mm"])
    if "width_mm" in changes or abs(share - table["high_point"]) * width > 0.5 * shop.mm:
        changes["high_point"] = round(shop.rounded(share * width) / width, 6)
    return changes


def place_of(dials: Sequence[Dial], changes: Mapping[str, float]) -> Floats:
    """The place (n,) of changed dimensions, counted in steps."""
    return np.array([dial.place(changes.get(dial.key, dial.now)) for dial in dials])


def drawable(rim: KnownRim, changes: Mapping[str, float]) -> bool:
    """Is there such a rim?"""
    return changed_rim(rim, changes) is not None


def _shop_value(key: str, value: float, shop: ShopStep) -> float:
    return round(value / DEGREE_STEP) * DEGREE_STEP if key.endswith("_deg") else shop.rounded(value)


def _alike(key: str, value: float, now: float, shop: ShopStep) -> bool:
    return abs(value - now) < (0.5 * DEGREE_STEP if key.endswith("_deg") else 0.5 * shop.mm)
