"""Solving a sweep's cases one from another: each starts from the nearest this worker has solved."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from labrum.cases.solving.nearness import features
from labrum.meshes.arrays import Floats
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem, Progress

if TYPE_CHECKING:
    from labrum.simulate.load_path.press import Pressed

REMEMBERED = 24  # presses kept, some 10 MB each at most
FARTHEST = 2.5  # in steps of `labrum.cases.solving.nearness`; beyond, a failed near start costs more than it could save


class NearSolver:
    """A solver that remembers its last presses and starts from the nearest.

    Its memory is its own: sent to a worker process it starts empty there. Without friction the answer does not
    depend on the start; with friction `simulate.solve_near` starts cold whatever is remembered.
    """

    def __init__(self) -> None:
        self._known: deque[tuple[Floats, Pressed]] = deque(maxlen=REMEMBERED)

    def __getstate__(self) -> dict[str, Any]:
        return {}

    def __setstate__(self, state: dict[str, Any]) -> None:
        self._known = deque(maxlen=REMEMBERED)

    def __call__(self, problem: Problem, progress: Callable[[Progress], None] | None = None) -> Outcome:
        """Solve, silently unless each iteration is to be told to ``progress``."""
        from labrum.simulate.solving import silent, solve_near  # a worker loads it once; a dry run never

        place = features(problem)
        found = solve_near(problem, self._nearest(place), progress or silent)
        self._known.append((place, found.pressed))
        return found.outcome

    def _nearest(self, place: Floats) -> Pressed | None:
        away = [float(np.linalg.norm(place - known)) for known, _ in self._known]
        if not away or min(away) > FARTHEST:
            return None
        return self._known[int(np.argmin(away))][1]
