"""Equilibria under one force after another: what a scale and a camera beside the press would see."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from labrum.simulate.equilibrium.newton import StepFailedError
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import HOME, PRESS, Listener, Pressed, move_on, press
from labrum.simulate.problem import NotConverged, Problem

SHORTEST = 1 / 40
"""The least share of a step from force to force that is tried."""


def through_forces(
    problem: Problem, forces: Sequence[float], fineness: Fineness, listener: Listener
) -> list[Pressed]:
    """Press under each of the rising forces, N, in turn, each an equilibrium to rounding; breath and muscle at rest.

    Raises
    ------
    NotConverged
        Where one of them has no equilibrium that is found.
    """
    first = replace(problem, load=replace(problem.load, force=forces[0]))
    way = [press(first, fineness, listener, waypoint=HOME)]
    for force in forces[1:]:
        way.append(_raised(problem, way[-1], force, listener))
    return way


def _raised(problem: Problem, pressed: Pressed, force: float, listener: Listener) -> Pressed:
    """Go to a larger force, by steps that are halved, on finer arcs, where one fails."""
    whole = step = force - pressed.equilibrium.force
    while pressed.equilibrium.force < force * (1.0 - HOME.residual):
        wanted = min(pressed.equilibrium.force + step, force)
        try:
            pressed = move_on(problem, pressed, PRESS, listener, wanted, shortens=step < whole)
        except StepFailedError as failure:
            step *= 0.5
            pressed = replace(pressed, fineness=pressed.fineness.finer_arcs())
            if step < SHORTEST * whole:
                cause = f"no equilibrium between {pressed.equilibrium.force:.1f} and {force:.1f} N ({failure})"
                raise NotConverged(pressed.equilibrium.force, cause, "less force, or a rounder bite") from failure
    return pressed
