"""What each number of a result means, in the words of somebody who makes or plays mouthpieces."""

from __future__ import annotations

from dataclasses import dataclass, fields

from labrum.simulate.outcome import Measures


@dataclass(frozen=True)
class Entry:
    """One measure: its name in `Measures`, its unit, a short label and a line of plain words."""

    name: str
    unit: str
    label: str
    words: str


GROUPS: tuple[tuple[str, tuple[Entry, ...]], ...] = (
    (
        "How hard it presses",
        (
            Entry("peak_pressure_kpa", "kPa", "peak pressure", "largest pressure on the lip"),
            Entry("peak_radius_mm", "mm", "at radius", "where that is, from the axis, lip pressed in"),
            Entry("mean_pressure_kpa", "kPa", "mean pressure", "force over contact area"),
            Entry("contact_area_mm2", "mm2", "contact area", "rim that touches, seen along the axis"),
            Entry(
                "bearing_area_mm2",
                "mm2",
                "bearing area",
                "as carried by an even pressure: more floats better",
            ),
            Entry(
                "edge_to_crown_pressure",
                "",
                "edge to crown",
                "peak on bite and shoulder over that on the crown: at most 1 is wide enough",
            ),
            Entry("edge_concentration", "", "edge concentration", "peak over mean: more cuts more"),
            Entry("skin_stretch_max", "", "skin stretch", "largest stretch of the top layer: more cuts more"),
        ),
    ),
    (
        "Where it is felt",
        (
            Entry("felt_diameter_mm", "mm", "felt diameter", "of the ring where the force is felt"),
            Entry(
                "felt_drift_mm_per_10n", "mm", "felt drift", "how far that moves when the force rises by 10 N"
            ),
            Entry(
                "edge_drift_mm_per_10n", "mm", "edge drift", "how far the inner edge of contact moves in with 10 N"
            ),
            Entry("contact_inner_radius_mm", "mm", "contact from", "radius where the rim begins to touch"),
            Entry("contact_outer_radius_mm", "mm", "contact to", "radius where it ends"),
            Entry("sink_mm", "mm", "sink", "how deep the high point stands below the resting lip"),
        ),
    ),
    (
        "What goes into the cup",
        (
            Entry("past_bite", "", "past the bite", "does tissue stand beyond the bite plane"),
            Entry("intrusion_height_mm", "mm", "intrusion height", "how far beyond"),
            Entry("intrusion_volume_mm3", "mm3", "intrusion volume", "how much beyond"),
            Entry(
                "drawn_in_volume_mm3",
                "mm3",
                "drawn in",
                "the part of it that rested under or outside the rim",
            ),
            Entry(
                "height_past_high_point_mm",
                "mm",
                "crest",
                "how far tissue stands over the plane of the rim's high point",
            ),
            Entry("height_by_muscle_mm", "mm", "crest by muscle", "the part of that which contraction added"),
            Entry("touches_cup", "", "touches the cup", "does the lip reach the cup's wall or floor"),
            Entry("cup_clearance_mm", "mm", "cup clearance", "gap left to the cup"),
            Entry("cup_wall_reach_mm", "mm", "cup wall reach", "length of cup wall that the lip touches"),
        ),
    ),
    (
        "Whether the lip can move",
        (
            Entry(
                "sticking_share",
                "",
                "sticking",
                "share of the rim's load on lip that does not slide",
            ),
            Entry("lift_off_area_mm2", "mm2", "lifted off", "back of the lip that has left the teeth"),
            Entry(
                "closing_travel_ratio",
                "",
                "closing travel",
                "how far the muscle closes the opening, rim on over rim off: 1 free, 0 pinned",
            ),
            Entry(
                "closing_travel_ratio_skin",
                "",
                "closing at the skin",
                "the same at the skin, over the opening's rim off: below 0 it opens there",
            ),
            Entry(
                "muscle_shortening_ratio",
                "",
                "muscle shortening",
                "how much the muscle's fibres shorten, rim on over rim off",
            ),
            Entry(
                "aperture_stiffness_n_per_mm",
                "N/mm",
                "aperture stiffness",
                "load all round the opening that widens it by 1 mm in radius",
            ),
        ),
    ),
)

# Named beside the peak rather than in a row of its own.
ERROR_OF_PEAK = "peak_pressure_error_percent"


def measure_names() -> tuple[str, ...]:
    """Every name of `Measures`, in its order."""
    return tuple(field.name for field in fields(Measures))
