"""What there is to say of a measure, besides how it is read off a solution."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Protocol

DEEP_MM = 2.0  # pressed in further, a bonded lip's corners strain more than a coarse grid follows
PRINTED = {"mm2": "mm²", "mm3": "mm³", "deg": "°", "%/deg": "%/°", "Nmm/deg": "N mm/°", "um/kPa": "µm/kPa"}


class Better(Enum):
    """Which way a measure is better, all else alike; the value is the sign of what is better."""

    LESS = -1
    MORE = 1
    NEITHER = 0


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What a solve saw of one measure's discretisation error.

    Parameters
    ----------
    value
        The measure.
    peak_percent
        Estimated error of the peak, percent.
    grids
        How far the measure moved from the last grid but one to the answer's; 0 where it was not read on both.
    steps
        How far the steps on the way moved it, halved or of a lower order; 0 without friction, and where it was not read
        on both ways.
    alive
        Is there breath or contraction?
    rubs
        Is there friction?
    sink
        How deep the rim is pressed in, mm.
    """

    value: float
    peak_percent: float
    grids: float = 0.0
    steps: float = 0.0
    alive: bool = False
    rubs: bool = False
    sink: float = 0.0


class ErrorEstimate(Protocol):
    """A way to estimate the discretisation error of a measure."""

    def of(self, seen: Evidence) -> float:
        """Return the error, in the measure's unit."""


@dataclass(frozen=True)
class ShareOfPeakError:
    """The peak's estimated percentage times ``share``: for what rests on the peak and is read on one grid only."""

    share: float

    def of(self, seen: Evidence) -> float:
        """Return the error, in the measure's unit."""
        return 0.01 * self.share * seen.peak_percent * abs(seen.value)


@dataclass(frozen=True, kw_only=True)
class FromMovement:
    """What the measure moved by between grids and between ways, never less than a floor.

    Parameters
    ----------
    size, share, square
        The floor: a size in the measure's unit, a share of its value, or that of its square, whichever is most. The
        last is for the inverse of what the grid leaves open by some size: a radius, of a curvature.
    grids, steps
        Times what it moved between the last two grids, and by the steps on the way; the two are added.
    alive, rubs, both
        Times the floor where there is breath or contraction, where there is friction, and where there are both:
        what sticks then remembers the load path's grid, which no movement shows. ``both`` is the larger of the two
        where it is not given.
    deep
        The floor grows with this power of the sink over `DEEP_MM`, once that is more than these.
    """

    size: float = 0.0
    share: float = 0.0
    square: float = 0.0
    grids: float = 1.0
    steps: float = 2.25
    alive: float = 1.0
    rubs: float = 1.0
    both: float | None = None
    deep: float = 0.0

    def of(self, seen: Evidence) -> float:
        """Return the error, in the measure's unit."""
        floor = max(self.size, self.share * abs(seen.value), self.square * seen.value**2) * self._times(seen)
        return max(floor, self.grids * seen.grids + self.steps * seen.steps)

    def _times(self, seen: Evidence) -> float:
        here = self.alive if seen.alive else 1.0
        if seen.rubs:
            together = max(self.alive, self.rubs) if self.both is None else self.both
            here = together if seen.alive else self.rubs
        return max(here, (seen.sink / DEEP_MM) ** self.deep) if self.deep else here


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
