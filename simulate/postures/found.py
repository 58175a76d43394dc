"""What a pressed rim answers off the axis, to first order about the pressed state.

How it is found, and what *holds to* and *lifts at* mean, `labrum.simulate.off_axis.answers` says.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.simulate.postures.asked import Posture


@dataclass(frozen=True)
class PressureWave:
    """Pressure under the rim, base and harmonic, one row a surface node from the axis outwards.

    ``radius`` (k,) mm, deformed; ``base`` (k,) MPa and ``change`` (k,) MPa per unit of the cause, at a fixed place on
    the rim: at angle t the pressure is base + amount * change * cos(order t). ``active`` (k,) touches. ``load`` is the
    relative change of the axial load per angle, per unit.
    """

    order: int
    radius: Floats
    base: Floats
    change: Floats
    active: Bools
    load: float

    def pressure(self, amount: float, towards: float) -> Floats:
        """(k,) MPa where the cosine is ``towards``: falling in a straight line, down to nought; rising by its square.

        Near an end of contact p = c sqrt(x) grows as the end moves out by e, to c sqrt(x + e) = sqrt(p^2 + 2 p dp),
        while its first-order change dp = c e / (2 sqrt(x)) is without bound. Under a line load that holds all over:
        p^2 = P E* / (pi R) - (E* x / 2 R)^2 (Johnson, Contact Mechanics, 1985, section 4.2; from memory).
        """
        base, change = np.maximum(self.base, 0.0), amount * towards * self.change
        risen = np.sqrt(base * (base + 2.0 * np.maximum(change, 0.0)))
        return np.where(change > 0.0, risen, np.maximum(self.base + change, 0.0))


@dataclass(frozen=True)
class Tilted:
    """Tilt about the middle of the rim's lowest circle, and shift, per degree and per mm.

    ``peak_kpa_per_degree``, ``peak_percent_per_degree`` at the base's peak, on the side that goes down;
    stiffnesses hold the other motion. The wave of the tilt is per radian.
    """

    peak_kpa_per_degree: float
    peak_percent_per_degree: float
    tilt_to_lift_deg: float
    holds_to_deg: float
    shift_holds_to_mm: float
    rocking_stiffness_nmm_per_deg: float
    sideways_stiffness_n_per_mm: float
    tilt: PressureWave
    shift: PressureWave

    @property
    def tilt_for_ten_percent_deg(self) -> float:
        """Tilt, deg, that raises the base's peak by a tenth, in a straight line."""
        return 10.0 / abs(self.peak_percent_per_degree)


@dataclass(frozen=True)
class Opposed:
    """Two places around the rim held against each other: the peak, kPa, at theta = 0 and at the wave's other extreme.

    ``amount`` of the cause; ``peak_radius_mm`` of the first, lip pressed in; ``holds_to`` and ``lifts_at`` are amounts.
    """

    wave: PressureWave
    amount: float
    peak_kpa: float
    peak_radius_mm: float
    other_peak_kpa: float
    holds_to: float
    lifts_at: float


@dataclass(frozen=True)
class UnlikeLips:
    """Lower lip against upper: each one's share of the force, the shift of the felt centre towards the lower one, mm,
    and the pressures; the rim stands straight and centred.
    """

    lower_share: float
    felt_offset_mm: float
    pressures: Opposed


@dataclass(frozen=True)
class OffAxis:
    """All that was asked; what was not is None.

    ``leaning`` is the tilt asked for (theta = 0 where the rim goes down); ``lips`` all that makes the lips unlike,
    together; ``arch`` has theta = 0 at a corner of the mouth, its other extreme over the front teeth. ``grips``: the
    rim has friction, without which an even lip resists no shift. ``warnings`` tell what lies beyond where the straight
    line holds. ``moved``, by the measures' names and in their units: how far another reading of the same waves lies.
    """

    posture: Posture
    tilted: Tilted
    leaning: Opposed | None
    stiffer: UnlikeLips | None
    thicker: UnlikeLips | None
    lips: UnlikeLips | None
    arch: Opposed | None
    grips: bool
    warnings: tuple[str, ...]
    moved: Mapping[str, float] = field(default_factory=dict)

    def measures(self) -> dict[str, Any]:
        """The same as measures, by the names of `labrum.simulate.measures.catalogue`."""
        tilted, found = self.tilted, dict[str, Any]()
        found["peak_percent_per_degree"] = tilted.peak_percent_per_degree
        found["tilt_for_ten_percent_deg"] = tilted.tilt_for_ten_percent_deg
        found["tilt_to_lift_deg"] = _or_none(tilted.tilt_to_lift_deg)
        found["tilt_holds_to_deg"] = tilted.holds_to_deg
        found["rocking_stiffness_nmm_per_deg"] = tilted.rocking_stiffness_nmm_per_deg
        if self.grips:
            found["sideways_stiffness_n_per_mm"] = tilted.sideways_stiffness_n_per_mm
            found["sideways_holds_to_mm"] = tilted.shift_holds_to_mm
        if self.leaning is not None:
            found["tilted_peak_kpa"] = self.leaning.peak_kpa
            found["tilted_peak_radius_mm"] = self.leaning.peak_radius_mm
        return found | self._of_lips() | self._of_arch()

    def _of_lips(self) -> dict[str, Any]:
        if self.lips is None:
            return {}
        pressures = self.lips.pressures
        return {
            "lower_lip_share": self.lips.lower_share,
            "felt_offset_mm": self.lips.felt_offset_mm,
            "lower_lip_peak_kpa": pressures.peak_kpa,
            "upper_lip_peak_kpa": pressures.other_peak_kpa,
            "unlike_lips_hold_to": pressures.holds_to / abs(pressures.amount),
        }

    def _of_arch(self) -> dict[str, Any]:
        if self.arch is None or self.posture.arch_radius_mm is None:
            return {}
        return {
            "front_teeth_peak_kpa": self.arch.other_peak_kpa,
            "corners_peak_kpa": self.arch.peak_kpa,
            "arch_holds_to_mm": self.posture.arch_radius_mm / self.arch.holds_to,
        }


def _or_none(value: float) -> float | None:
    return value if math.isfinite(value) else None
