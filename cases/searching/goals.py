"""What a search is after: the least or the most of a measure, or the feel of another rim."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

Measured = Mapping[str, float | bool | None]
PERCENT = 100.0


class DoesNotApply(ValueError):
    """A measure that a goal or a limit needs and a case does not have."""


def number(measures: Measured, name: str) -> float:
    """Return a measure as a number; raises `DoesNotApply` where the case has none."""
    value = measures.get(name)
    if value is None:
        raise DoesNotApply(name)
    return float(value)


class Goal(Protocol):
    """Anything that scores a solved case: less is better."""

    @property
    def names(self) -> tuple[str, ...]:
        """The measures it reads."""

    def score(self, measures: Measured) -> float:
        """Return what is to be made small."""

    def words(self) -> str:
        """Say what is wanted."""


@dataclass(frozen=True)
class Extreme:
    """The least of a measure, or with ``sign`` -1 the most."""

    measure: str
    sign: float

    @property
    def names(self) -> tuple[str, ...]:
        """The measures it reads."""
        return (self.measure,)

    def score(self, measures: Measured) -> float:
        """Return the measure, turned so that less is better."""
        return self.sign * number(measures, self.measure)

    def words(self) -> str:
        """Say what is wanted."""
        return f"{'least' if self.sign > 0 else 'most'} {self.measure}"


@dataclass(frozen=True)
class Likeness:
    """The measures of another rim: the mean square of what each is off, in percent of the other's."""

    targets: Mapping[str, float]

    @property
    def names(self) -> tuple[str, ...]:
        """The measures it reads."""
        return tuple(self.targets)

    def score(self, measures: Measured) -> float:
        """Return the mean square in percent squared: its root has a kink where the likeness is perfect."""
        off = [PERCENT * (number(measures, name) / target - 1.0) for name, target in self.targets.items()]
        return math.fsum(value * value for value in off) / len(off)

    def words(self) -> str:
        """Say what is wanted."""
        return ", ".join(f"{name} like {target:.5g}" for name, target in self.targets.items())


@dataclass(frozen=True)
class Bound:
    """A measure from ``least`` to ``most``; equal ends ask for one value, ``within`` it."""

    measure: str
    least: float
    most: float
    within: float

    @property
    def is_equality(self) -> bool:
        """Is one value asked for?"""
        return self.least == self.most

    @property
    def scale(self) -> float:
        """What counts as much off, in the measure's unit."""
        sizes = [abs(end) for end in (self.least, self.most) if math.isfinite(end)]
        return max([*sizes, 1e-6])

    def excess(self, measures: Measured) -> float:
        """By how much the measure lies outside, nought or less where it does not."""
        value = number(measures, self.measure)
        return max(self.least - value, value - self.most) - self.within

    def words(self) -> str:
        """Say what is asked."""
        if self.is_equality:
            return f"{self.measure} = {self.least:g} within {self.within:g}"
        ends = ((self.least, ">="), (self.most, "<="))
        return f"{self.measure} " + " and ".join(f"{sign} {end:g}" for end, sign in ends if math.isfinite(end))
