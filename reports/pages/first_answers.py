"""The four questions a rim is turned for, answered in words with the numbers: does it float, cut, pin, fall in?

The words follow the same bands as a report's (`labrum.simulate.conclusions.thresholds`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from labrum.reports.pages.verdicts import CUTTING_WORDS, FLOTATION_WORDS, peak_in_words
from labrum.simulate.conclusions.thresholds import BEARING, CLOSING, CLOSING_WORDS, CONCENTRATION
from labrum.simulate.measures.catalogue import Measures


@dataclass(frozen=True)
class FirstAnswer:
    """A question, its answer in words, and the numbers the words rest on."""

    question: str
    words: str
    numbers: str


@dataclass(frozen=True)
class Read:
    """Measures as far as they are known: ``checked`` once their errors are; ``contracts`` where the muscle pulls."""

    measures: Measures
    checked: bool
    contracts: bool


def first_answers(read: Read) -> tuple[FirstAnswer, ...]:
    """Answer all four, in the order that they are asked."""
    return tuple(ask(read) for ask in _QUESTIONS)


def _floats(read: Read) -> FirstAnswer:
    m = read.measures
    share = m.bearing_area_mm2 / m.contact_area_mm2
    touching = f"{100 * share:.0f} % of the {m.contact_area_mm2:.0f} that touch"
    numbers = f"bearing area {m.bearing_area_mm2:.0f} mm², {touching}"
    return FirstAnswer("Does it float the lip?", FLOTATION_WORDS[BEARING.band(share)], numbers)


def _cuts(read: Read) -> FirstAnswer:
    m = read.measures
    words = CUTTING_WORDS[CONCENTRATION.band(m.edge_concentration)].format(place=peak_in_words(m))
    error = f" ± {m.peak_pressure_error_percent:.1f} %" if read.checked else ""
    numbers = (
        f"peak {m.peak_pressure_kpa:.1f} kPa{error}, {m.edge_concentration:.2f} × the mean; "
        f"skin stretched to {m.skin_stretch_max:.2f}"
    )
    return FirstAnswer("Does it cut?", words, numbers)


def _pins(read: Read) -> FirstAnswer:
    question, ratio = "Does it pin the lip?", read.measures.closing_travel_ratio
    if not read.contracts:
        return FirstAnswer(question, "Not asked: the muscle is at rest.", "turn Muscle up to ask")
    if not read.checked:
        return FirstAnswer(question, "Being worked out: the lip without a rim is needed too.", "")
    if ratio is None:
        return FirstAnswer(question, "It cannot be told of this lip.", "nothing in it closes")
    words = CLOSING_WORDS[CLOSING.band(ratio)]
    numbers = f"with the rim on it closes {ratio:.2f} of its way with the rim off"
    return FirstAnswer(question, f"{words[0].upper()}{words[1:]}.", numbers)


def _falls_in(read: Read) -> FirstAnswer:
    m = read.measures
    words = (
        f"It stands {m.intrusion_height_mm:.1f} mm past the bite."
        if m.past_bite
        else "No tissue stands past the bite."
    )
    cup = ""
    if m.touches_cup:
        cup = f"; touches {m.cup_wall_reach_mm or 0.0:.1f} mm of the cup"
    elif m.cup_clearance_mm is not None:
        cup = f"; {m.cup_clearance_mm:.1f} mm to the cup"
    return FirstAnswer("Does it fall into the cup?", words, f"{m.intrusion_volume_mm3:.0f} mm³ past the bite{cup}")


_QUESTIONS: tuple[Callable[[Read], FirstAnswer], ...] = (_floats, _cuts, _pins, _falls_in)
