"""Which conclusions survive a change of what nobody has measured: the tissue's stiffness and the friction.

Nine lips: three stiffnesses times three frictions. All of them, not only one change at a time, because the two
act together: on the demonstration case friction 0.5 takes 5 % off a lip's peak at the calibrated stiffness, 14
% at half of it and 2 % at twice, and it is in the corners that an equilibrium is lost. More steps between would
cost more and tell little: what holds at both ends and in the middle seldom fails between.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from labrum.simulate.conclusions.varied_lips import Variation
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged, Problem


@dataclass(frozen=True)
class Stopped:
    """A problem that has no outcome: ``reason`` in words; ``kind`` tells no equilibrium from a fault of ours.

    ``stop`` is what the solver said where there is no equilibrium, ``trace`` where in our code a fault arose.
    """

    reason: str
    kind: Literal["not converged", "failed"]
    stop: NotConverged | None = field(default=None, compare=False)
    trace: str = field(default="", compare=False)


Result = Outcome | Stopped


@dataclass(frozen=True)
class Trial:
    """A varied lip's name and what came of it."""

    name: str
    result: Result

    @property
    def outcome(self) -> Outcome | None:
        """The outcome; None where there is none."""
        return None if isinstance(self.result, Stopped) else self.result


@dataclass(frozen=True)
class Conclusion:
    """Something said of a rim, or of two, and the varied lips in which it does and does not hold.

    Parameters
    ----------
    name
        The question it answers.
    words
        The conclusion, plainly.
    number, lowest, highest, unit, meaning
        What is behind it, in the case's own lip (None where that has no outcome) and over the varied lips.
    holds, fails, cannot_tell, without_result
        Names of the varied lips, each in one of the four.
    """

    name: str
    words: str
    number: float | None
    lowest: float
    highest: float
    unit: str
    meaning: str
    holds: tuple[str, ...]
    fails: tuple[str, ...]
    cannot_tell: tuple[str, ...]
    without_result: tuple[str, ...]

    @property
    def of(self) -> int:
        """How many lips were tried."""
        return len(self.holds) + len(self.fails) + len(self.cannot_tell) + len(self.without_result)

    @property
    def survives(self) -> bool:
        """Does it hold in every varied lip?"""
        return len(self.holds) == self.of


Each = Callable[[Sequence[Problem]], Iterable[tuple[int, Result]]]
"""Solves problems and yields each one's number and result as it finishes."""


def tried(variations: Sequence[Variation], each: Each, told: Callable[[Trial], None]) -> tuple[Trial, ...]:
    """Solve varied lips and return what came of each, in their order; each is ``told`` as it finishes."""
    found: dict[int, Trial] = {}
    for number, result in each([variation.problem for variation in variations]):
        found[number] = Trial(variations[number].name, result)
        told(found[number])
    return tuple(found[number] for number in range(len(variations)))


@dataclass(frozen=True)
class Asked:
    """A question: ``words`` for each answer, and under None for no answer; ``meaning`` and ``unit`` of its
    number.
    """

    name: str
    words: Mapping[str | None, str]
    unit: str
    meaning: str


def tallied(
    asked: Asked, answers: Mapping[str, str | None], numbers: Mapping[str, float], lips: Sequence[str], own: str
) -> Conclusion | None:
    """Count in how many ``lips`` an answer holds: the own lip's, or the commonest where that has none.

    ``answers`` by lip, None where it cannot be told; a lip that is missing there has no result. Where not one lip
    tells, nothing is claimed, the words say so and nothing holds. Returns None where there are no answers at all.
    """
    if not answers:
        return None
    told = Counter(answer for answer in answers.values() if answer is not None)
    claim = answers.get(own) or (told.most_common(1)[0][0] if told else None)
    return Conclusion(
        name=asked.name,
        words=asked.words[claim],
        number=numbers.get(own),
        lowest=min(numbers.values()),
        highest=max(numbers.values()),
        unit=asked.unit,
        meaning=asked.meaning,
        holds=tuple(k for k in lips if claim is not None and answers.get(k) == claim),
        fails=tuple(k for k in lips if answers.get(k) not in (None, claim)),
        cannot_tell=tuple(k for k in lips if k in answers and answers[k] is None),
        without_result=tuple(k for k in lips if k not in answers),
    )
