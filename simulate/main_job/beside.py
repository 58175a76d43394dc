"""What is asked beside the press: the contraction without a rim, small vibrations, postures off the axis."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from labrum.simulate.accuracy.refinement import Refined
from labrum.simulate.living.breath_and_muscle import free_contraction
from labrum.simulate.living.contraction import Contraction, Freedom
from labrum.simulate.living.vibration import Liveliness, liveliness
from labrum.simulate.load_path.press import Listener, Pressed
from labrum.simulate.main_job.effort import Effort
from labrum.simulate.main_job.ways import Readable
from labrum.simulate.problem import NotConverged, Problem

if TYPE_CHECKING:
    from labrum.simulate.postures.found import OffAxis


@dataclass(frozen=True)
class Living:
    """Contraction under the rim, and that over what it is without one; None where nothing contracts."""

    contraction: Contraction | None = None
    freedom: Freedom | None = None

    @classmethod
    def of(cls, problem: Problem, found: Readable, plan: Effort, progress: Listener) -> Living:
        """What ``found`` tells, and the lip contracting without a rim, which is solved here."""
        if found.contraction is None:
            return cls()
        return cls(found.contraction, found.contraction.over(_freely(problem, plan, progress)))


def _freely(problem: Problem, plan: Effort, progress: Listener) -> Contraction:
    """Contraction without a rim, on the first grid where it gets there."""
    *others, last = plan.living(problem.lip)
    for fineness in others:
        with suppress(NotConverged):
            return free_contraction(problem, fineness, progress)
    return free_contraction(problem, last, progress)


def liveliness_of(problem: Problem, pressed: Pressed, warnings: list[str]) -> Liveliness:
    """How the lip answers a small pressure on its front, where that is asked for."""
    if not problem.vibration:
        return Liveliness()
    try:
        found = liveliness(pressed.model, pressed.equilibrium.state)
    except (np.linalg.LinAlgError) as error:
        warnings.append(f"vibration is left out: {error}")
        return Liveliness()
    if found.mode is None:
        warnings.append("lip_mode_hz is left out: no mode stands out in the answer to a pressure on the front")
    return found


def off_axis_of(
    problem: Problem, refined: Refined, progress: Listener, warnings: list[str]
) -> OffAxis | None:
    """What the rim does off the axis, where that was asked; the press stands, whatever comes of it."""
    if problem.posture is None:
        return None
    from labrum.simulate.off_axis.answers import off_axis  # whoever does not ask does not load it

    try:
        found = off_axis(problem, refined.finest, problem.posture, progress, refined.before)
    except NotConverged as stop:
        warnings.append(f"what the rim does off the axis is left out: {stop.cause}")
        return None
    warnings += found.warnings
    return found
