"""What 10 N more do to where the rim is felt and to where contact begins."""

from __future__ import annotations

from dataclasses import dataclass, replace

from labrum.meshes.rims.rim import Rim
from labrum.simulate.accuracy.refinement import reading_of
from labrum.simulate.equilibrium.newton import StepFailedError
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.living.breath_and_muscle import final_stage
from labrum.simulate.load_path.press import WAYPOINT, Listener, Pressed, hold, move_on
from labrum.simulate.problem import Problem
from labrum.simulate.readings.rim_edges import inner_edge_of_contact

DRIFT_STEP_N = 10.0
DRIFTED = WAYPOINT  # of whose drift some parts in a hundred are unsure, whatever the residual


@dataclass(frozen=True)
class Drift:
    """What 10 N more do: change of the felt diameter, and twice the fall of the radius where contact begins; mm."""

    felt: float | None = None
    edge: float | None = None


def drift_of(
    problem: Problem, pressed: Pressed, finest: Pressed, progress: Listener, warnings: list[str]
) -> Drift:
    """What the felt diameter and the inner edge of contact do when the force rises by 10 N.

    From ``pressed``, which is as fine as what comes after it; ``finest`` tells where contact begins.
    """
    here, stage = pressed, final_stage(problem)
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
    before, after = (reading_of(problem.rim, one) for one in (here, pressed))
    felt = 2.0 * (after.felt_radius - before.felt_radius)
    edge = _inner_edge(problem.rim, finest)
    if edge is None:
        return Drift(felt)
    try:  # where contact begins is only as sure as the columns there are narrow, and they were placed for less force
        harder = replace(problem, load=replace(problem.load, force=target))
        pressed = hold(harder, pressed, pressed.fineness, stage, progress, settings=DRIFTED)
    except StepFailedError:
        return Drift(felt)
    moved = _inner_edge(problem.rim, pressed)
    return Drift(felt, None if moved is None else 2.0 * (edge - moved))


def _inner_edge(rim: Rim, pressed: Pressed) -> float | None:
    """Radius, mm, where contact with the rim begins; None where there is no such radius."""
    return inner_edge_of_contact(rim, traction(pressed.model, pressed.equilibrium.state))
