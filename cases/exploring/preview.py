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
from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.reports.pages.picture import picture_of
from labrum.simulate.equilibrium.traction import Traction, traction
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.outcome import Contact
from labrum.simulate.problem import KPA_PER_MPA, NotConverged, Problem, Progress
from labrum.simulate.readings.fields import section_of, skin_stretch
from labrum.simulate.readings.measures import cup_reading, on_rim, pressure_reading, profile
from labrum.simulate.solving import first_readable


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
    """Write what a page draws; what only the solution tells (errors, drift, freedom) is left out."""
    model, state = pressed.model, pressed.equilibrium.state
    problem, contact = case.problem, traction(model, state)
    names = tuple(layer.name for layer in problem.lip.layers)
    side = Contact(
        contact.place, contact.normal, KPA_PER_MPA * contact.pressure, KPA_PER_MPA * contact.shear,
        on_rim(problem.rim, contact),
    )  # fmt: skip
    drawn = picture_of(problem.rim, state.travel, section_of(model, state, names), side, profile(contact))
    result = {"title": problem.title, **_numbers(problem, pressed, contact)}
    return json.dumps({"picture": drawn, "result": result, "inputs": case.resolved}, allow_nan=False)


def _numbers(problem: Problem, pressed: Pressed, contact: Traction) -> dict[str, Any]:
    model, state = pressed.model, pressed.equilibrium.state
    read, cup = pressure_reading(problem.rim, contact), cup_reading(model, state, problem.rim, contact)
    mean = read.force / read.area
    return {
        "peak_pressure_kpa": KPA_PER_MPA * read.peak,
        "peak_radius_mm": read.peak_radius,
        "mean_pressure_kpa": KPA_PER_MPA * mean,
        "contact_area_mm2": read.area,
        "bearing_area_mm2": read.force**2 / read.square,
        "edge_concentration": read.peak / mean,
        "skin_stretch_max": skin_stretch(model, state),
        "contact_inner_radius_mm": read.inner_radius,
        "contact_outer_radius_mm": read.outer_radius,
        "felt_diameter_mm": 2.0 * read.felt_radius,
        "sink_mm": state.travel,
        "past_bite": bool(cup.height > 0.0),
        "intrusion_height_mm": cup.height,
        "intrusion_volume_mm3": cup.volume,
        "drawn_in_volume_mm3": cup.drawn_in,
        "touches_cup": None if cup.touches is None else bool(cup.touches),
        "cup_clearance_mm": cup.clearance,
    }
