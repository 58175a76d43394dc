"""What the numbers say in plain words, each sentence with the numbers behind it.

The words follow fixed bands (`labrum.simulate.conclusions.thresholds`), so that two reports use the same word for the
same number; no study ties them to what players feel, and none of them is a limit of comfort or safety.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from labrum.simulate.conclusions.questions import reaches_cup
from labrum.simulate.conclusions.thresholds import (
    BEARING,
    CLOSING,
    CLOSING_WORDS,
    CONCENTRATION,
    CUP_WORDS,
    DRIFT_MM_PER_10N,
    FORGIVING_DEG,
    NO_SHARE,
    PLACE_WORDS,
    STOPPED,
    place_across,
)
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Outcome

BANDS_NOTE = (
    "The words follow fixed bands of the numbers, chosen so that two reports use the same word for the same "
    "number. No study ties the bands to what players feel."
)


@dataclass(frozen=True)
class Verdict:
    """A question, its answer in words, and the numbers the answer rests on."""

    topic: str
    words: str
    numbers: str


def verdicts(outcome: Outcome) -> tuple[Verdict, ...]:
    """Say what a converged press means; questions that the case does not raise are left out."""
    answers = (ask(outcome) for ask in _QUESTIONS)
    return tuple(answer for answer in answers if answer is not None)


FLOTATION_WORDS = {
    "a small part": "A small part of what touches carries most of the force.",
    "a part": "A part of what touches carries most of the force.",
    "most": "Most of what touches helps to carry the force.",
    "nearly all": "Nearly all of what touches carries the force alike.",
}
CUTTING_WORDS = {
    "even": "No place presses much harder than the rest; the hardest is {place}.",
    "concentrated": "One place presses clearly harder than the rest: {place}.",
    "sharp": "One place presses far harder than the rest: {place}.",
}
STEADINESS_WORDS = {
    "hardly": "That ring hardly moves when the force rises.",
    "a little": "That ring moves a little {way} when the force rises.",
    "clearly": "That ring moves clearly {way} when the force rises.",
}
FORGIVENESS_WORDS = {
    "hardly": "Hardly forgiving: a tilt that nobody sees raises the peak.",
    "fairly": "Fairly forgiving: a tilt that one may see raises the peak.",
    "well": "Forgiving: it may be held clearly askew before the peak minds.",
}
ARCH_WORDS = {
    "beyond": "That arch is more bent than the answer reaches: its two peaks tell a direction, no sizes.",
    "front": "On the arch the front teeth press harder than the corners of the mouth.",
    "corners": "On the arch the corners of the mouth press harder than the front teeth.",
    "alike": "On the arch front teeth and corners of the mouth are not told apart.",
}

FREEDOM_WORDS = {
    "stopped": "the muscle's travel is nearly stopped",
    "pinned": "a good part of the muscle's travel is gone",
    "hindered": "a little to a half of the muscle's travel is gone",
    "free": "the muscle travels nearly as it does without the rim",
}


def _flotation(outcome: Outcome) -> Verdict:
    m = outcome.measures
    share = m.bearing_area_mm2 / m.contact_area_mm2
    words = FLOTATION_WORDS[BEARING.band(share)]
    even = m.mean_pressure_kpa / share  # on the bearing area it carries what pressure carries on the rim
    numbers = (
        f"Bearing area {m.bearing_area_mm2:.0f} mm², {100 * share:.0f} % of the {m.contact_area_mm2:.0f} mm² that "
        f"touch; it carries like an even {even:.0f} kPa."
    )
    return Verdict("How it floats", words, numbers)


def _cutting(outcome: Outcome) -> Verdict:
    m = outcome.measures
    words = CUTTING_WORDS[CONCENTRATION.band(m.edge_concentration)]
    numbers = (
        f"Peak {m.peak_pressure_kpa:.1f} kPa (± {m.peak_pressure_error_percent:.1f} %) at r = {m.peak_radius_mm:.2f} "
        f"mm, {m.edge_concentration:.2f} times the mean of {m.mean_pressure_kpa:.1f} kPa; the skin's largest stretch "
        f"is {m.skin_stretch_max:.2f}."
    )
    return Verdict("Where it cuts", words.format(place=peak_in_words(m)), numbers)


def peak_in_words(m: Measures) -> str:
    """Name the third of the contact where the peak stands, or the cup's wall."""
    return PLACE_WORDS[place_across(m.peak_radius_mm, m.contact_inner_radius_mm, m.contact_outer_radius_mm)]


