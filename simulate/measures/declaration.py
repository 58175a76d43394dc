"""What there is to say of a measure, besides how it is read off a solution."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Protocol

PRINTED = {"mm2": "mm²", "mm3": "mm³", "deg": "°", "%/deg": "%/°", "Nmm/deg": "N mm/°", "um/kPa": "µm/kPa"}


class Better(Enum):
    """Which way a measure is better, all else alike; the value is the sign of what is better."""

    LESS = -1
    MORE = 1
    NEITHER = 0


class ErrorEstimate(Protocol):
    """A way to estimate the discretisation error of a measure."""

    def of(self, value: float, peak_error_percent: float) -> float:
        """Return the error, in the measure's unit, from its value and from the peak's own estimate."""


@dataclass(frozen=True)
class ShareOfPeakError:
    """The peak's estimated percentage times ``share``: for what rests on pressure or on where contact ends."""

    share: float

    def of(self, value: float, peak_error_percent: float) -> float:
        """Return the error, in the measure's unit."""
        return 0.01 * self.share * peak_error_percent * value


@dataclass(frozen=True)
class FixedError:
    """One ``size`` for every case, in the measure's unit: for lengths, volumes and ratios that converge early."""

    size: float

    def of(self, value: float, peak_error_percent: float) -> float:
        """Return the error, in the measure's unit."""
        return self.size


@dataclass(frozen=True)
class Claim:
    """What is said where two rims differ in a measure.

    ``words`` takes the rim that has more of it and the other (``{} feels larger than {}``); ``difference`` names the
    number behind the words.
    """

    words: str
    difference: str


@dataclass(frozen=True, kw_only=True)
class Declaration:
    """What is said of one measure.

    Parameters
    ----------
    heading
        The group it is shown in; empty where it stands beside another measure.
    unit
        mm, mm2, mm3, kPa, N/mm, deg, Nmm/deg, %/deg, % or nothing.
    label
        Two or three words.
    words
        A line of plain words, short enough for a terminal.
    meaning
        The definition, in a sentence or two.
    better
        Which way is better, all else alike.
    error
        How its discretisation error is estimated; None for a yes or no and for an estimate itself.
    absent
        When it does not apply, as "no friction"; empty where it always applies.
    more_than_one
        Whether it takes more than one equilibrium to find: then an unchecked first picture does not have it.
    interval
        Whether a difference is told in the measure's own unit, its nought meaning nothing or lying near at hand
        (an interval scale: Stevens 1946, Science 103:677), and not as a percentage.
    claim
        What is said where two rims differ in it; None where that is no conclusion.
    """

    heading: str
    unit: str = ""
    label: str
    words: str
    meaning: str
    better: Better = Better.NEITHER
    error: ErrorEstimate | None = None
    absent: str = ""
    more_than_one: bool = False
    interval: bool = False
    claim: Claim | None = None

    @property
    def typeset_unit(self) -> str:
        """The unit as print has it, with superscripts, Greek letters and the sign of a degree."""
        return PRINTED.get(self.unit, self.unit)

    @property
    def axis_label(self) -> str:
        """The label with the unit in brackets, for an axis."""
        return f"{self.label} ({self.typeset_unit})" if self.unit else self.label


@dataclass(frozen=True, kw_only=True)
class Measure(Declaration):
    """A declared measure by its ``name``; ``fact`` is true for a yes or no, ``optional`` where None is allowed."""

    name: str
    fact: bool
    optional: bool
