"""The knobs of the page: which values of a case it lets people turn, how far, and in what steps.

The ranges are those of usual mouthpieces and lips, narrower than what a case file allows; a number field takes
what the case file takes.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from labrum.cases.library.shelf import library_lip, library_load, lip_names, load_names


@dataclass(frozen=True)
class Knob:
    """A slider with a number beside it: key in the case's tables, label, unit, range and step."""

    key: str
    label: str
    unit: str
    low: float
    high: float
    step: float
    hint: str = ""


RIM_KNOBS = (
    Knob("rim.inner_diameter_mm", "Inner diameter", "mm", 14.0, 34.0, 0.05, "at the bite point"),
    Knob("rim.width_mm", "Width", "mm", 3.0, 9.0, 0.05, "from the bite point to the outside, in radius"),
    Knob("rim.high_point", "High point", "", 0.2, 0.8, 0.01, "share of the width from the bite"),
    Knob("rim.bite_radius_mm", "Bite radius", "mm", 0.1, 2.0, 0.05, "of the inner edge"),
    Knob("rim.inner_crown_radius_mm", "Inner crown", "mm", 2.0, 30.0, 0.1, "contour inside the high point"),
    Knob("rim.outer_crown_radius_mm", "Outer crown", "mm", 2.0, 30.0, 0.1, "contour outside the high point"),
    Knob("rim.shoulder_radius_mm", "Shoulder", "mm", 0.2, 4.0, 0.1, "of the outer edge"),
    Knob("rim.cup_wall_angle_deg", "Cup wall", "°", 46.0, 90.0, 1.0, "from the rim plane"),
    Knob("rim.cup_depth_mm", "Cup depth", "mm", 2.0, 30.0, 0.5, "from the bite plane"),
)
LIP_KNOBS = (
    Knob("lip.radius_mm", "Disc radius", "mm", 15.0, 45.0, 0.5, "of the modelled lip"),
    Knob("lip.opening_radius_mm", "Opening", "mm", 0.0, 6.0, 0.1, "radius of the aperture at rest"),
    Knob("lip.tooth_gap_radius_mm", "Tooth gap", "mm", 0.0, 12.0, 0.5, "radius without teeth behind the lip"),
)
LOAD_KNOBS = (
    Knob("load.force_n", "Force", "N", 1.0, 70.0, 0.5, "of the rim, over the full circle"),
    Knob("load.mouth_pressure_kpa", "Mouth pressure", "kPa", 0.0, 25.0, 0.5, "on the lip within the tooth gap"),
    Knob("load.friction", "Friction", "", 0.0, 1.0, 0.05, "of the rim on the lip"),
    Knob("load.muscle_activation", "Muscle", "", 0.0, 1.0, 0.05, "contraction of the ring muscle"),
)
OFF_AXIS_NUMBERS = (
    ("tilt_deg", "Tilt, down towards the lower lip", "°"),
    ("arch_radius_mm", "Arch of the teeth, radius", "mm"),
    ("lower_lip_stiffness", "Lower lip's stiffness, times the upper's", ""),
    ("lower_lip_thickness", "Lower lip's thickness, times the upper's", ""),
)
"""What may be asked off the axis: name, label and unit of each number."""


def knobs() -> dict[str, Any]:
    """Return everything the page builds its controls from."""
    return {
        "knobs": {name: [asdict(knob) for knob in group] for name, group in
                  (("rim", RIM_KNOBS), ("lip", LIP_KNOBS), ("load", LOAD_KNOBS))},
        "off_axis_knobs": [list(row) for row in OFF_AXIS_NUMBERS],
        "lips": {name: list(library_lip(name).layers) for name in lip_names()},
        "loads": {name: library_load(name).values for name in load_names()},
    }  # fmt: skip