def _felt(outcome: Outcome) -> Verdict:
    m, bite = outcome.measures, 2.0 * outcome.rim.bite[0]
    wider = m.felt_diameter_mm - bite
    words = f"The force is felt on a ring {abs(wider):.1f} mm {'wider' if wider >= 0 else 'narrower'} than the bite."
    numbers = (
        f"Felt diameter {m.felt_diameter_mm:.2f} mm, bite {bite:.2f} mm; contact from r = "
        f"{m.contact_inner_radius_mm:.2f} to {m.contact_outer_radius_mm:.2f} mm."
    )
    return Verdict("How wide it feels", words, numbers)


def _steadiness(outcome: Outcome) -> Verdict | None:
    drift = outcome.measures.felt_drift_mm_per_10n
    if drift is None:
        return None
    way = "outwards" if drift > 0 else "inwards"
    words = STEADINESS_WORDS[DRIFT_MM_PER_10N.band(abs(drift))].format(way=way)
    return Verdict("How steady it is", words, f"Felt diameter {drift:+.3f} mm for 10 N more.")


def _forgiveness(outcome: Outcome) -> Verdict | None:
    m = outcome.measures
    if m.tilt_for_ten_percent_deg is None or m.peak_percent_per_degree is None:
        return None
    words = FORGIVENESS_WORDS[FORGIVING_DEG.band(m.tilt_for_ten_percent_deg)]
    lift = "" if m.tilt_to_lift_deg is None else f" It leaves the lip on one side at {m.tilt_to_lift_deg:.1f}°."
    numbers = (
        f"A tilt of {m.tilt_for_ten_percent_deg:.2f}° raises the peak by 10 %.{lift} Straight lines, which hold to "
        f"{m.tilt_holds_to_deg:.1f}°; rocking stiffness {m.rocking_stiffness_nmm_per_deg:.1f} N mm a degree."
    )
    return Verdict("How forgiving it is", words, numbers)


def _arch(outcome: Outcome) -> Verdict | None:
    m, found = outcome.measures, outcome.off_axis
    asked = None if found is None else found.posture.arch_radius_mm
    front, corners, reach = m.front_teeth_peak_kpa, m.corners_peak_kpa, m.arch_holds_to_mm
    if asked is None or front is None or corners is None or reach is None:
        return None
    errors = (m.errors.get(name) or 0.0 for name in ("front_teeth_peak_kpa", "corners_peak_kpa"))
    if asked < reach:
        which = "beyond"
    elif abs(front - corners) <= sum(errors):
        which = "alike"
    else:
        which = "front" if front > corners else "corners"
    numbers = (
        f"{front:.0f} kPa over the front teeth and {corners:.0f} kPa at the corners on an arch of {asked:g} mm. "
        f"Straight lines, which hold to an arch of {reach:.0f} mm."
    )
    return Verdict("What an arch of teeth does", ARCH_WORDS[which], numbers)


def _past_bite(outcome: Outcome) -> Verdict:
    m = outcome.measures
    sunk = f"The high point sinks {m.sink_mm:.2f} mm into the lip."
    if not m.past_bite:
        return Verdict("What passes the bite", "No tissue stands past the bite.", sunk)
    share = m.drawn_in_volume_mm3 / m.intrusion_volume_mm3 if m.intrusion_volume_mm3 > 0 else 0.0
    drawn = "none of it was" if share < NO_SHARE else f"{100 * share:.0f} % of it was"
    words = f"Tissue stands {m.intrusion_height_mm:.1f} mm past the bite; {drawn} drawn in from under the rim."
    numbers = (
        f"{m.intrusion_height_mm:.2f} mm and {m.intrusion_volume_mm3:.0f} mm³ past the bite, "
        f"{m.drawn_in_volume_mm3:.0f} mm³ drawn in. {sunk}"
    )
    return Verdict("What passes the bite", words, numbers)


def _cup(outcome: Outcome) -> Verdict | None:
    m = outcome.measures
    if m.touches_cup is None:
        return None
    words = CUP_WORDS[reaches_cup(outcome)]
    gap = "" if m.cup_clearance_mm is None else f"Gap left to the cup: {m.cup_clearance_mm:.2f} mm."
    return Verdict("Whether it reaches the cup", words, gap)


def _freedom(outcome: Outcome) -> Verdict | None:
    ratio = outcome.measures.closing_travel_ratio
    if ratio is None:
        return None
    band = CLOSING.band(ratio)
    more = FREEDOM_WORDS["stopped" if ratio < STOPPED else band]
    words = f"{CLOSING_WORDS[band].capitalize()}: {more}."
    return Verdict("Whether the lip can move", words, f"Travel with the rim on is {ratio:.2f} of that without it.")


_QUESTIONS: tuple[Callable[[Outcome], Verdict | None], ...] = (
    _flotation, _cutting, _felt, _steadiness, _forgiveness, _arch, _past_bite, _cup, _freedom,
)  # fmt: skip
