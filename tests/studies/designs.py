"""Random designs over the ranges a fitter works in, trumpet to tuba (common practice, no source), from a seed.

All studies and tests that draw rims, lips and loads draw them here. Breath is what a rim of that force may hold: more
would lift it off.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.simulate.problem import Problem

Table = dict[str, Any]
MOST_BREATH_KPA, BREATH_KPA_PER_N = 15.0, 0.5


def drawn(rng: np.random.Generator, friction: bool, living: bool) -> Problem:
    """A problem without faults: a lip at rest or, ``living``, one that breathes and contracts."""
    return without_faults(rng, lambda rng: _plain_table(rng, friction, living))[1]


def drawn_alive(rng: np.random.Generator) -> tuple[Table, Problem]:
    """A case without faults that breathes or contracts, and its table; backing, opening and friction are any."""
    return without_faults(rng, _living_table)


def without_faults(
    rng: np.random.Generator, table_of: Callable[[np.random.Generator], Table]
) -> tuple[Table, Problem]:
    """Draw until the table makes a case: some draws make a rim that cannot be."""
    while True:
        table = table_of(rng)
        try:
            return table, case_from_table(table).problem
        except InvalidCase:
            continue


def _table(rim: Table, lip: Table, load: Table) -> Table:
    return {"schema": 1, "title": "drawn", "rim": rim, "lip": lip, "load": load}


def _rim(rng: np.random.Generator, diameter: float) -> Table:
    return {
        "inner_diameter_mm": diameter, "width_mm": rng.uniform(3.5, 8.0),
        "high_point": rng.uniform(0.3, 0.6), "bite_radius_mm": float(np.exp(rng.uniform(*np.log([0.15, 1.5])))),
        "inner_crown_radius_mm": rng.uniform(3.0, 12.0), "outer_crown_radius_mm": rng.uniform(3.0, 12.0),
        "shoulder_radius_mm": rng.uniform(0.8, 2.5), "cup_wall_angle_deg": rng.uniform(50.0, 75.0),
        "cup_depth_mm": rng.uniform(8.0, 20.0),
    }  # fmt: skip


def _plain_table(rng: np.random.Generator, friction: bool, living: bool) -> Table:
    diameter = rng.uniform(14.5, 32.0)
    rim = _rim(rng, diameter)
    lip: Table = {
        "type": str(rng.choice(["thin", "average", "fleshy"])),
        "backing": str(rng.choice(["bonded", "bonded", "sliding"])),
        "radius_mm": 0.5 * diameter + rng.uniform(12.0, 18.0),
    }
    load = {"force_n": float(rng.uniform(5.0, 40.0)), "friction": float(rng.uniform(0.05, 0.5)) if friction else 0.0}
    if living:
        lip |= {"backing": "sliding", "opening_radius_mm": rng.uniform(0.8, 2.0)}
        lip |= {"tooth_gap_radius_mm": rng.uniform(4.0, 8.0)}
        load |= {"muscle_activation": rng.uniform(0.1, 0.6), "mouth_pressure_kpa": rng.uniform(0.5, 12.0)}
    return _table(rim, lip, load)


def _living_table(rng: np.random.Generator) -> Table:
    diameter, force = rng.uniform(14.5, 32.0), rng.uniform(5.0, 40.0)
    rim = _rim(rng, diameter)
    lip = {
        "type": str(rng.choice(["thin", "average", "fleshy"])),
        "backing": str(rng.choice(["sliding", "sliding", "bonded"])),
        "radius_mm": 0.5 * diameter + rng.uniform(12.0, 18.0),
        "tooth_gap_radius_mm": float(rng.choice([0.0, rng.uniform(2.0, 7.0), rng.uniform(2.0, 7.0)])),
        "opening_radius_mm": float(rng.choice([0.0, rng.uniform(0.5, 2.5), rng.uniform(0.5, 2.5)])),
    }
    load = {
        "force_n": force,
        "friction": float(rng.choice([0.0, rng.uniform(0.0, 0.5), rng.uniform(0.0, 0.5)])),
        "muscle_activation": rng.uniform(0.0, 1.0),
        "mouth_pressure_kpa": float(rng.choice([0.0, 1.0, 1.0, 1.0]))
        * rng.uniform(0.0, min(MOST_BREATH_KPA, BREATH_KPA_PER_N * force)),
    }
    return _table(rim, lip, load)
