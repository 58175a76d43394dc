"""The trade's rules against the computation. Common practice, no source: teaching and workshop lore, not
measurement.

One living lip serves every rule, none tuned for any: library layers, sliding on the teeth with a gap of 6 mm
radius, an opening of 1.5 mm radius, 4 kPa of breath, friction 0.15 between rim and lip, muscle activation 0.3,
20 N unless the rule says soft or loud. A rule names a pair of cases, the number that should move, and the
direction; the size found is asserted within a band, so that a change of the model that moves it is seen. Rules
the model does not bear out are held here as findings, with what was found instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import solve
from labrum.simulate.measures.catalogue import Measures

RIM = {
    "inner_diameter_mm": 16.5, "width_mm": 5.2, "high_point": 0.45, "bite_radius_mm": 0.6, "inner_crown_radius_mm": 6.0,
    "outer_crown_radius_mm": 8.0, "shoulder_radius_mm": 1.8, "cup_wall_angle_deg": 60.0, "cup_depth_mm": 10.0,
}  # fmt: skip
LOAD = {"mouth_pressure_kpa": 4.0, "friction": 0.15, "muscle_activation": 0.3}
LIP = {"backing": "sliding", "tooth_gap_radius_mm": 6.0, "opening_radius_mm": 1.5}

Change = tuple[tuple[str, float], ...]


@cache
def pressed(lip: str, force: float, change: Change) -> Measures:
    table = {
        "schema": 1,
        "title": "common practice",
        "rim": {**RIM, **dict(change)},
        "lip": {"type": lip, **LIP},
        "load": {"force_n": force, **LOAD},
    }
    return solve(case_from_table(table).problem).measures


@dataclass(frozen=True)
class Rule:
    """``number`` of the second case over that of the first must lie in ``band``."""

    says: str
    number: str
    first: tuple[str, float, Change]
    second: tuple[str, float, Change]
    band: tuple[float, float]

    def ratio(self) -> float:
        values = [getattr(pressed(*case), self.number) for case in (self.first, self.second)]
        return float(values[1] / values[0])


def case(lip: str = "average", force: float = 20.0, **change: float) -> tuple[str, float, Change]:
    return lip, force, tuple(sorted(change.items()))


FLAT = {"inner_crown_radius_mm": 12.0, "outer_crown_radius_mm": 16.0}
ROUND = {"inner_crown_radius_mm": 4.0, "outer_crown_radius_mm": 16.0 / 3.0}

BORNE_OUT = [
    Rule("a narrow rim cuts a thin lip", "peak_pressure_kpa",
         case("thin", width_mm=5.8), case("thin", width_mm=4.0), (1.4, 1.9)),
    Rule("a wide rim spreads the load: flotation", "bearing_area_mm2",
         case("thin", width_mm=4.0), case("thin", width_mm=5.8), (1.4, 1.7)),
    Rule("too narrow hurts a fleshy lip as well", "peak_pressure_kpa",
         case("fleshy", width_mm=5.8), case("fleshy", width_mm=4.0), (1.4, 1.9)),
    Rule("width pins: the muscle shortens less under a wider rim", "muscle_shortening_ratio",
         case("fleshy", width_mm=4.0), case("fleshy", width_mm=5.8), (0.95, 0.985)),
    Rule("force pins: the opening closes less under a harder press", "closing_travel_ratio",
         case(force=10.0), case(force=40.0), (0.85, 0.94)),
    Rule("a high point further out feels larger", "felt_diameter_mm",
         case(high_point=0.45), case(high_point=0.6), (1.01, 1.05)),
    Rule("a high point further in feels smaller", "felt_diameter_mm",
         case(high_point=0.45), case(high_point=0.3), (0.95, 0.99)),
    Rule("an exaggerated high point feels narrow", "bearing_area_mm2",
         case(), case(high_point=0.25, inner_crown_radius_mm=3.8, outer_crown_radius_mm=4.2), (0.7, 0.9)),
    Rule("an exaggerated high point cuts", "peak_pressure_kpa",
         case(), case(high_point=0.25, inner_crown_radius_mm=3.8, outer_crown_radius_mm=4.2), (1.4, 1.8)),
    Rule("a sharper bite cuts a thin lip", "peak_pressure_kpa",
         case("thin", bite_radius_mm=1.2), case("thin", bite_radius_mm=0.2), (1.05, 1.3)),
    Rule("a sharper bite stretches the thin lip's skin more", "skin_stretch_max",
         case("thin", bite_radius_mm=1.2), case("thin", bite_radius_mm=0.2), (1.05, 1.15)),
    Rule("a fleshy lip falls further into the cup", "intrusion_height_mm",
         case("thin"), case("fleshy"), (1.3, 1.8)),
    Rule("a rounder contour sinks deeper before it carries: a flatter one feels wider when soft", "contact_area_mm2",
         case("thin", 5.0, **ROUND), case("thin", 5.0, **FLAT), (1.02, 1.6)),
]  # fmt: skip

NOT_BORNE_OUT = [
    # Found instead: the tissue stands as high over the high point under either bite (within 0.03 mm of 4.2 mm);
    # only the bite plane, from which intrusion counts, lies lower for a sharp bite. A static, axisymmetric press has
    # no jet and no swing of the lip for the edge to stop.
    Rule("a sharper bite keeps a fleshy lip out of the cup", "intrusion_height_mm",
         case("fleshy", bite_radius_mm=1.2), case("fleshy", bite_radius_mm=0.2), (1.0, 1.05)),
    Rule("... above all when loud", "intrusion_height_mm",
         case("fleshy", 40.0, bite_radius_mm=1.2), case("fleshy", 40.0, bite_radius_mm=0.2), (1.0, 1.05)),
    # Found instead: the felt diameter is an average over the whole rim, most of which the bite does not touch. What
    # is unsteady about a round bite is its place, which the gauge's spread between readings shows.
    Rule("too round a bite feels unsteady", "felt_drift_mm_per_10n",
         case("thin", bite_radius_mm=0.2), case("thin", bite_radius_mm=1.2), (0.8, 1.0)),
    # Found instead: the narrowest place closes as far under a wide rim as under a narrow one, within the error. What
    # width costs is the fibres' shortening, above; what pins the opening is force.
    Rule("width pins: the opening closes less under a wider rim", "closing_travel_ratio",
         case("fleshy", width_mm=4.0), case("fleshy", width_mm=5.8), (0.985, 1.003)),
]  # fmt: skip


@pytest.mark.parametrize("rule", BORNE_OUT, ids=lambda rule: rule.says)
def test_the_model_bears_the_rule_out(rule: Rule) -> None:
    low, high = rule.band
    assert not low <= 1.0 <= high, "a band that holds 1 says nothing of the direction"
    assert low < rule.ratio() < high


@pytest.mark.slow
@pytest.mark.parametrize("rule", NOT_BORNE_OUT, ids=lambda rule: rule.says)
def test_the_model_does_not_bear_the_rule_out(rule: Rule) -> None:
    """A finding, kept so that a change of the model that brings the rule about is noticed."""
    low, high = rule.band
    assert low < rule.ratio() < high


def test_thin_lips_gain_more_by_width_than_fleshy_ones() -> None:
    """Thin lips want a wide rim, fleshy lips a narrow one: the same width buys a thin lip more relief."""
    relief = {
        lip: pressed(*case(lip, width_mm=5.8)).peak_pressure_kpa / pressed(*case(lip, width_mm=4.0)).peak_pressure_kpa
        for lip in ("thin", "fleshy")
    }
    assert relief["thin"] < 0.95 * relief["fleshy"]


def test_extra_width_stops_helping_a_thin_lip() -> None:
    """Its peak falls by a quarter a millimetre from 4.0 to 5.8 mm, and by a few percent a millimetre beyond.

    Where it turns, the peak leaves the bite for the crown: edge over crown passes 1.
    """
    narrow, turn, wide = (pressed(*case("thin", width_mm=width)) for width in (4.0, 5.8, 6.4))
    first = 1.0 - (turn.peak_pressure_kpa / narrow.peak_pressure_kpa) ** (1.0 / 1.8)
    last = 1.0 - (wide.peak_pressure_kpa / turn.peak_pressure_kpa) ** (1.0 / 0.6)
    assert first > 0.2
    assert 0.0 < last < 0.3 * first
    assert narrow.edge_to_crown_pressure > 1.2 > 1.0 > wide.edge_to_crown_pressure


def test_a_fleshy_lip_pays_more_for_width_than_a_thin_one() -> None:
    """... and the same width costs a fleshy lip's muscle more of its shortening."""
    freer, wide = (
        {lip: pressed(*case(lip, width_mm=width)).muscle_shortening_ratio for lip in ("thin", "fleshy")}
        for width in (4.0, 5.8)
    )
    assert wide["fleshy"] / freer["fleshy"] < wide["thin"] / freer["thin"] < 1.0
