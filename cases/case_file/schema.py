"""The keys of a case file, schema 1, with what each allows and what it is when left out.

The outer bounds are far outside anything a lip or a mouthpiece has: a value beyond them is a slip of unit or
of the decimal point. It is refused rather than remarked on, because the answer would look like any other.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from labrum.cases.case_file.values import Choice, Exactly, Flag, Key, OneNumber, Presence, Rows, Text, TwoNumbers
from labrum.cases.library.shelf import lip_names, load_names

SCHEMA = 1


@dataclass(frozen=True)
class KeyTable:
    """The keys of one table; ``tables`` are those inside it, ``advice`` answers keys often tried in vain.

    ``beside`` are the tables a key may have been meant for; none stands for those of a case file.
    """

    name: str
    keys: tuple[Key, ...]
    tables: tuple[str, ...] = ()
    advice: dict[str, str] = field(default_factory=dict)
    beside: tuple[KeyTable, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Everything that may stand in the table."""
        return tuple(key.name for key in self.keys) + self.tables


TOP = KeyTable(
    "case",
    (Exactly("schema", SCHEMA), Text("title", default=Presence.OPTIONAL)),
    tables=("rim", "lip", "load", "accuracy", "off_axis", "readings"),
)

RIM_FORMS = ("outline_mm", "trace")
RIM = KeyTable(
    "rim",
    (
        OneNumber("inner_diameter_mm", 5.0, 60.0),
        OneNumber("width_mm", 0.0, 25.0, above=True),
        OneNumber("high_point", 0.01, 0.99, default=0.45),
        OneNumber("bite_radius_mm", 0.02, 10.0, default=0.6),
        OneNumber("inner_crown_radius_mm", 0.0, 1000.0, default=6.0, above=True, words=("flat",)),
        OneNumber("outer_crown_radius_mm", 0.0, 1000.0, default=8.0, above=True, words=("flat",)),
        OneNumber("shoulder_radius_mm", 0.02, 25.0, default=1.8),
        OneNumber("cup_wall_angle_deg", 45.0, 90.0, default=60.0, above=True),
        OneNumber("cup_depth_mm", 0.0, 100.0, default=10.0, above=True),
        Rows("outline_mm", ("r", "s", "bulge"), least=2, most=500, reach=10_000.0, default=Presence.OPTIONAL),
        Text("trace", default=Presence.OPTIONAL),
    ),
    advice={
        "outer_diameter_mm": "it follows from inner_diameter_mm and width_mm, which is counted in radius",
        "inner_radius_mm": "give inner_diameter_mm",
    },
)
RIM_DIMENSIONS = tuple(key.name for key in RIM.keys if key.name not in RIM_FORMS)

LIP = KeyTable(
    "lip",
    (
        Choice("type", lip_names(), default=Presence.OPTIONAL),
        OneNumber("radius_mm", 2.0, 100.0, default=25.0),
        OneNumber("opening_radius_mm", 0.0, 20.0, default=0.0),
        Choice("backing", ("bonded", "sliding"), default="bonded"),
        Choice("edge", ("continuing", "free", "held"), default="continuing"),
        OneNumber("tooth_gap_radius_mm", 0.0, 100.0, default=0.0),
        OneNumber("fold_radius_mm", 5.0, 100.0, default=18.0),
    ),
    tables=("layer",),
    advice={
        "thickness_mm": "the lip is as thick as its layers: thickness_mm stands in each [[lip.layer]]",
        "layers": "each layer is a table of its own: [[lip.layer]]",
        "diameter_mm": "give radius_mm",
    },
)

MUSCLE = {"active_stress_kpa": 112.5, "muscle_outer_radius_mm": 18.0, "active_stiffening": 2.8}
"""What a muscle of one's own layers is when left out; the library's lips say where the numbers come from."""

LAYER = KeyTable(
    "layer",
    (
        Text("name", default=Presence.OPTIONAL),
        OneNumber("thickness_mm", 0.0, 60.0, above=True),
        OneNumber("shear_modulus_kpa", 0.1, 5000.0),
        TwoNumbers("stiffening_kpa", 0.0, 50_000.0, default=[0.0, 0.0]),
        OneNumber("poisson_ratio", 0.0, 0.5, default=0.495),
        Flag("muscle", default=False),
        OneNumber("active_stress_kpa", 0.0, 2000.0, default=Presence.OPTIONAL),
        OneNumber("muscle_outer_radius_mm", 0.0, 200.0, default=Presence.OPTIONAL, above=True),
        OneNumber("active_stiffening", 0.0, 20.0, default=Presence.OPTIONAL),
    ),
    advice={
        "young_modulus_kpa": "give shear_modulus_kpa = E / (2 (1 + poisson_ratio)), close to E / 3",
        "elastic_modulus_kpa": "give shear_modulus_kpa = E / (2 (1 + poisson_ratio)), close to E / 3",
    },
)

HELD = ("force_n", "mean_pressure_kpa", "sink_mm")
"""What may be given of a press: one of them, and the others are found."""

LOAD = KeyTable(
    "load",
    (
        Choice("preset", load_names(), default=Presence.OPTIONAL),
        OneNumber("force_n", 0.01, 500.0, default=Presence.OPTIONAL),
        OneNumber("mean_pressure_kpa", 0.1, 1000.0, default=Presence.OPTIONAL),
        OneNumber("sink_mm", 0.01, 60.0, default=Presence.OPTIONAL),
        OneNumber("mouth_pressure_kpa", 0.0, 100.0, default=0.0),
        OneNumber("friction", 0.0, 1.0, default=0.0),
        OneNumber("muscle_activation", 0.0, 1.0, default=0.0),
    ),
)

ACCURACY = KeyTable("accuracy", (OneNumber("peak_pressure_percent", 0.01, 20.0, default=1.0),))

OFF_AXIS = KeyTable(
    "off_axis",
    (
        OneNumber("tilt_deg", 0.0, 45.0, default=0.0),
        OneNumber("arch_radius_mm", 8.0, 1e6, default=Presence.OPTIONAL),
        OneNumber("lower_lip_stiffness", 0.2, 5.0, default=1.0),
        OneNumber("lower_lip_thickness", 0.2, 5.0, default=1.0),
    ),
    advice={
        "lower_lip_stiffness_kpa": "give lower_lip_stiffness, as many times the upper lip's",
        "lower_lip_thickness_mm": "give lower_lip_thickness, as many times the upper lip's",
    },
)

READINGS = KeyTable("readings", (Flag("vibration", default=False),))
"""What is read off a solution beyond what every solve tells."""

TABLES = (TOP, RIM, LIP, LAYER, LOAD, ACCURACY, OFF_AXIS, READINGS)
