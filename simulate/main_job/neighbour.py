"""A like problem's press, and the way from there: all at once, else by problems that lie between."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from labrum.simulate.equilibrium.newton import Settings
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import Listener, Pressed, press_near
from labrum.simulate.problem import Problem

MOST_FAILURES = 3
"""A try from near takes a tenth of a press from first touch, and one that fails a little more."""


def nothing_between(share: float) -> Problem | None:
    """Know of no problem on the way."""
    return None


@dataclass(frozen=True)
class Neighbour:
    """Where a like problem's press stands.

    ``between`` gives the problem at a share of the way to the one that is asked, nought being the neighbour's own; None
    where there is none. So a parameter is continued in steps where one step leads nowhere (natural-parameter
    continuation: Allgower, Georg 1990, Numerical Continuation Methods; from memory).
    """

    pressed: Pressed
    between: Callable[[float], Problem | None] = nothing_between

    @classmethod
    def of(cls, known: Neighbour | Pressed | None) -> Neighbour | None:
        """The same, a bare press with nothing known between."""
        return cls(known) if isinstance(known, Pressed) else known

    @property
    def harder(self) -> Pressed | None:
        """The same under the force up to which its drift was looked at, where that is known."""
        return self.pressed.beyond

    def press(self, problem: Problem, fineness: Fineness, listener: Listener, settings: Settings) -> Pressed | None:
        """Press ``problem`` from here, where one step leads nowhere by halves of it; None where those do not either.

        As on a press from first touch, a step that failed is taken again on finer arcs.
        """
        here, done, step, failures = self.pressed, 0.0, 1.0, 0
        while failures < MOST_FAILURES:
            share = min(1.0, done + step)
            wanted = problem if share == 1.0 else self.between(share)
            if wanted is None:
                return None
            found = press_near(wanted, here, fineness, listener, settings)
            if found is None:
                step, fineness, failures = 0.5 * step, fineness.finer_arcs(), failures + 1
            elif share == 1.0:
                return found
            else:
                here, done = found, share
        return None
