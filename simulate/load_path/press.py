"""Pressing the rim home: adaptive steps, first by travel and then by force, on a grid refitted on the way.

A step that fails is shortened, and the grid under sharp arcs is made finer: where pressure p on an arc of
radius rho meets tissue of shear modulus mu, a node is pushed off its place along the arc by about p h / rho
against a stiffness of about mu per mm, so an element of length h that is too long lets the surface jump over
the bite. That, not the tissue, is what ends most load paths; a finer grid there lets them go on.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from labrum.meshes.curves.curve import Nearest
from labrum.simulate.contact.signorini import Pair, PairState, caught_up, free_anew, not_caught_up, settled
from labrum.simulate.equilibrium.model import Model, State, look
from labrum.simulate.equilibrium.newton import Drive, Equilibrium, Report, Settings, StepFailedError, equilibrate
from labrum.simulate.load_path.adaptive_grid import Fineness, deformed_surfaces
from labrum.simulate.load_path.advice import advice
from labrum.simulate.load_path.build import Stage, fitted_grid, model_on, resting_grid, resting_state
from labrum.simulate.load_path.squeezed import squeezed_lines
from labrum.simulate.load_path.transfer import transferred
from labrum.simulate.outcome import StepRecord
from labrum.simulate.problem import NotConverged, Problem, Progress

Listener = Callable[[Progress], None]
HOME = Settings(chords_below=1e-5)
PRESS = Stage("press")
WAYPOINT = Settings(residual=1e-4, fall=0.1, gap=1e-4)  # a waypoint is only where the next step starts
RUBBING = Settings(residual=1e-6, gap=1e-6, chords_below=1e-5)  # with friction, slip adds up: below what steps leave
LEAST_FIRST = 3e-4  # travel over thickness: of a shorter first touch rounding leaves too little


@dataclass(frozen=True)
class Pressed:
    """A model in equilibrium under the rim's force, and every accepted step that led there.

    ``beyond`` is the same pressed harder, for its drift, where that is known: there a like problem's drift begins.
    """

    model: Model
    equilibrium: Equilibrium
    fineness: Fineness
    history: tuple[StepRecord, ...]
    beyond: Pressed | None = None


@dataclass(frozen=True)
class StepLengths:
    """How long a step is, as travel over the lip's thickness: the first, the longest, the shortest; and its change.

    A step that took at most ``easy`` iterations is followed by one ``longer`` times as long.
    """

    first: float = 0.02
    longest: float = 0.15
    shortest: float = 2e-4
    longer: float = 2.2
    easy: int = 7

    def times(self, share: float) -> StepLengths:
        """Steps that much as long, in the same proportions; the first not below `LEAST_FIRST`."""
        first, shortest = max(share * self.first, LEAST_FIRST), min(share, 1.0) * self.shortest
        return replace(self, first=first, longest=share * self.longest, shortest=shortest)


@dataclass(frozen=True)
class Last:
    """The grid of the last force, and when its iteration ends."""

    fineness: Fineness
    settings: Settings

    def at_least_as_fine(self, path: Fineness) -> Fineness:
        """On arcs at least as fine as the path's grid has become."""
        return replace(self.fineness, arc=min(self.fineness.arc, path.arc))


