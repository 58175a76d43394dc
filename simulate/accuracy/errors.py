"""The estimated discretisation error of every measure, from what was solved anyway.

An answer has a grid before it and, with friction, two ways: steps of first order and of second, or of a contracting
lip steps of which one way's are half as long. Each measure that one
equilibrium tells by itself is read on those too. What its movement is worth, its declaration says
(`labrum.simulate.measures.catalogue`). Where a measure may jump, the jump is added
(`labrum.simulate.accuracy.undecided`).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from labrum.simulate.accuracy.refinement import Refined
from labrum.simulate.accuracy.undecided import undecided
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.living.breath_and_muscle import final_stage
from labrum.simulate.living.vibration import liveliness
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.measures.catalogue import CATALOGUE, Measures
from labrum.simulate.measures.declaration import Evidence
from labrum.simulate.problem import Problem
from labrum.simulate.readings.measures import measures_of

if TYPE_CHECKING:
    from labrum.simulate.postures.found import OffAxis


def with_errors(problem: Problem, measures: Measures, refined: Refined, found: OffAxis | None = None) -> Measures:
    """The answer's ``measures`` with the estimated error of each, in its own unit.

    What was ``found`` off the axis is read on one grid alone, in two ways, but for the tilt that lifts the rim off.
    """
    otherwise = {} if found is None else found.moved
    before = _vibrating(_read(problem, refined.before), problem, refined.before)
    longer, shorter = (measures, measures) if refined.ways is None else [_read(problem, k) for k in refined.ways]
    errors: dict[str, float | None] = {}
    for name, declared in CATALOGUE.items():
        value = getattr(measures, name)
        if value is None or declared.error is None:
            errors[name] = None
            continue
        grids, steps = otherwise.get(name, _moved(before, measures, name)), _moved(longer, shorter, name)
        errors[name] = declared.error.of(seen_of(problem, measures, name, grids, steps))
    others = (before, longer, shorter)
    for name, jump in undecided(problem, refined.finest, measures, others, errors, found).items():
        errors[name] = (errors[name] or 0.0) + jump
    return replace(measures, errors=errors)


def seen_of(problem: Problem, measures: Measures, name: str, grids: float = 0.0, steps: float = 0.0) -> Evidence:
    """What is known of one measure's error."""
    stage = final_stage(problem)
    return Evidence(
        value=float(getattr(measures, name)),
        peak_percent=measures.peak_pressure_error_percent,
        grids=grids,
        steps=steps,
        alive=stage.activation > 0.0 or stage.mouth_pressure > 0.0,
        rubs=problem.load.friction > 0.0,
        sink=measures.sink_mm,
    )


def _read(problem: Problem, pressed: Pressed) -> Measures:
    model, state = pressed.model, pressed.equilibrium.state
    return measures_of(problem, model, state, traction(model, state))


def _vibrating(measures: Measures, problem: Problem, pressed: Pressed) -> Measures:
    """The same with compliance and mode, where vibration is asked for."""
    if not problem.vibration:
        return measures
    try:
        found = liveliness(pressed.model, pressed.equilibrium.state)
    except np.linalg.LinAlgError:
        return measures
    mode = found.mode.frequency_hz if found.mode else None
    return replace(measures, lip_compliance_um_per_kpa=found.compliance, lip_mode_hz=mode)


def _moved(one: Measures, other: Measures, name: str) -> float:
    """How far a measure lies from the other; 0 where one of them does not have it.

    And 0 where it jumps because the cup is touched in one of them only: that is no movement (see `undecided`).
    """
    if name == "cup_clearance_mm" and one.touches_cup != other.touches_cup:
        return 0.0
    a, b = getattr(one, name), getattr(other, name)
    return 0.0 if a is None or b is None else abs(float(a) - float(b))
