"""What is concluded of one rim: each question, how an outcome answers it, and the number behind the answer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from labrum.simulate.conclusions.measure_errors import doubt
from labrum.simulate.conclusions.robustness import Asked, Conclusion, Trial, tallied
from labrum.simulate.conclusions.thresholds import (
    CLOSING,
    CLOSING_WORDS,
    CONCENTRATED,
    FREE,
    PINNED,
    PLACE_WORDS,
    Scale,
    place_across,
)
from labrum.simulate.outcome import Outcome


@dataclass(frozen=True)
class Question(Asked):
    """Something asked of an outcome.

    ``answer`` gives a key of ``words``, None where the numbers are too close to tell; ``number`` what is behind it,
    None where the question does not apply.
    """

    answer: Callable[[Outcome], str | None]
    number: Callable[[Outcome], float | None]


def conclusions(trials: Sequence[Trial], own: str) -> tuple[Conclusion, ...]:
    """Draw what there is to say of one rim; ``own`` names the lip whose answers are the ones put to the test."""
    made = (_concluded(question, trials, own) for question in QUESTIONS)
    return tuple(conclusion for conclusion in made if conclusion is not None)


def _concluded(question: Question, trials: Sequence[Trial], own: str) -> Conclusion | None:
    answers, numbers = {}, {}
    for trial in trials:
        if trial.outcome is not None and (number := question.number(trial.outcome)) is not None:
            answers[trial.name], numbers[trial.name] = question.answer(trial.outcome), number
    return tallied(question, answers, numbers, [trial.name for trial in trials], own)


def peak_place(outcome: Outcome) -> str | None:
    """Tell in which third of the contact the peak lies, or on the cup's wall.

    None where the largest pressure elsewhere comes within the peak's error, doubled because both have it.
    """
    m = outcome.measures
    ends = m.contact_inner_radius_mm, m.contact_outer_radius_mm
    here = place_across(m.peak_radius_mm, *ends)
    elsewhere = max((p for r, p in outcome.pressure_profile if place_across(r, *ends) != here), default=0.0)
    return None if elsewhere > m.peak_pressure_kpa * (1.0 - 0.02 * m.peak_pressure_error_percent) else here


ABOVE_NOUGHT = Scale((0.0,), ("no", "yes"))


def _stands_past(outcome: Outcome) -> str | None:
    m = outcome.measures
    return ABOVE_NOUGHT.told(m.intrusion_height_mm, doubt(m, "intrusion_height_mm")) if m.past_bite else "no"


def _drawn_in(outcome: Outcome) -> str:
    m = outcome.measures
    return "yes" if m.drawn_in_volume_mm3 > doubt(m, "drawn_in_volume_mm3") else "no"


def _concentrated(outcome: Outcome) -> str | None:
    m = outcome.measures
    return Scale((CONCENTRATED,), ("no", "yes")).told(m.edge_concentration, doubt(m, "edge_concentration"))


def _felt_side(outcome: Outcome) -> str | None:
    return Scale((0.0,), ("inside", "outside")).told(_felt_offset(outcome), doubt(outcome.measures, "felt_diameter_mm"))


def _felt_offset(outcome: Outcome) -> float:
    return outcome.measures.felt_diameter_mm - 2.0 * outcome.rim.high_point_radius


def _free(outcome: Outcome) -> str | None:
    m = outcome.measures
    return CLOSING.told(m.closing_travel_ratio or 0.0, doubt(m, "closing_travel_ratio"))


def reaches_cup(outcome: Outcome) -> str | None:
    """Yes where more of the wall is touched than its error, no where the clearance is; else it cannot be told."""
    m = outcome.measures
    if m.touches_cup:
        return "yes" if (m.cup_wall_reach_mm or 0.0) > doubt(m, "cup_wall_reach_mm") else None
    return "no" if m.cup_clearance_mm is None or m.cup_clearance_mm > doubt(m, "cup_clearance_mm") else None


def _clearance(outcome: Outcome) -> float | None:
    return None if outcome.measures.touches_cup is None else outcome.measures.cup_clearance_mm or 0.0


QUESTIONS = (
    Question(
        "peak_place",
        {
            "cup": f"the peak lies on {PLACE_WORDS['cup']}",
            "inner": f"the peak lies at {PLACE_WORDS['inner']} (inner third of the contact)",
            "middle": f"the peak lies on {PLACE_WORDS['middle']} (middle third of the contact)",
            "outer": f"the peak lies at {PLACE_WORDS['outer']} (outer third of the contact)",
            None: "where the peak lies cannot be told: two places press almost equally",
        },
        "mm", "its radius", peak_place, lambda o: o.measures.peak_radius_mm,
    ),
    Question(
        "concentration",
        {
            "yes": f"the load is concentrated at its peak (more than {CONCENTRATED:g} times the mean)",
            "no": f"the load is fairly even (its peak less than {CONCENTRATED:g} times the mean)",
            None: f"whether the load is even cannot be told: its peak is about {CONCENTRATED:g} times the mean",
        },
        "", "peak over mean", _concentrated, lambda o: o.measures.edge_concentration,
    ),
    Question(
        "felt_side",
        {
            "inside": "the rim feels smaller than the circle of its high point",
            "outside": "the rim feels larger than the circle of its high point",
            None: "the rim feels as large as the circle of its high point",
        },
        "mm", "felt diameter less the high point's", _felt_side, _felt_offset,
    ),
    Question(
        "past_bite",
        {
            "yes": "tissue stands past the bite",
            "no": "no tissue stands past the bite",
            None: "whether tissue stands past the bite cannot be told: it ends there",
        },
        "mm", "intrusion height", _stands_past, lambda o: o.measures.intrusion_height_mm,
    ),
    Question(
        "drawn_in",
        {
            "yes": "tissue from under the rim is drawn in past the bite",
            "no": "no tissue from under the rim is drawn in past the bite",
        },
        "mm3", "volume drawn in", _drawn_in, lambda o: o.measures.drawn_in_volume_mm3,
    ),
    Question(
        "touches_cup",
        {
            "yes": "the lip touches the cup",
            "no": "the lip stays clear of the cup",
            None: "whether the lip touches the cup cannot be told: it comes just as far as the wall",
        },
        "mm", "clearance", reaches_cup, _clearance,
    ),
    Question(
        "closing_travel",
        {
            "free": f"{CLOSING_WORDS['free']} (at least {FREE:g} of its travel is left)",
            "hindered": f"{CLOSING_WORDS['hindered']} ({PINNED:g} to {FREE:g} of its travel is left)",
            "pinned": f"{CLOSING_WORDS['pinned']} (less than {PINNED:g} of its travel is left)",
            None: f"how free the opening is cannot be told: about {FREE:g} or {PINNED:g} of its travel is left",
        },
        "", "closing travel", _free, lambda o: o.measures.closing_travel_ratio,
    ),
)