def press(
    problem: Problem,
    fineness: Fineness,
    listener: Listener,
    pace: StepLengths | None = None,
    waypoint: Settings = WAYPOINT,
    seen: Callable[[Pressed], None] | None = None,
    last: Last | None = None,
    stage: Stage = PRESS,
    start: tuple[Model, State] | None = None,
) -> Pressed:
    """Press the rim into the resting lip until its force is the problem's; raises `NotConverged`.

    ``waypoint`` says when the iteration ends at the forces on the way; with friction, whose slip adds up along the
    way, it is `RUBBING` at the least, and at the last force it ends at rounding. ``seen`` is shown every equilibrium on
    the way, the last one included. ``last`` is the grid on which the last force is tried first, straight from the
    way's, and when it ends. ``stage`` tells what else acts from the first touch on, and ``start`` where that is, unless
    the lip is at rest: the model and the state in which the rim just touches.
    """
    pace = pace or StepLengths()
    if problem.load.friction > 0.0 and waypoint.residual > RUBBING.residual:
        waypoint = RUBBING
    model, state = start or at_rest(problem, fineness, stage)
    settled_on, step = model, pace.first * problem.lip.thickness
    on = fineness
    history: list[StepRecord] = []
    reached: Equilibrium | None = None
    target = problem.load.force
    while True:
        before = state.travel if reached is None else reached.state.travel
        drive = Drive(travel=before + step) if reached is None else _next_drive(reached, step, target)
        settings = waypoint if drive.force is None else HOME
        if reached is not None and last is not None and drive.force is not None:
            on, settings = last.at_least_as_fine(fineness), last.settings
            model, state = _next_start(problem, settled_on, reached.state, on, stage)
        try:
            reached = equilibrate(model, state, drive, settings, reporter(listener, stage.name, model))
        except StepFailedError as failure:
            if on is not fineness and reached is not None:  # as if there were no such grid
                last, on = None, fineness
                model, state = _next_start(problem, settled_on, reached.state, fineness, stage)
                continue
            step *= 0.5
            on = fineness = fineness.finer_arcs()
            if step < pace.shortest * problem.lip.thickness:
                raise _given_up(problem, reached, failure, history) from failure
            if reached is not None:
                model, state = _next_start(problem, settled_on, reached.state, fineness, stage)
            continue
        settled_on = model
        history.append(record(stage.name, model, reached))
        standing = Pressed(model, reached, on, tuple(history))
        if seen is not None:
            seen(standing)
        if abs(reached.force - target) <= settings.residual * target:
            return standing
        on = fineness
        step = min(step, abs(reached.state.travel - before))
        if len(reached.residuals) - 1 <= pace.easy:
            step = min(step * pace.longer, pace.longest * problem.lip.thickness)
        model, state = _next_start(problem, model, reached.state, fineness, stage)


def at_rest(problem: Problem, fineness: Fineness, stage: Stage) -> tuple[Model, State]:
    """A model on a grid fitted to the undeformed lip, at rest, with the rim just touching it."""
    model = model_on(problem, resting_grid(problem, fineness), stage)
    return model, resting_state(model)


def press_near(
    problem: Problem, neighbour: Pressed, fineness: Fineness, listener: Listener, settings: Settings = HOME
) -> Pressed | None:
    """Press by starting from a neighbour's equilibrium: a like rim, lip or force. None where that leads nowhere.

    Without friction an equilibrium does not depend on the way to it, so this answers the same question as `press`.
    """
    if problem.load.friction > 0.0 or len(neighbour.model.pairs) != (2 if problem.lip.backing == "sliding" else 1):
        return None
    stage = Stage("press near")
    model, state = refitted(problem, neighbour.model, neighbour.equilibrium.state, fineness, stage)
    drive = Drive(force=problem.load.force)
    try:
        start = with_feet_settled(model, state)
        found = equilibrate(model, start, drive, settings, reporter(listener, stage.name, model))
    except StepFailedError:
        return None
    return Pressed(model, found, fineness, (record(stage.name, model, found),))


def _next_start(
    problem: Problem, model: Model, state: State, fineness: Fineness, stage: Stage
) -> tuple[Model, State]:
    """Where the next step starts: on a refitted grid, or on the old one where the new one cannot hold the shape."""
    new, carried = _settled_anew(problem, model, state, fineness, stage)
    if new.elements.smallest_ratio(carried.u) > 0.0:
        return new, carried
    return model, with_feet_settled(model, state)


def _settled_anew(
    problem: Problem, model: Model, state: State, fineness: Fineness, stage: Stage
) -> tuple[Model, State]:
    """A refitted grid, and the state from which the next step starts on it."""
    new, carried = refitted(problem, model, with_feet_settled(model, state), fineness, stage)
    return new, _each_pair(new, carried, lambda pair, status, seen: free_anew(status, seen))


def refitted(problem: Problem, model: Model, state: State, fineness: Fineness, stage: Stage) -> tuple[Model, State]:
    """A model on a grid fitted to where the tissue now stands, and the state carried over to it."""
    surfaces = deformed_surfaces(model, state, pressed=math.isfinite(fineness.hump))
    kept = squeezed_lines(model, state)
    new = model_on(problem, fitted_grid(problem, surfaces, fineness, kept), stage)
    return new, transferred(model, state, new)


def with_feet_settled(model: Model, state: State) -> State:
    """The state from which the next step starts: slip counts from here."""
    return _each_pair(model, state, settled)


