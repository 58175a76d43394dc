"""Solving for an answer of a player's sheet in a page's worker: one after another, with news, ready to be stopped."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from labrum.cases.exploring.asks.answer import Tell
from labrum.cases.workers.each import outcome_or_stop
from labrum.simulate import solve
from labrum.simulate.conclusions.robustness import Result
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem


@dataclass
class Working:
    """Solves in this process, for a worker has no workers of its own.

    ``shares`` are where the stages begin, as shares of the whole: `say` begins the next. ``tell`` passes news on and
    raises where the page wants no more of it.
    """

    tell: Tell
    shares: tuple[float, ...]
    _stage: int = field(default=-1, init=False)
    _words: str = field(default="", init=False)
    _told: float = field(default=0.0, init=False)

    def say(self, words: str) -> None:
        """Begin the next stage."""
        self._stage, self._words = min(self._stage + 1, len(self.shares) - 1), words
        self._tell(0.0, words)

    def heed(self) -> None:
        """End the work where it is to end."""
        self.tell(None)

    def each(self, problems: Sequence[Problem]) -> Iterator[tuple[int, Result]]:
        """Solve problems one after another."""
        for number, problem in enumerate(problems):
            self._tell(number / len(problems), f"{self._words}: {number} of {len(problems)} solved")
            yield number, outcome_or_stop(self._solved, problem)

    def _solved(self, problem: Problem) -> Outcome:
        return solve(problem, progress=lambda _: self.heed())

    def _tell(self, part: float, words: str) -> None:
        begins, *rest = self.shares[max(self._stage, 0) :]
        ends = rest[0] if rest else 1.0
        self._told = max(self._told, begins + part * (ends - begins))  # a stage may solve more than once
        self.tell({"share": round(self._told, 3), "words": words})
