"""The living lip: breath behind it and a contracting ring muscle, applied after the rim is home.

The order is that of playing: the rim is set, the breath comes, the muscle closes. How far the muscle can still
draw the opening inwards under the rim, against what it can do without, tells whether the lip is pinned.
"""

from __future__ import annotations

from dataclasses import replace

from labrum.meshes.arrays import Floats
from labrum.meshes.grids.grid import Grid
from labrum.simulate.contact.signorini import Pair
from labrum.simulate.contact.supports import kept_on_teeth
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.newton import Drive, StepFailedError, StepTooLongError, equilibrate
from labrum.simulate.living.contraction import Contraction, Standing, contraction_between
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.build import Stage, model_on, resting_grid, resting_state
from labrum.simulate.load_path.press import (
    HOME,
    Listener,
    Pressed,
    at_rest,
    move_on,
    press,
    reporter,
    with_feet_settled,
)
from labrum.simulate.problem import NotConverged, Problem
from labrum.simulate.tissue.condensation import Pattern

FAR_MM = 1000.0
LONG_WAY = 0.4  # share of the contraction that can be brought in at once, below which a fresh press is shorter
SHORTEST_CUT = 0.02  # of a step that was predicted to be too long
CALM = 2  # steps of one length after a failure, before they grow again: else every third would fail
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
    relaxed, pressed = pressed, _contracted(problem, pressed, listener)
    ends = ((one.model, one.equilibrium.state) for one in (relaxed, pressed))
    return pressed, contraction_between(problem, *ends)


def _contracted(problem: Problem, pressed: Pressed, listener: Listener) -> Pressed:
    """Bring contraction in.

    Where the rim's arcs would make that a long way, and without friction, whose answer depends on the way, the same
    equilibrium is reached by pressing the rim into the contracted lip, which is stiffer and gives less way.
    """
    first, last = Stage("contract", 0.0, problem.load.mouth_pressure), final_stage(problem)
    if problem.load.friction == 0.0:
        try:
            return move_on(problem, pressed, last, listener, declines=True)
        except StepTooLongError as long:
            if long.share < LONG_WAY:
                return _pressed_contracted(problem, pressed, first, last, listener)
        except StepFailedError:
            pass
    return _brought_in(problem, pressed, first, last, listener)


def _pressed_contracted(problem: Problem, pressed: Pressed, first: Stage, last: Stage, listener: Listener) -> Pressed:
    dry = replace(last, mouth_pressure=0.0)
    try:
        start = _touching_contracted(problem, pressed.fineness, dry, listener)
        found = press(problem, pressed.fineness, listener, stage=dry, start=start)
        return _brought_in(problem, found, dry, last, listener) if last.mouth_pressure > 0.0 else found
    except NotConverged:
        return _brought_in(problem, pressed, first, last, listener)


def _touching_contracted(problem: Problem, fineness: Fineness, stage: Stage, listener: Listener) -> Standing:
    """The lip contracted with no rim on, and the rim brought to where it just touches."""
    model, rest = at_rest(problem, fineness, stage)
    free = _ramped(problem, model.elements.grid, _rim_away(rest), replace(stage, activation=0.0), stage, listener)
    places = (model.elements.grid.nodes + free.u)[model.pairs[0].nodes]
    state = replace(rest, u=free.u, p=free.p, travel=_first_touch(model.pairs[0], places))
    return model, with_feet_settled(model, state)


def _first_touch(rim: Pair, places: Floats) -> float:
    """The least travel, mm, of the rim at which it touches a surface of nodes at ``places`` (k, 2), within a micron."""
    apart, inside = -FAR_MM, FAR_MM
    while inside - apart > 1e-3:
        middle = 0.5 * (apart + inside)
        apart, inside = (middle, inside) if rim.look(places, middle).distance.min() > 0.0 else (apart, middle)
    return apart


def _rim_away(state: State) -> State:
    """The same with the rim far off and nothing but the rim to be met."""
    return replace(state, travel=-FAR_MM, pairs=state.pairs[:1])


def final_stage(problem: Problem) -> Stage:
    """All the loads beside the rim that the problem asks for."""
    load = problem.load
    return Stage("contract" if contracts(problem) else "hold", load.muscle_activation, load.mouth_pressure)


def alive(problem: Problem) -> bool:
    """Is there breath or contraction?"""
    stage = final_stage(problem)
    return stage.activation > 0.0 or stage.mouth_pressure > 0.0


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
    state = _rim_away(resting_state(_rimless(problem, grid, relaxed)))
    ends: list[Standing] = []
    for first, last in ((Stage("rim off"), relaxed), (relaxed, replace(final_stage(problem), name="rim off"))):
        state = _ramped(problem, grid, state, first, last, listener)
        ends.append((_rimless(problem, grid, last), state))
    return contraction_between(problem, *ends)


def _rimless(problem: Problem, grid: Grid, stage: Stage) -> Model:
    model = model_on(problem, grid, stage)
    held, springs = kept_on_teeth(problem.lip, grid)
    pattern = Pattern(grid, model.pattern.fixed | held)
    return replace(model, pattern=pattern, pairs=model.pairs[:1], springs=model.springs + springs)


def _ramped(problem: Problem, grid: Grid, state: State, first: Stage, last: Stage, listener: Listener) -> State:
    """Equilibrium without a rim as the loads go from ``first`` to ``last``."""
    done, share = 0.0, 1.0
    while done < 1.0:
        stage = _between(first, last, min(1.0, done + share))
        model = _rimless(problem, grid, stage)
        try:
            found = equilibrate(
                model, state, Drive(travel=state.travel), HOME, reporter(listener, stage.name, model)
            )
        except StepFailedError as failure:
            share *= 0.4
            if share < LEAST_SHARE:
                raise _lost(0.0, failure, last) from failure
            continue
        state, done, share = found.state, min(1.0, done + share), 1.5 * share
    return state


def _brought_in(problem: Problem, pressed: Pressed, first: Stage, last: Stage, listener: Listener) -> Pressed:
    """Equilibrium under the rim's force as the loads go from ``first`` to ``last``, the grid refitted on the way.

    Arcs get finer where a step fails, and coarser again afterwards.
    """
    done, share, declines, calm, longest = 0.0, 1.0, True, 0, pressed.fineness.arc
    while done < 1.0:
        reach = min(1.0, done + share)
        try:
            pressed = move_on(problem, pressed, _between(first, last, reach), listener, declines=declines)
        except StepTooLongError as long:
            share, declines = max(long.share, SHORTEST_CUT) * (reach - done), False
            continue
        except StepFailedError as failure:
            share, calm = 0.4 * share, CALM
            if share < LEAST_SHARE:
                raise _lost(pressed.equilibrium.force, failure, last, pressed) from failure
            pressed = replace(pressed, fineness=pressed.fineness.finer_arcs())
            continue
        pressed = replace(pressed, fineness=pressed.fineness.coarser_arcs(longest))
        growth = 1.5 if declines and calm == 0 else 1.0  # what was just cut would be cut again
        done, share, declines, calm = reach, growth * share, True, max(0, calm - 1)
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


