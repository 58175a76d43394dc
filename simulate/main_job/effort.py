"""How the solver spends its effort: grids, steps, and how much work a search may be."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from labrum.simulate.accuracy.refinement import ANSWER
from labrum.simulate.living.breath_and_muscle import contracts
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.advice import advice
from labrum.simulate.load_path.press import Listener, StepLengths
from labrum.simulate.problem import Lip, NotConverged, Problem, Progress

FEWEST_HALVINGS = 2  # of the steps on the way of a lip that contracts, with friction
RUBBING_SHARE = 0.125
MARGIN_MM = 0.2
BESIDE_UNKNOWNS = 1_000  # what an iteration takes whatever its unknowns, in these
SLOW = StepLengths(first=0.008, longest=0.09, longer=1.6)


@dataclass(frozen=True)
class Effort:
    """How the solver spends its effort.

    The grid of the load path, the coarsest grid that is read, the most unknowns a refinement may reach, and how long
    the steps of the path are, taken with care (``slow``) or not. With friction, whose answer depends on the way, they
    are ``rubbing_share`` of that, or shorter; where the lip contracts the first way's are as they are, and shorter ones
    follow: ``fewest_halvings`` or more, at least one. Work is the sum over
    iterations of unknowns and `BESIDE_UNKNOWNS`, about a second a million: ``most_work`` is the most that goes into all
    the ways to a force, ``most_contracting_work`` that of a contracting lip, ``most_answer_work`` all that one of these
    is given, grids, drift and the lip without a rim included, and twice that where its force is to be found; beyond
    ``enough_work`` no second or further halving is begun of one that contracts.
    """

    path: Fineness = field(default_factory=Fineness)
    answer: Fineness = ANSWER
    most_unknowns: int = 150_000
    pace: StepLengths = field(default_factory=StepLengths)
    slow: StepLengths = SLOW
    fewest_halvings: int = FEWEST_HALVINGS
    rubbing_share: float = RUBBING_SHARE
    most_work: int = 11_000_000
    most_contracting_work: int = 5_500_000
    most_answer_work: int = 6_200_000
    enough_work: int = 3_000_000

    @property
    def careful(self) -> Effort:
        """A second plan for where the first leads nowhere: grids that are fine under the whole rim."""
        path = replace(self.path, touching=0.09, ends=0.03, span=0.35, growth=0.28)
        return replace(self, path=path, answer=replace(self.answer, growth=0.28), pace=self.slow)

    @property
    def halved(self) -> Effort:
        """The same by steps half as long, with care or without: else the one would be compared with the other."""
        return self._paced(0.5)

    @property
    def rubbing(self) -> Effort:
        """The same by the steps of a press with friction."""
        return self._paced(self.rubbing_share)

    def _paced(self, share: float) -> Effort:
        return replace(self, pace=self.pace.times(share), slow=self.slow.times(share))

    def living(self, lip: Lip) -> tuple[Fineness, ...]:
        """The grids that contract, of which the first that gets there serves.

        They are the path's, with elements around the opening half as long. So the closing travel was within 0.1 % of
        far finer grids in the two cases tried; on the path's own grid it was 0.3 % too large. Where a back that slides
        on teeth meets the opening, the soft lining is squeezed out, which coarse elements cannot follow, and which very
        fine ones answer with folds, as lining does (Biot's instability of a compressed surface); a bonded back's corner
        is singular, and best left coarse.
        """
        plain = replace(self.path, largest=0.5 * self.path.largest)
        if lip.opening_radius == 0.0:
            return (plain,)
        fine = replace(plain, margin=MARGIN_MM)
        meets_teeth = lip.backing == "sliding" and lip.tooth_gap_radius == 0.0
        return (fine, plain) if meets_teeth else (plain, fine)


class Counted:
    """A listener that also counts iterations, those of failed steps included."""

    def __init__(self, listener: Listener) -> None:
        self._listener = listener
        self.iterations = 0

    def __call__(self, progress: Progress) -> None:
        """Count, and pass the news on."""
        self.iterations += progress.iteration > 0
        self._listener(progress)


class Limited:
    """A listener that ends what takes more than ``most`` work."""

    def __init__(self, listener: Listener, problem: Problem, most: float) -> None:
        self._listener, self._problem, self._most = listener, problem, most
        self.spent = 0

    @classmethod
    def search(cls, listener: Listener, problem: Problem, plan: Effort) -> Limited:
        """For the search of a first equilibrium."""
        return cls(listener, problem, plan.most_contracting_work if contracts(problem) else plan.most_work)

    @classmethod
    def whole(cls, listener: Listener, problem: Problem, plan: Effort) -> Limited:
        """For all that is done for an answer; only a contracting lip has such a limit."""
        shares = 1 if problem.load.aim is None else 2
        return cls(listener, problem, shares * plan.most_answer_work if contracts(problem) else np.inf)

    def __call__(self, progress: Progress) -> None:
        """Pass the news on, or raise `NotConverged` where that was enough."""
        self.spent += progress.unknowns + BESIDE_UNKNOWNS
        if self.spent > self._most:
            raise NotConverged(
                max(0.0, progress.force),
                f"the stage '{progress.stage}' took more iterations than are worth while: it is near an instability",
                "lower muscle_activation or force_n, or round the bite (bite_radius_mm)" if contracts(self._problem)
                else advice(self._problem, progress.force),
            )
        self._listener(progress)
