"""What may be asked about a pressed rim that is not held straight on a flat, round, even lip."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Posture:
    """How a rim is held, and against what: a ``tilt_deg`` down towards theta = 0; an arch of ``arch_radius_mm`` (None:
    flat teeth); the lower lip's middle, at theta = 0, ``lower_stiffer`` and ``lower_thicker`` than the mean, as shares.
    """

    tilt_deg: float = 0.0
    arch_radius_mm: float | None = None
    lower_stiffer: float = 0.0
    lower_thicker: float = 0.0


def over_the_mean(ratio: float) -> float:
    """How much more than the mean the lower lip has, as a share, that has ``ratio`` times what the upper one has."""
    return (ratio - 1.0) / (ratio + 1.0)
