"""What a press leaves: how deep a rim sinks into a lip, and the ring it prints.

The lip is set as for playing (that is what the library's moduli stand for), dry and bonded, nothing is blown and its
muscle does no more: its skin sticks to the rim, so a print is the ring that was touched, and its diameters are twice
the radii where contact begins and ends. Friction 0.5 stands for dry skin; from there to 0.8 the sink moves by 0.02
mm.

All moduli scale with the stiffness and nothing else presses, so what a force does to a lip is what force over stiffness
does to one of stiffness 1: lips of one thickness need one family of solutions.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from labrum.cases.case_file.reading import case_from_table
from labrum.cases.case_file.schema import SCHEMA
from labrum.cases.player.sheet import KnownRim
from labrum.cases.player.tissue import layer_tables
from labrum.meshes.arrays import Floats
from labrum.simulate.problem import Problem

DRY_FRICTION = 0.5
LIP_RADIUS_MM, BEYOND_MM = 25.0, 12.0


def disc_radius(rim: KnownRim) -> float:
    """Radius, mm, of the lip disc under a rim: large enough for its edge to hardly matter."""
    return max(LIP_RADIUS_MM, rim.rim.outer_radius + BEYOND_MM)


def pressing_problem(
    rim: KnownRim, thickness: float, stiffness: float, force: float, peak_pressure_percent: float = 1.0
) -> Problem:
    """The press of a sheet as the solver is asked it; ``thickness`` mm, ``force`` N."""
    lip = {"radius_mm": disc_radius(rim), "backing": "bonded", "layer": layer_tables(thickness, stiffness)}
    table: dict[str, Any] = {
        "schema": SCHEMA,
        "rim": rim.table,
        "lip": lip,
        "load": {"force_n": force, "friction": DRY_FRICTION},
        "accuracy": {"peak_pressure_percent": peak_pressure_percent},
    }
    return case_from_table(table, f"{rim.name} pressed").problem


class PressTable:
    """Predicts presses, each solved once."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, float, float], Floats] = {}

    def lengths(self, rim: KnownRim, thickness: float, stiffness: float, force: float) -> Floats:
        """(3,) sink and the print's inner and outer diameter, mm.

        Raises
        ------
        labrum.simulate.problem.NotConverged
            Where there is no equilibrium.
        """
        key = (rim.name, round(thickness, 9), round(force / stiffness, 9))
        if key not in self._known:
            self._known[key] = _lengths(pressing_problem(rim, thickness, 1.0, force / stiffness))
        return self._known[key]


def _lengths(problem: Problem) -> Floats:
    from labrum.simulate.accuracy.refinement import reading_of  # whoever reads a sheet does not load the solver
    from labrum.simulate.solving import first_readable

    standing = first_readable(problem, None).standing
    reading = reading_of(problem.rim, standing)
    return np.array([standing.equilibrium.state.travel, 2.0 * reading.inner_radius, 2.0 * reading.outer_radius])
