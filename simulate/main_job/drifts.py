"""What 10 N more do to where the rim is felt and to where contact begins."""

from __future__ import annotations

from dataclasses import dataclass, replace

from labrum.meshes.rims.rim import Rim
from labrum.simulate.accuracy.refinement import reading_of
from labrum.simulate.equilibrium.newton import StepFailedError
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.living.breath_and_muscle import alive, final_stage
from labrum.simulate.load_path.press import WAYPOINT, Listener, Pressed, hold, move_on, press_near
from labrum.simulate.problem import Problem
from labrum.simulate.readings.rim_edges import inner_edge_of_contact

DRIFT_STEP_N = 10.0
DRIFTED = WAYPOINT  # of whose drift some parts in a hundred are unsure, whatever the residual


@dataclass(frozen=True)
class Drift:
    """What 10 N more do: change of the felt diameter, and twice the fall of the radius where contact begins; mm.

    ``pressed`` is the equilibrium with them, on a grid fitted to it.
    """

    felt: float | None = None
    edge: float | None = None
    pressed: Pressed | None = None


def drift_of(
    problem: Problem, pressed: Pressed, finest: Pressed, progress: Listener, warnings: list[str],
    near: Pressed | None = None,
) -> Drift:  # fmt: skip
    """What the felt diameter and the inner edge of contact do when the force rises by 10 N.

    From ``pressed``, which is as fine as what comes after it; ``finest`` tells where contact begins. ``near`` is a like
    problem's equilibrium with its 10 N more: from there it takes half of what it takes from ``pressed``.
    """
    here, stage = pressed, final_stage(problem)
    harder = replace(problem, load=replace(problem.load, force=problem.load.force + DRIFT_STEP_N))
    if near is not None and not alive(problem):
        found = press_near(harder, near, pressed.fineness, progress, DRIFTED)
        if found is not None:
            return Drift(_felt(problem.rim, pressed, found), _edge(problem.rim, finest, found), found)
    target, step, reached = problem.load.force + DRIFT_STEP_N, DRIFT_STEP_N, problem.load.force
    shortens = False
    while abs(target - reached) > DRIFTED.residual * target:
        try:
            pressed = move_on(problem, pressed, stage, progress, min(reached + step, target), DRIFTED, shortens)
            reached, step = pressed.equilibrium.force, 1.5 * step
        except StepFailedError:
            step, shortens = 0.5 * step, True
            pressed = replace(pressed, fineness=pressed.fineness.finer_arcs())
            if step < DRIFT_STEP_N / 40:
                warnings.append("drifts with 10 N more are left out: no equilibrium was found there")
                return Drift()
    felt = _felt(problem.rim, here, pressed)
    if _inner_edge(problem.rim, finest) is None:
        return Drift(felt, pressed=pressed)
    try:  # where contact begins is only as sure as the columns there are narrow, and they were placed for less force
        pressed = hold(harder, pressed, pressed.fineness, stage, progress, settings=DRIFTED)
    except StepFailedError:
        return Drift(felt, pressed=pressed)
    return Drift(felt, _edge(problem.rim, finest, pressed), pressed)


def _felt(rim: Rim, before: Pressed, after: Pressed) -> float:
    """Change of the felt diameter, mm."""
    return 2.0 * (reading_of(rim, after).felt_radius - reading_of(rim, before).felt_radius)


def _edge(rim: Rim, before: Pressed, after: Pressed) -> float | None:
    """Twice the fall, mm, of the radius where contact with the rim begins; None where there is no such radius."""
    ends = [_inner_edge(rim, one) for one in (before, after)]
    return None if ends[0] is None or ends[1] is None else 2.0 * (ends[0] - ends[1])


def _inner_edge(rim: Rim, pressed: Pressed) -> float | None:
    """Radius, mm, where contact with the rim begins; None where there is no such radius."""
    return inner_edge_of_contact(rim, traction(pressed.model, pressed.equilibrium.state))
