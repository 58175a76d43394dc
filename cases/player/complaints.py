"""What a player complains of, held against what the present rim does to the player's lip.

A complaint is borne out by a number against something: the crown of the same rim, its high point's circle, the bite
plane, the travel with no rim on. None is held against a limit of comfort; see
`labrum.simulate.conclusions.thresholds`. What has nothing to be held against is told as a number, to be compared with
another rim's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from labrum.simulate.conclusions.measure_errors import doubt
from labrum.simulate.conclusions.thresholds import (
    CLOSING,
    CLOSING_WORDS,
    DRIFT_MM_PER_10N,
    EDGE_TO_CROWN,
    ON_CROWN,
    Scale,
)
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Outcome

BORNE_OUT, NOT_BORNE_OUT, CANNOT_TELL, TO_COMPARE = (
    "borne out", "not borne out", "cannot be told", "a number to compare rims by",
)  # fmt: skip
NOUGHT = Scale((0.0,), ("below", "above"))


@dataclass(frozen=True)
class Complaint:
    """A word of the trade: ``measure`` is what a remedy must move, ``worse`` the sign of more of it.

    ``shown`` are the measures told beside it; ``judged`` gives verdict and words from the outcomes at soft and at loud.
    """

    name: str
    measure: str
    worse: float
    shown: tuple[str, ...]
    judged: Callable[[Outcome, Outcome], tuple[str, str]]


@dataclass(frozen=True)
class Judged:
    """A complaint with its verdict and the words for it."""

    complaint: Complaint
    verdict: str
    words: str


def judged(complaints: tuple[str, ...], soft: Outcome, loud: Outcome) -> tuple[Judged, ...]:
    """Judge the complaints of a sheet; where it has none, all there are."""
    asked = [KNOWN[name] for name in complaints or tuple(KNOWN)]
    return tuple(Judged(complaint, *complaint.judged(soft, loud)) for complaint in asked)


def _verdict(band: str | None, bad: str) -> str:
    return CANNOT_TELL if band is None else BORNE_OUT if band == bad else NOT_BORNE_OUT


def _cuts(soft: Outcome, loud: Outcome) -> tuple[str, str]:
    m, before = loud.measures, soft.measures.edge_to_crown_pressure
    if m.edge_to_crown_pressure is None:
        return CANNOT_TELL, f"this rim has no crown between its edges; its peak is {m.peak_pressure_kpa:.0f} kPa"
    band = EDGE_TO_CROWN.told(m.edge_to_crown_pressure, doubt(m, "edge_to_crown_pressure"))
    at_soft = "" if before is None else f" ({before:.2f} at soft)"
    return _verdict(band, "edges"), (
        f"at loud the edges carry {m.edge_to_crown_pressure:.2f} times the crown's peak{at_soft}; "
        f"at most {ON_CROWN:g} is wide enough"
    )


def _tires(soft: Outcome, loud: Outcome) -> tuple[str, str]:
    s, m = soft.measures, loud.measures
    return TO_COMPARE, (
        f"the force is borne as by {m.bearing_area_mm2:.0f} mm2 at loud ({s.bearing_area_mm2:.0f} at soft), its mean "
        f"pressure {m.mean_pressure_kpa:.0f} kPa ({s.mean_pressure_kpa:.0f})"
    )


def _pins(soft: Outcome, loud: Outcome) -> tuple[str, str]:
    m = loud.measures
    if m.closing_travel_ratio is None or m.muscle_shortening_ratio is None:
        return CANNOT_TELL, "no muscle contracts"
    band = CLOSING.told(m.closing_travel_ratio, doubt(m, "closing_travel_ratio"))
    verdict = _verdict(None if band is None else "free" if band == "free" else "held", "held")
    words = CLOSING_WORDS.get(band or "", "how free the opening is lies on a limit")
    return verdict, (
        f"at loud {words}: {m.closing_travel_ratio:.2f} of its travel is left, and the muscle shortens "
        f"{m.muscle_shortening_ratio:.2f} times as far as with no rim on"
    )


def _falls_in(soft: Outcome, loud: Outcome) -> tuple[str, str]:
    m, drawn = loud.measures, "drawn_in_volume_mm3"
    band = NOUGHT.told(m.drawn_in_volume_mm3, doubt(m, drawn))
    return _verdict("below" if m.drawn_in_volume_mm3 == 0.0 else band, "above"), (
        f"at loud tissue stands {m.intrusion_height_mm:.2f} mm past the bite "
        f"({soft.measures.intrusion_height_mm:.2f} at soft), {m.drawn_in_volume_mm3:.1f} mm3 of it pushed in from "
        "under the rim"
    )


def _touches(soft: Outcome, loud: Outcome) -> tuple[str, str]:
    m = loud.measures
    if m.touches_cup is None:
        return CANNOT_TELL, "no cup is drawn"
    reach = f"{m.cup_wall_reach_mm or 0.0:.2f} mm of the cup's wall"
    if m.touches_cup:
        return BORNE_OUT, f"at loud the lip lies on {reach}"
    return NOT_BORNE_OUT, f"at loud {m.cup_clearance_mm or 0.0:.2f} mm are left between the lip and the cup"


def _feels(bad: str) -> Callable[[Outcome, Outcome], tuple[str, str]]:
    def judge(soft: Outcome, loud: Outcome) -> tuple[str, str]:
        circle, both = 2.0 * loud.rim.high_point_radius, {"soft": soft.measures, "loud": loud.measures}
        bands = {
            name: NOUGHT.told(m.felt_diameter_mm - circle, doubt(m, "felt_diameter_mm")) for name, m in both.items()
        }
        where = [name for name, band in bands.items() if band == bad]
        told = ", ".join(f"{m.felt_diameter_mm:.2f} mm at {name}" for name, m in both.items())
        verdict = BORNE_OUT if where else CANNOT_TELL if None in bands.values() else NOT_BORNE_OUT
        at = f" at {where[0]}" if len(where) == 1 else ""
        return verdict + at, f"it is felt at {told}, the circle of its high point being {circle:.2f} mm"

    return judge


def _unsteady(soft: Outcome, loud: Outcome) -> tuple[str, str]:
    drifts = [_drifts(one.measures) for one in (soft, loud)]
    known = [abs(value) for pair in drifts for value in pair if value is not None]
    if not known:
        return CANNOT_TELL, "no equilibrium with 10 N more"
    word = DRIFT_MM_PER_10N.told(max(known), 0.0)
    told = [", ".join("-" if value is None else f"{value:.2f}" for value in pair) for pair in drifts]
    return _verdict("moves" if word == "clearly" else "stays", "moves"), (
        f"with 10 N more the felt diameter and the inner edge of contact move by {told[0]} mm at soft, "
        f"{told[1]} mm at loud"
    )


def _drifts(m: Measures) -> tuple[float | None, float | None]:
    return m.felt_drift_mm_per_10n, m.edge_drift_mm_per_10n


PRESSURE = ("peak_pressure_kpa", "edge_to_crown_pressure", "edge_concentration", "bearing_area_mm2", "skin_stretch_max")
KNOWN: dict[str, Complaint] = {
    one.name: one
    for one in (
        Complaint("cuts", "peak_pressure_kpa", 1.0, PRESSURE, _cuts),
        Complaint("tires", "bearing_area_mm2", -1.0, ("bearing_area_mm2", "mean_pressure_kpa"), _tires),
        Complaint("pins", "closing_travel_ratio", -1.0, ("closing_travel_ratio", "muscle_shortening_ratio"), _pins),
        Complaint("falls in", "height_past_high_point_mm", 1.0,
                  ("intrusion_height_mm", "drawn_in_volume_mm3", "height_past_high_point_mm"), _falls_in),
        Complaint("touches the cup", "cup_clearance_mm", -1.0, ("cup_clearance_mm", "cup_wall_reach_mm"), _touches),
        Complaint("feels small", "felt_diameter_mm", -1.0, ("felt_diameter_mm", "peak_radius_mm"), _feels("below")),
        Complaint("feels large", "felt_diameter_mm", 1.0, ("felt_diameter_mm", "peak_radius_mm"), _feels("above")),
        Complaint("unsteady", "edge_drift_mm_per_10n", 1.0,
                  ("felt_drift_mm_per_10n", "edge_drift_mm_per_10n"), _unsteady),
    )
}
"""The complaints a sheet may hold, by name."""