def _each_pair(model: Model, state: State, change: Callable[[Pair, PairState, Nearest], PairState]) -> State:
    seen = look(model, state)
    pairs = tuple(change(p, s, k) for p, s, k in zip(model.pairs, state.pairs, seen, strict=True))
    return replace(state, pairs=pairs)


def hold(
    problem: Problem, pressed: Pressed, fineness: Fineness, stage: Stage, listener: Listener, settings: Settings = HOME
) -> Pressed:
    """The same increment of load on another grid; raises `StepFailedError`.

    With friction, slip goes on counting from where it did, or where a node was caught: a finer answer to the same
    question.
    """
    ended = pressed.equilibrium.state
    if problem.load.friction > 0.0:
        ended = _each_pair(pressed.model, ended, lambda pair, status, seen: caught_up(status, seen))
    model, state = refitted(problem, pressed.model, ended, fineness, stage)
    drive = Drive(force=problem.load.force)
    return _settled(pressed, model, state, drive, fineness, stage, listener, settings)


def move_on(
    problem: Problem, pressed: Pressed, stage: Stage, listener: Listener, force: float | None = None,
    settings: Settings = HOME, shortens: bool = False, declines: bool = False,
) -> Pressed:  # fmt: skip
    """A new increment: equilibrium under another force or other loads, slip counted from here.

    Where a node would slide too far along an arc, it ends at a smaller force with ``shortens``, and raises
    `StepTooLongError` with ``declines`` (see `Drive`).
    """
    fineness, wanted = pressed.fineness, problem.load.force if force is None else force
    model, state = _settled_anew(problem, pressed.model, pressed.equilibrium.state, fineness, stage)
    drive = Drive(force=wanted, shortens=shortens, declines=declines)
    return _settled(pressed, model, state, drive, fineness, stage, listener, settings)


def of_first_order(
    problem: Problem, pressed: Pressed, stage: Stage, listener: Listener, settings: Settings = HOME
) -> Pressed:
    """The equilibrium on the same grid that steps of first order would have led to; raises `StepFailedError`.

    Every sticking node lies where it was when the step began that caught it. What that changes bounds what the length
    of the steps still leaves open, as the lower of two orders does for the higher (embedded pairs: Hairer, Norsett,
    Wanner 1993, Solving Ordinary Differential Equations I, II.4; from memory).
    """
    state, drive = pressed.equilibrium.state, Drive(force=problem.load.force)
    early = replace(state, pairs=tuple(not_caught_up(status) for status in state.pairs))
    return _settled(pressed, pressed.model, early, drive, pressed.fineness, stage, listener, settings)


def _settled(
    before: Pressed, model: Model, state: State, drive: Drive, fineness: Fineness, stage: Stage, listener: Listener,
    settings: Settings,
) -> Pressed:  # fmt: skip
    found = equilibrate(model, state, drive, settings, reporter(listener, stage.name, model))
    return Pressed(model, found, fineness, (*before.history, record(stage.name, model, found)))


def record(stage: str, model: Model, found: Equilibrium) -> StepRecord:
    """The history's line about an accepted equilibrium."""
    return StepRecord(
        stage, found.force, found.state.travel, model.unknowns, len(found.residuals) - 1, found.residuals,
        found.changes, found.chords,
    )  # fmt: skip


def _next_drive(reached: Equilibrium, step: float, target: float) -> Drive:
    """Drive by travel until the force is within one step, then by force."""
    near = reached.force + 1.2 * reached.stiffness * step >= target
    if near:
        return Drive(force=target, shortens=True)
    return Drive(travel=reached.state.travel + step, shortens=True)


def reporter(listener: Listener, stage: str, model: Model) -> Report:
    """Pass an iteration's news on as a `Progress`."""

    def report(iteration: int, residual: float, force: float, travel: float) -> None:
        listener(Progress(stage, force, iteration, residual, travel, model.unknowns))

    return report


def _given_up(
    problem: Problem, reached: Equilibrium | None, failure: StepFailedError, history: list[StepRecord]
) -> NotConverged:
    force = 0.0 if reached is None else reached.force
    return NotConverged(
        force,
        f"no equilibrium was found beyond this force, however short the step ({failure})",
        advice(problem, force),
        tuple(history),
    )
