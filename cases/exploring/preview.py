"""A quick equilibrium on the coarsest grid that is read: a far better picture than another case's, before the solution.

It is the solver's own first stage: it begins where a like case ended and corrects that in a few iterations, or presses
from first touch where that leads nowhere. It is an equilibrium, but on a grid nobody has checked: the page marks it as
unchecked and replaces it by the solution, which is computed without it. With friction the answer depends on the way
there, so none is given.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.solving.result import measured
from labrum.reports.pages.picture import picture_of
from labrum.simulate.conclusions.measure_errors import doubt
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.outcome import Contact
from labrum.simulate.problem import KPA_PER_MPA, NotConverged, Progress
from labrum.simulate.readings.fields import section_of
from labrum.simulate.readings.measures import measures_of
from labrum.simulate.readings.pressure import on_rim, profile
from labrum.simulate.solving import first_readable

UNCHECKED_PERCENT = 1.0  # the peak's error on a grid nobody has checked


@dataclass(frozen=True)
class Rough:
    """An unchecked equilibrium: ``text`` is what a page draws, ``pressed`` where the next one may begin."""

    text: str
    pressed: Pressed


@dataclass(frozen=True)
class RoughJob:
    """Find an unchecked equilibrium, beginning at ``start`` where there is one."""

    case: Case
    start: Pressed | None

    def run(self, tell: Callable[[Any], None]) -> Rough | None:
        """Return the equilibrium; None where it is not found, which the solve proper will explain."""

        def listen(progress: Progress) -> None:
            tell(None)

        with suppress(NotConverged):
            found = first_readable(self.case.problem, self.start, listen)
            return Rough(rough_text(self.case, found.standing), found.start)
        return None


def rough_text(case: Case, pressed: Pressed) -> str:
    """Write what a page draws; what only the solution tells is left out, and the errors are the least ever told."""
    model, state = pressed.model, pressed.equilibrium.state
    problem, contact = case.problem, traction(model, state)
    names = tuple(layer.name for layer in problem.lip.layers)
    side = Contact(
        contact.place, contact.normal, KPA_PER_MPA * contact.pressure, KPA_PER_MPA * contact.shear,
        on_rim(problem.rim, contact),
    )  # fmt: skip
    drawn = picture_of(problem.rim, state.travel, section_of(model, state, names), side, profile(contact))
    told = replace(measures_of(problem, model, state, contact), peak_pressure_error_percent=UNCHECKED_PERCENT)
    numbers = {name: v for name, v in measured(told).items() if not CATALOGUE[name].more_than_one}
    errors = {name: doubt(told, name) for name, v in numbers.items() if v is not None and CATALOGUE[name].error}
    result = {"title": problem.title, **numbers, "errors": errors}
    return json.dumps({"picture": drawn, "result": result, "inputs": case.resolved}, allow_nan=False)
