"""What is asked first of a report: which rim does better, by how much beyond the errors, what to try next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labrum.reports.house_style.words import error_in_words
from labrum.reports.pages.content import RimSheet
from labrum.reports.pages.differences import OrderKept, letter, orders_kept
from labrum.reports.pages.next_step import next_step
from labrum.simulate.conclusions.measure_errors import clear, doubt
from labrum.simulate.measures.catalogue import CATALOGUE, Measures


@dataclass(frozen=True)
class Ranking:
    """A question whose answer is a rim: ``measure`` settles it, the ``least`` of it or the most.

    ``size``: of the measure its size counts, whichever its sign.
    """

    question: str
    measure: str
    least: bool
    size: bool = False

    def of(self, measures: Measures) -> float | None:
        """What settles it of one rim; None where that does not apply."""
        value = getattr(measures, self.measure)
        return value if value is None or not self.size else abs(value)


RANKINGS = (
    Ranking("Which cuts least?", "peak_pressure_kpa", True),
    Ranking("Which floats the lip on most?", "bearing_area_mm2", False),
    Ranking("Which lets least past the bite?", "intrusion_height_mm", True),
    Ranking("Which is steadiest when the force rises?", "felt_drift_mm_per_10n", True, size=True),
    Ranking("Which is steadiest against a tilt?", "rocking_stiffness_nmm_per_deg", False),
)
@dataclass(frozen=True)
class RankingTold:
    """A question, the rim that answers it, and what that rests on."""

    question: str
    words: str
    rests_on: str


def rankings_told(sheets: Sequence[RimSheet]) -> tuple[RankingTold, ...]:
    """Answer every question of `RANKINGS` that applies to all rims; empty for a rim alone."""
    if len(sheets) < 2:
        return ()
    held = {one.label: one for one in orders_kept(sheets)}
    found = [sheet.outcome.measures for sheet in sheets]
    return tuple(_told(ranking, found, held) for ranking in RANKINGS if all(ranking.of(m) is not None for m in found))


def _told(ranking: Ranking, found: Sequence[Measures], held: Mapping[str, OrderKept]) -> RankingTold:
    name, measure = ranking.measure, CATALOGUE[ranking.measure]
    rims = [(letter(n), ranking.of(m) or 0.0, doubt(m, name), getattr(m, name)) for n, m in enumerate(found)]
    rims.sort(key=lambda rim: rim[1], reverse=not ranking.least)
    values = ", ".join(f"{who} {value:.4g} ± {error_in_words(error)}" for who, _, error, value in rims)
    (best, first, error, _), (other, second, beside, _) = rims[0], rims[1]
    alike = [who for who, value, doubted, _ in rims[1:] if not clear((first, error), (value, doubted))]
    if alike:
        words = f"Cannot be told between {' and '.join([best, *alike])}: they differ by less than their errors."
    else:
        words = (
            f"{best}, by {abs(second - first):.3g} {measure.typeset_unit} before {other}; both errors together are "
            f"{error_in_words(error + beside)} {measure.typeset_unit}."
        )
    rests_on = f"{measure.label.capitalize()}: {values} {measure.typeset_unit}.{_outlives(held, measure.label)}"
    return RankingTold(ranking.question, words, rests_on)


def _outlives(held: Mapping[str, OrderKept], label: str) -> str:
    if not held:
        return " Whether that outlives another stiffness of the lip was not tried."
    if label not in held:
        return ""
    return f" At half and double the stiffness the order {'holds' if held[label].holds else 'does not hold'}."


def unlike(sheets: Sequence[RimSheet]) -> tuple[str, ...]:
    """Name what beside the rim differs between the cases: then a difference is not the rim's alone."""
    tables = ("lip", "load")
    return tuple(name for name in tables if any(s.inputs.get(name) != sheets[0].inputs.get(name) for s in sheets[1:]))


def next_questions(sheets: Sequence[RimSheet]) -> tuple[str, ...]:
    """Say what to try next, by where each rim's peak stands."""
    found: dict[str, list[int]] = {}
    for n, sheet in enumerate(sheets):
        found.setdefault(next_step(sheet.outcome.measures), []).append(n)
    return tuple(
        next_step(sheets[who[0]].outcome.measures, _listed(who) if len(sheets) > 1 else "this rim")
        for who in found.values()
    )


def _listed(numbers: Sequence[int]) -> str:
    """Name rims by their letters, as a sentence lists them."""
    *most, last = map(letter, numbers)
    return f"{', '.join(most)} and {last}" if most else last
