"""How far a solve is: the stage in a word, the force reached, and about how long it will still take.

How long is a guess from what solves usually do. A pass presses the rim home, lets breath and muscle come in, and goes
to the grids that are read. With friction there are several passes, each with shorter steps than the one before; how
many it takes nobody knows beforehand. The guess is told only once it rests on something, and from the middle of a solve
on it is good to a factor of two or three.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from labrum.simulate.problem import Problem, Progress

WORDS = {
    "press": "pressing",
    "press near": "pressing",
    "hold": "checking on finer grids",
    "breath": "breath comes in",
    "contract": "the muscle contracts",
    "rim off": "the same with the rim off",
    "arch": "on an arch of teeth",
}
"""What a stage is to a person."""
HOME = 0.98
"""The share of the force at which a press counts as home."""
BEGUN = 0.5
"""The share of the force below which a press after one that was home begins a new pass."""
USUAL_PASSES, USUAL_ALIVE, LONGER, AT_LAST = 4, 3, 1.35, 1.5
"""With friction: how many passes, how many of a living lip; how much longer each is, and the last one's end besides."""
EARLY = 0.4
"""The power of the force's share that goes as the work: at little force steps are short, and many."""
EARLIEST_S = 0.3


@dataclass(frozen=True)
class Stretch:
    """The part of a pass that a stage usually takes: from where to where, and in how many iterations."""

    begin: float
    end: float
    iterations: int

    def reached(self, iterations: int) -> float:
        """Tell how much of the pass is over after so many of the stage's iterations."""
        return self.begin + (self.end - self.begin) * min(1.0, iterations / self.iterations)


AT_REST = {"press": Stretch(0.0, 0.45, 20), "hold": Stretch(0.45, 0.95, 15)}
ALIVE = {
    "press": Stretch(0.0, 0.5, 40), "breath": Stretch(0.5, 0.6, 6), "contract": Stretch(0.6, 0.9, 20),
    "rim off": Stretch(0.9, 0.97, 12), "hold": Stretch(0.9, 0.97, 10),
}  # fmt: skip


@dataclass
class Meter:
    """Follows a solve of ``problem`` by ``clock``, in seconds."""

    problem: Problem
    clock: Callable[[], float]
    _began: float = field(init=False)
    _pass_began: float = field(init=False)
    _passes: list[float] = field(init=False, default_factory=list)
    _stage: str = field(init=False, default="")
    _iterations: int = field(init=False, default=0)
    _home: bool = field(init=False, default=False)

    def __post_init__(self) -> None:
        self._began = self._pass_began = self.clock()

    def line(self, report: Progress) -> str:
        """Take in an iteration and tell where the solve stands."""
        self._follow(report)
        word = WORDS.get(report.stage, report.stage)
        aim = self.problem.load.known_force
        reached = max(0.0, report.force)
        force = f"{reached:.1f} N" if aim is None else f"{min(reached, aim):.1f} of {aim:g} N"
        left = None if aim is None else self.seconds_left(report)
        if self.clock() - self._began < EARLIEST_S or left is None:
            return f"{word}: {force}"
        return f"{word}: {force}, about {_rounded(left)} left"

    def seconds_left(self, report: Progress) -> float:
        """Guess how long the solve will still take, with the iteration taken in already."""
        spent, share, over = self.clock() - self._pass_began, max(self._share(report), 0.02), len(self._passes)
        passes = max(self._usual_passes, over + 1)
        length = LONGER * self._passes[-1] if over else spent / share
        ahead = [length * LONGER**number for number in range(passes - over)]
        if passes > 1:
            ahead[-1] *= AT_LAST
        return max(ahead[0] - spent, ahead[0] * (1.0 - share)) + sum(ahead[1:])

    @property
    def _usual_passes(self) -> int:
        if self.problem.load.friction == 0.0:
            return 1
        return USUAL_ALIVE if self._alive else USUAL_PASSES

    @property
    def _alive(self) -> bool:
        return self.problem.load.muscle_activation > 0.0 or self.problem.load.mouth_pressure > 0.0

    def _share(self, report: Progress) -> float:
        stretch = (ALIVE if self._alive else AT_REST).get(report.stage.partition(" near")[0], Stretch(0.9, 0.97, 10))
        if stretch.begin == 0.0:
            return stretch.end * float(min(1.0, max(0.0, report.force / self.problem.load.force)) ** EARLY)
        return stretch.reached(self._iterations)

    def _follow(self, report: Progress) -> None:
        share = report.force / self.problem.load.force
        if report.stage == "press" and self._home and share < BEGUN:
            now = self.clock()
            self._passes.append(now - self._pass_began)
            self._pass_began, self._home = now, False
        self._home = self._home or share >= HOME
        self._iterations = self._iterations + 1 if report.stage == self._stage else 1
        self._stage = report.stage


def _rounded(seconds: float) -> str:
    if seconds < 1.5:
        return "a second"
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min"
