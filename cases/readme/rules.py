"""The trade's rules as pairs of cases: common practice, no source (teaching and workshop lore, not measurement).

One living lip serves every rule, none tuned for any: library layers, sliding on the teeth with a gap of 6 mm radius,
an opening of 1.5 mm radius, 4 kPa of breath, friction 0.15 between rim and lip, muscle activation 0.15 as in the living
demo, 20 N unless the rule says soft or loud. A rule names a pair of cases, the measure that should move, and the
direction; the size found is held within a band, so that a change of the model that moves it is seen. Rules the model
does not bear out are held as findings.
"""

from __future__ import annotations

from dataclasses import dataclass

from labrum.cases.case_file.reading import case_from_table
from labrum.cases.case_file.units import split_unit, unit_name
from labrum.simulate import solve
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.problem import Problem

RIM = {
    "inner_diameter_mm": 16.5, "width_mm": 5.2, "high_point": 0.45, "bite_radius_mm": 0.6, "inner_crown_radius_mm": 6.0,
    "outer_crown_radius_mm": 8.0, "shoulder_radius_mm": 1.8, "cup_wall_angle_deg": 60.0, "cup_depth_mm": 10.0,
}  # fmt: skip
LOAD = {"mouth_pressure_kpa": 4.0, "friction": 0.15, "muscle_activation": 0.15}
LIP = {"backing": "sliding", "tooth_gap_radius_mm": 6.0, "opening_radius_mm": 1.5}
USUAL_LIP, USUAL_FORCE_N = "average", 20.0


@dataclass(frozen=True)
class RuleCase:
    """One case of a pair: the library's lip, what is held and at what, and the keys of the rim that are not `RIM`'s."""

    lip: str
    held: tuple[str, float]
    changes: tuple[tuple[str, float], ...]

    def problem(self) -> Problem:
        """Build it; its vibration, and what it does off the axis, are asked for."""
        table = {
            "schema": 1,
            "title": "common practice",
            "rim": {**RIM, **dict(self.changes)},
            "lip": {"type": self.lip, **LIP},
            "load": {self.held[0]: self.held[1], **LOAD},
            "readings": {"vibration": True},
            "off_axis": {},
        }
        return case_from_table(table).problem

    def solved(self) -> Measures:
        """Solve it; raises `labrum.simulate.NotConverged`."""
        return solve(self.problem()).measures


def rule_case(
    lip: str = USUAL_LIP, force_n: float = USUAL_FORCE_N, mean_pressure_kpa: float | None = None, **rim: float
) -> RuleCase:
    """Name one case of a pair: under a force, or pressed until it has a mean pressure."""
    held = ("force_n", force_n) if mean_pressure_kpa is None else ("mean_pressure_kpa", mean_pressure_kpa)
    return RuleCase(lip, held, tuple(sorted(rim.items())))


@dataclass(frozen=True)
class Rule:
    """A rule of the trade: ``measure`` of the second case over that of the first must lie in ``band``.

    A band of a rule that is borne out leaves 1 out: it has a direction.
    """

    says: str
    measure: str
    first: RuleCase
    second: RuleCase
    band: tuple[float, float]

    def pair(self) -> str:
        """Say what differs between the two cases, and what is unlike the usual one in both."""
        one, other = (
            {"lip": c.lip, c.held[0]: c.held[1], **RIM, **dict(c.changes)} for c in (self.first, self.second)
        )
        alike = [f"{one['lip']} lip"] if one["lip"] == other["lip"] != USUAL_LIP else []
        alike += [_held(self.first)] if self.first.held == self.second.held != ("force_n", USUAL_FORCE_N) else []
        moved = ", ".join(_moved(key, one[key], other[key]) for key in one if one[key] != other[key])
        return f"{', '.join(alike)}: {moved}" if alike else moved


def _held(case: RuleCase) -> str:
    name, value = case.held
    return f"{value:g} N" if name == "force_n" else f"at one mean pressure, {value:g} kPa"


def _moved(key: str, one: object, other: object) -> str:
    name, unit = split_unit(key)
    first, second = (value if isinstance(value, str) else f"{value:.3g}" for value in (one, other))
    return f"{name.replace('_', ' ')} {first} → {second} {unit_name(unit)}".rstrip()


FLAT = {"inner_crown_radius_mm": 12.0, "outer_crown_radius_mm": 16.0}
ROUND = {"inner_crown_radius_mm": 4.0, "outer_crown_radius_mm": 16.0 / 3.0}
EXAGGERATED = rule_case(high_point=0.25, inner_crown_radius_mm=3.8, outer_crown_radius_mm=4.2)

