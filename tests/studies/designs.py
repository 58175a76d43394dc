"""Random designs over the ranges a fitter works in, trumpet to tuba (common practice, no source), from a seed."""

from __future__ import annotations

import numpy as np

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.simulate.problem import Problem


def drawn(rng: np.random.Generator, friction: bool, living: bool) -> Problem:
    """A problem without faults; some draws make a rim that cannot be."""
    while True:
        diameter = rng.uniform(14.5, 32.0)
        rim = {
            "inner_diameter_mm": diameter, "width_mm": rng.uniform(3.5, 8.0),
            "high_point": rng.uniform(0.3, 0.6), "bite_radius_mm": float(np.exp(rng.uniform(*np.log([0.15, 1.5])))),
            "inner_crown_radius_mm": rng.uniform(3.0, 12.0), "outer_crown_radius_mm": rng.uniform(3.0, 12.0),
            "shoulder_radius_mm": rng.uniform(0.8, 2.5), "cup_wall_angle_deg": rng.uniform(50.0, 75.0),
            "cup_depth_mm": rng.uniform(8.0, 20.0),
        }  # fmt: skip
        lip = {
            "type": str(rng.choice(["thin", "average", "fleshy"])),
            "backing": str(rng.choice(["bonded", "bonded", "sliding"])),
            "radius_mm": 0.5 * diameter + rng.uniform(12.0, 18.0),
        }
        load = {
            "force_n": float(rng.uniform(5.0, 40.0)),
            "friction": float(rng.uniform(0.05, 0.5)) if friction else 0.0,
        }
        if living:
            lip |= {"backing": "sliding", "opening_radius_mm": rng.uniform(0.8, 2.0)}
            lip |= {"tooth_gap_radius_mm": rng.uniform(4.0, 8.0)}
            load |= {"muscle_activation": rng.uniform(0.1, 0.6), "mouth_pressure_kpa": rng.uniform(0.5, 12.0)}
        try:
            return case_from_table({"schema": 1, "title": "drawn", "rim": rim, "lip": lip, "load": load}).problem
        except InvalidCase:
            continue
