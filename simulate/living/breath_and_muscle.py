"""The living lip: breath behind it and a contracting ring muscle, applied after the rim is home.

The order is that of playing: the rim is set, the breath comes, the muscle closes. How far the muscle can still
draw the opening inwards under the rim, against what it can do without, tells whether the lip is pinned.
"""

from __future__ import annotations

from dataclasses import replace

from labrum.meshes.grids.grid import Grid
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.newton import Drive, Settings, StepFailedError, equilibrate
from labrum.simulate.living.contraction import Contraction, Standing, contraction_between
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.build import Stage, model_on, resting_grid, resting_state
from labrum.simulate.load_path.press import Listener, Pressed, move_on, reporter
from labrum.simulate.problem import NotConverged, Problem
from labrum.simulate.tissue.condensation import Pattern

FAR_MM = 1000.0
LEAST_SHARE = 0.004  # of the breath or of the activation that one step must bring in


def enlivened(problem: Problem, pressed: Pressed, listener: Listener) -> tuple[Pressed, Contraction | None]:
    """Bring breath and contraction in; return the equilibrium and what contraction did, None where nothing contracts.

    Raises `NotConverged`.
    """
    load = problem.load
    if load.mouth_pressure > 0.0:
        pressed = _brought_in(problem, pressed, Stage("breath"), Stage("breath", 0.0, load.mouth_pressure), listener)
    if not contracts(problem):
        return pressed, None
    breath = Stage("contract", 0.0, load.mouth_pressure)
    relaxed, pressed = pressed, _brought_in(problem, pressed, breath, final_stage(problem), listener)
    ends = ((one.model, one.equilibrium.state) for one in (relaxed, pressed))
    return pressed, contraction_between(problem, *ends)


def final_stage(problem: Problem) -> Stage:
    """All the loads beside the rim that the problem asks for."""
    load = problem.load
    return Stage("contract" if contracts(problem) else "hold", load.muscle_activation, load.mouth_pressure)


def contracts(problem: Problem) -> bool:
    """Is there a muscle, and is it active?"""
    return problem.load.muscle_activation > 0.0 and any(k.muscle and k.active_stress > 0 for k in problem.lip.layers)


def free_contraction(problem: Problem, fineness: Fineness, listener: Listener) -> Contraction:
    """What contraction does with no rim on.

    Without a rim nothing presses the lip to the teeth; a sliding back face is therefore held to them in z.
    """
    load = problem.load
    grid = resting_grid(problem, fineness)
    relaxed = Stage("rim off", 0.0, load.mouth_pressure)
    state = replace(resting_state(_rimless(problem, grid, relaxed)), travel=-FAR_MM)
    state = replace(state, pairs=state.pairs[:1])
    ends: list[Standing] = []
    for first, last in ((Stage("rim off"), relaxed), (relaxed, replace(final_stage(problem), name="rim off"))):
        state = _ramped(problem, grid, state, first, last, listener)
        ends.append((_rimless(problem, grid, last), state))
    return contraction_between(problem, *ends)


def _rimless(problem: Problem, grid: Grid, stage: Stage) -> Model:
    model = model_on(problem, grid, stage)
    fixed = model.pattern.fixed.copy()
    if problem.lip.backing == "sliding":
        fixed[grid.back[grid.node_columns >= problem.lip.tooth_gap_radius - 1e-9], 1] = True
    return replace(model, pattern=Pattern(grid, fixed), pairs=model.pairs[:1])


def _ramped(problem: Problem, grid: Grid, state: State, first: Stage, last: Stage, listener: Listener) -> State:
    """Equilibrium without a rim as the loads go from ``first`` to ``last``."""
    done, share = 0.0, 1.0
    while done < 1.0:
        stage = _between(first, last, min(1.0, done + share))
        model = _rimless(problem, grid, stage)
        try:
            found = equilibrate(
                model, state, Drive(travel=state.travel), Settings(), reporter(listener, stage.name, model)
            )
        except StepFailedError as failure:
            share *= 0.4
            if share < LEAST_SHARE:
                raise _lost(0.0, failure, last) from failure
            continue
        state, done, share = found.state, min(1.0, done + share), 1.5 * share
    return state


def _brought_in(problem: Problem, pressed: Pressed, first: Stage, last: Stage, listener: Listener) -> Pressed:
    """Equilibrium under the rim's force as the loads go from ``first`` to ``last``, the grid refitted on the
    way.
    """
    done, share = 0.0, 1.0
    while done < 1.0:
        reach = min(1.0, done + share)
        try:
            pressed = move_on(problem, pressed, _between(first, last, reach), listener)
        except StepFailedError as failure:
            share *= 0.4
            if share < LEAST_SHARE:
                raise _lost(pressed.equilibrium.force, failure, last, pressed) from failure
            pressed = replace(pressed, fineness=pressed.fineness.finer_arcs())
            continue
        done, share = reach, 1.5 * share
    return pressed


def _between(first: Stage, last: Stage, share: float) -> Stage:
    return replace(
        last,
        activation=first.activation + share * (last.activation - first.activation),
        mouth_pressure=first.mouth_pressure + share * (last.mouth_pressure - first.mouth_pressure),
    )


def _lost(force: float, failure: StepFailedError, stage: Stage, pressed: Pressed | None = None) -> NotConverged:
    return NotConverged(
        force,
        f"the lip found no equilibrium while the stage '{stage.name}' came in ({failure})",
        "lower muscle_activation or mouth_pressure_kpa, or make the tooth gap smaller",
        pressed.history if pressed else (),
    )


