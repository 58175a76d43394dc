"""What is asked first of a report: which rim does better, by how much beyond the errors, what to try next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labrum.reports.pages.content import RimSheet
from labrum.reports.pages.differences import OrderKept, letter, orders_kept
from labrum.simulate.conclusions.measure_errors import doubt, higher
from labrum.simulate.conclusions.thresholds import place_across
from labrum.simulate.measures.catalogue import CATALOGUE


@dataclass(frozen=True)
class Ranking:
    """A question whose answer is a rim: ``measure`` settles it, the ``least`` of it or the most."""

    question: str
    measure: str
    least: bool


RANKINGS = (
    Ranking("Which cuts least?", "peak_pressure_kpa", True),
    Ranking("Which floats the lip on most?", "bearing_area_mm2", False),
    Ranking("Which lets least past the bite?", "intrusion_height_mm", True),
)
NEXT = {
    "inner": "The peak of {rims} stands at the inner edge. Try a rounder bite (bite_radius_mm), then more width "
    "(width_mm).",
    "cup": "The peak of {rims} stands on the cup's wall. Try a steeper wall (cup_wall_angle_deg) or a rounder bite.",
    "middle": "The peak of {rims} stands on the face: the width is enough. Try less width (width_mm), or see what room "
    "there is for another high point (high_point).",
    "outer": "The peak of {rims} stands at the outer edge. Try a larger shoulder (shoulder_radius_mm), or the high "
    "point farther in (high_point).",
}  # fmt: skip
"""What moves a peak that stands there; common practice, no source."""


@dataclass(frozen=True)
class RankingTold:
    """A question, the rim that answers it, and what that rests on."""

    question: str
    words: str
    rests_on: str


def rankings_told(sheets: Sequence[RimSheet]) -> tuple[RankingTold, ...]:
    """Answer every question of `RANKINGS`; empty for a rim alone."""
    if len(sheets) < 2:
        return ()
    held = {one.label: one for one in orders_kept(sheets)}
    return tuple(_told(ranking, sheets, held) for ranking in RANKINGS)


def _told(ranking: Ranking, sheets: Sequence[RimSheet], held: Mapping[str, OrderKept]) -> RankingTold:
    name, measure = ranking.measure, CATALOGUE[ranking.measure]
    rims = [(letter(n), sheet.outcome.measures) for n, sheet in enumerate(sheets)]
    rims.sort(key=lambda rim: float(getattr(rim[1], name)), reverse=not ranking.least)
    values = ", ".join(
        f"{who} {getattr(m, name):.4g} ± {doubt(m, name):.1g}" for who, m in rims
    ) + f" {measure.typeset_unit}"
    alike = [who for who, m in rims[1:] if higher(m, rims[0][1], name) is None]
    if alike:
        words = f"Cannot be told between {' and '.join([rims[0][0], *alike])}: they differ by less than their errors."
    else:
        gap = abs(float(getattr(rims[1][1], name)) - float(getattr(rims[0][1], name)))
        both = doubt(rims[0][1], name) + doubt(rims[1][1], name)
        words = (
            f"{rims[0][0]}, by {gap:.3g} {measure.typeset_unit} before {rims[1][0]}; both errors together are "
            f"{both:.1g} {measure.typeset_unit}."
        )
    rests_on = f"{measure.label.capitalize()}: {values}.{_outlives(held, measure.label)}"
    return RankingTold(ranking.question, words, rests_on)


def _outlives(held: Mapping[str, OrderKept], label: str) -> str:
    if label not in held:
        return " Whether that outlives another stiffness of the lip was not tried."
    return f" At half and double the stiffness the order {'holds' if held[label].holds else 'does not hold'}."


def unlike(sheets: Sequence[RimSheet]) -> tuple[str, ...]:
    """Name what beside the rim differs between the cases: then a difference is not the rim's alone."""
    tables = ("lip", "load")
    return tuple(name for name in tables if any(s.inputs.get(name) != sheets[0].inputs.get(name) for s in sheets[1:]))


def next_questions(sheets: Sequence[RimSheet]) -> tuple[str, ...]:
    """Say what to try next, by where each rim's peak stands."""
    found: dict[str, list[str]] = {}
    for n, sheet in enumerate(sheets):
        m = sheet.outcome.measures
        place = place_across(m.peak_radius_mm, m.contact_inner_radius_mm, m.contact_outer_radius_mm)
        found.setdefault(place, []).append(letter(n) if len(sheets) > 1 else "this rim")
    return tuple(NEXT[place].format(rims=" and ".join(who)) for place, who in found.items())