BORNE_OUT = (
    Rule("a narrow rim cuts a thin lip", "peak_pressure_kpa",
         rule_case("thin", width_mm=5.8), rule_case("thin", width_mm=4.0), (1.4, 1.9)),
    Rule("a wide rim floats it", "bearing_area_mm2",
         rule_case("thin", width_mm=4.0), rule_case("thin", width_mm=5.8), (1.4, 1.7)),
    Rule("extra width stops helping it", "peak_pressure_kpa",
         rule_case("thin", width_mm=6.4), rule_case("thin", width_mm=7.0), (0.95, 0.995)),
    Rule("a wide rim is steadier", "rocking_stiffness_nmm_per_deg",
         rule_case(width_mm=4.0), rule_case(width_mm=5.8), (1.3, 1.6)),
    Rule("too narrow hurts a fleshy lip as well", "peak_pressure_kpa",
         rule_case("fleshy", width_mm=5.8), rule_case("fleshy", width_mm=4.0), (1.4, 1.9)),
    Rule("width pins: the muscle shortens less under a wider rim", "muscle_shortening_ratio",
         rule_case("fleshy", width_mm=4.0), rule_case("fleshy", width_mm=5.8), (0.95, 0.985)),
    Rule("… in a thin lip as well", "muscle_shortening_ratio",
         rule_case("thin", width_mm=4.0), rule_case("thin", width_mm=5.8), (0.94, 0.985)),
    Rule("force pins: the opening closes less under a harder press", "closing_travel_ratio",
         rule_case(force_n=10.0), rule_case(force_n=40.0), (0.85, 0.94)),
    Rule("… more than width: a narrower rim pressed twice as hard closes less", "closing_travel_ratio",
         rule_case(width_mm=5.8), rule_case(force_n=40.0), (0.9, 0.99)),
    Rule("a wide rim lets one press harder: the force goes as the area", "contact_area_mm2",
         rule_case("fleshy", mean_pressure_kpa=55.0, width_mm=4.0),
         rule_case("fleshy", mean_pressure_kpa=55.0, width_mm=5.8), (1.2, 1.9)),
    Rule("a narrow rim frees a fleshy lip to vibrate", "lip_compliance_um_per_kpa",
         rule_case("fleshy", mean_pressure_kpa=55.0, width_mm=5.8),
         rule_case("fleshy", mean_pressure_kpa=55.0, width_mm=4.0), (1.01, 1.2)),
    Rule("a larger rim leaves a fleshy lip freer", "closing_travel_ratio",
         rule_case("fleshy", inner_diameter_mm=15.0), rule_case("fleshy", inner_diameter_mm=18.0), (1.03, 1.1)),
    Rule("too round a bite is unsteady: its edge wanders", "edge_drift_mm_per_10n",
         rule_case("thin", 10.0, bite_radius_mm=0.4), rule_case("thin", 10.0, bite_radius_mm=1.2), (1.3, 3.0)),
    Rule("… and the felt diameter drifts", "felt_drift_mm_per_10n",
         rule_case("thin", 10.0, bite_radius_mm=0.2), rule_case("thin", 10.0, bite_radius_mm=1.2), (1.01, 1.5)),
    Rule("a fleshy lip is stopped by the cup's wall, a flat one sooner", "cup_wall_reach_mm",
         rule_case("fleshy"), rule_case("fleshy", cup_wall_angle_deg=50.0), (2.0, 6.0)),
    Rule("a high point further out feels larger", "felt_diameter_mm",
         rule_case(high_point=0.45), rule_case(high_point=0.6), (1.01, 1.05)),
    Rule("a high point further in feels smaller", "felt_diameter_mm",
         rule_case(high_point=0.45), rule_case(high_point=0.3), (0.95, 0.99)),
    Rule("an exaggerated high point feels narrow", "bearing_area_mm2",
         rule_case(), EXAGGERATED, (0.7, 0.9)),
    Rule("an exaggerated high point cuts", "peak_pressure_kpa",
         rule_case(), EXAGGERATED, (1.4, 1.8)),
    Rule("a flatter contour feels wider when soft", "contact_area_mm2",
         rule_case("thin", 5.0, **ROUND), rule_case("thin", 5.0, **FLAT), (1.02, 1.6)),
    Rule("a sharper bite cuts a thin lip", "peak_pressure_kpa",
         rule_case("thin", bite_radius_mm=1.2), rule_case("thin", bite_radius_mm=0.2), (1.05, 1.3)),
    Rule("a sharper bite stretches its skin more", "skin_stretch_max",
         rule_case("thin", bite_radius_mm=1.2), rule_case("thin", bite_radius_mm=0.2), (1.02, 1.1)),
    Rule("a fleshy lip falls further into the cup", "intrusion_height_mm",
         rule_case("thin"), rule_case("fleshy"), (1.3, 1.8)),
)  # fmt: skip

NOT_BORNE_OUT = (
    Rule("a sharper bite keeps a fleshy lip out of the cup", "height_past_high_point_mm",
         rule_case("fleshy", bite_radius_mm=1.2), rule_case("fleshy", bite_radius_mm=0.2), (0.98, 1.0)),
    Rule("… counted from the bite plane", "intrusion_height_mm",
         rule_case("fleshy", bite_radius_mm=1.2), rule_case("fleshy", bite_radius_mm=0.2), (1.0, 1.05)),
    Rule("… above all when loud", "height_past_high_point_mm",
         rule_case("fleshy", 40.0, bite_radius_mm=1.2), rule_case("fleshy", 40.0, bite_radius_mm=0.2), (0.98, 1.0)),
    Rule("too round a bite is unsteady: it rocks more easily", "rocking_stiffness_nmm_per_deg",
         rule_case("thin", bite_radius_mm=0.2), rule_case("thin", bite_radius_mm=1.2), (0.98, 1.02)),
    Rule("width pins: the opening closes less under a wider rim", "closing_travel_ratio",
         rule_case("fleshy", width_mm=4.0), rule_case("fleshy", width_mm=5.8), (0.985, 1.003)),
    Rule("a narrow rim frees a fleshy lip to vibrate, at one force", "lip_compliance_um_per_kpa",
         rule_case("fleshy", width_mm=5.8), rule_case("fleshy", width_mm=4.0), (0.88, 0.97)),
    Rule("15 mm suits a thin lip and 18 mm a fleshy one: they are equally compliant", "lip_compliance_um_per_kpa",
         rule_case("thin", inner_diameter_mm=15.0), rule_case("fleshy", inner_diameter_mm=18.0), (1.2, 1.45)),
    Rule("… in place of 16.5 mm for both", "lip_compliance_um_per_kpa",
         rule_case("thin"), rule_case("fleshy"), (1.0, 1.12)),
)  # fmt: skip
"""Why each is not is told in the README."""
