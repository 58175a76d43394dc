"""Finding the force that brings about what is wanted: a mean pressure, or a sink.

Both rise with the force, nearly as a power of it. So the search goes over the logarithm of the force, steps on by that
power until the wanted value lies between two forces, and hands these to Brent's method (scipy).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from labrum.simulate.problem import NotConverged

LEAST_FORCE_N, MOST_FORCE_N = 0.02, 500.0
FIRST_POWER = 0.6  # value over force, in logarithms; afterwards that of the last two
LONGEST_STEP = math.log(2.5)
BEYOND = 1.15  # a step is made a little longer than the power tells, so that the value comes to lie between
SHORTER = 4  # times a step is halved where a force has no equilibrium


@dataclass(frozen=True)
class Aimed:
    """The ``force`` N found, and the ``power`` by which the value rises with it there."""

    force: float
    power: float


def force_for(value_at: Callable[[float], float], wanted: float, guess: float, within: float) -> Aimed:
    """Find the force at which ``value_at`` (of N) is ``wanted``, above 0, to a relative ``within``.

    Raises
    ------
    labrum.simulate.problem.NotConverged
        Where no force between `LEAST_FORCE_N` and `MOST_FORCE_N` does, or none beyond some force has an equilibrium;
        it tells how far the search got.
    """
    search = _Search(value_at, wanted, within)
    here = math.log(guess)
    while not search.closed:
        step = -BEYOND * search.miss(here) / search.power
        if search.closed:
            break
        here = search.onward(here, max(-LONGEST_STEP, min(LONGEST_STEP, step)))
    return Aimed(math.exp(search.root()), search.power)


class _Search:
    """What has been tried: misses (value over wanted, less 1) by the logarithm of the force."""

    def __init__(self, value_at: Callable[[float], float], wanted: float, within: float) -> None:
        self._value_at, self._wanted, self._within = value_at, wanted, within
        self._tried: dict[float, float] = {}

    def miss(self, place: float) -> float:
        """The miss at a force; nought where it is within what is asked, so that a search ends there."""
        if place not in self._tried:
            miss = self._value_at(math.exp(place)) / self._wanted - 1.0
            self._tried[place] = 0.0 if abs(miss) <= self._within else miss
        return self._tried[place]

    @property
    def closed(self) -> bool:
        """Does the wanted value lie between two forces tried, or at one?"""
        misses = self._tried.values()
        return bool(misses) and min(misses) <= 0.0 <= max(misses)

    @property
    def power(self) -> float:
        """How the value rises: by the two tries nearest to what is wanted."""
        near = sorted(self._tried, key=lambda place: abs(self._tried[place]))[:2]
        if len(near) < 2:
            return FIRST_POWER
        rise = (self._tried[near[1]] - self._tried[near[0]]) / (near[1] - near[0])
        return min(3.0, max(0.1, rise))

    def onward(self, here: float, step: float) -> float:
        """A further force that has an equilibrium, ``step`` away or less."""
        for _ in range(SHORTER):
            there = here + step
            if not LEAST_FORCE_N <= math.exp(there) <= MOST_FORCE_N:
                raise self._out_of_reach(here, f"forces from {LEAST_FORCE_N:g} to {MOST_FORCE_N:g} N were tried")
            try:
                self.miss(there)
            except NotConverged as stop:
                lost, step = stop, 0.5 * step
                continue
            return there
        raise self._out_of_reach(here, f"further on there was no equilibrium: {lost.cause}") from lost

    def root(self) -> float:
        """The force's logarithm, once it is closed in."""
        from scipy.optimize import brentq  # slow to load, and most problems give their force

        low = max((place for place, miss in self._tried.items() if miss <= 0.0), default=-math.inf)
        high = min(place for place, miss in self._tried.items() if miss >= 0.0)
        if self._tried.get(low) == 0.0 or low >= high:
            return low
        return float(brentq(self.miss, low, high, xtol=1e-6))

    def _out_of_reach(self, place: float, why: str) -> NotConverged:
        got = self._tried[place] + 1.0
        return NotConverged(
            math.exp(place),
            f"no force was found that does what is wanted ({why}; at this one {100 * got:.0f} % of it is there)",
            "give force_n, or ask for another mean_pressure_kpa or sink_mm",
        )
