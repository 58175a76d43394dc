"""What the present rim does, as a person and as a program reads it."""

from __future__ import annotations

import textwrap
from typing import Any

from labrum.cases.advising.lip_told import lip_json, lip_lines
from labrum.cases.advising.present import TRIED_STEPS, Present, Remedy
from labrum.cases.player.fitting import PlayerLip
from labrum.cases.player.playing import LIVING_ONLY
from labrum.cases.player.slopes import Slope
from labrum.cases.solving.result import CAUTIONS, measured
from labrum.cases.solving.screen import WIDTH, written_cell
from labrum.simulate.conclusions.measure_errors import higher
from labrum.simulate.measures.catalogue import CATALOGUE, Measures
from labrum.simulate.measures.declaration import Better

PRESENT_SCHEMA = 1
TOLD = (
    "peak_pressure_kpa", "edge_to_crown_pressure", "bearing_area_mm2", "felt_diameter_mm", "height_past_high_point_mm",
    "cup_wall_reach_mm", "muscle_shortening_ratio", "closing_travel_ratio",
)  # fmt: skip
"""What is told of every rim, whatever is complained of."""
MOVED = ("peak_pressure_kpa", "bearing_area_mm2", "felt_diameter_mm", "height_past_high_point_mm", "skin_stretch_max")
"""What a step of each dimension is told to move."""


def present_json(found: Present) -> dict[str, Any]:
    """All that was found as one JSON object."""
    return {
        "schema": PRESENT_SCHEMA,
        "rim": found.rim.name,
        "lip": lip_json(found.sheet, found.lip),
        "forces_n": {name: outcome.force_n for name, outcome in found.outcomes.items()},
        "forces_from_sheet": sorted(found.sheet.forces),
        "measures": {name: measured(outcome.measures) for name, outcome in found.outcomes.items()},
        "arc_of_peak": found.arcs,
        "complaints": [
            {"complaint": one.complaint.name, "verdict": one.verdict, "words": one.words} for one in found.judged
        ],
        "wide_enough_from_mm": found.wide_enough,
        "in_dimensions": None if found.varied is None else {"rim": found.varied.table, "off": found.off or None},
        "slopes": [_slope_row(slope) for slope in found.slopes],
        "remedies": [{"complaint": one.complaint.name, **_slope_row(one.slope)} for one in found.remedies],
        "slopes_of_playing_lip": [_slope_row(slope) for slope in found.playing],
        "tried": None if found.tried is None else {"rim": found.tried.table, **_trials(found)},
        "cautions": list(CAUTIONS),
    }


def present_text(found: Present, place: str) -> str:
    """All that was found in words, ended by the next step."""
    parts = (_lip(found.lip, found), _complaints(found), _numbers(found), _why(found), _cost(found))
    return "\n".join([*(line for part in parts for line in (*part, "")), _next(found, place)])


def _trials(found: Present) -> dict[str, Any]:
    keys = {"loud": "measures", "soft": "measures_at_soft"}
    return {key: measured(found.trials[name].measures) if name in found.trials else None for name, key in keys.items()}


def _slope_row(slope: Slope) -> dict[str, Any]:
    return {"key": slope.key, "step": slope.step, "change": slope.change, "error": slope.error}


def _lip(lip: PlayerLip, found: Present) -> list[str]:
    given = [name for name in found.outcomes if name not in found.sheet.forces]
    note = f"force at {' and '.join(given)}: the library's for a {found.sheet.instrument}, not this player's"
    return [*lip_lines(found.sheet, found.lip), *(_wrapped(note) if given else [])]


def _complaints(found: Present) -> list[str]:
    head = "Complained of" if found.sheet.complaints else "Nothing is complained of; all there is to look at"
    lines = [f"{head} ({found.rim.name})"]
    for one in found.judged:
        lines += _wrapped(f"{one.complaint.name}: {one.verdict}; {one.words}.")
    return lines


def _numbers(found: Present) -> list[str]:
    shown = dict.fromkeys((*TOLD, *(name for one in found.judged for name in one.complaint.shown)))
    lines = [f"  {'':<20}" + "".join(f"{f'{name}, {o.force_n:g} N':>14}" for name, o in found.outcomes.items())]
    for name in shown:
        cells = "".join(f"{written_cell(measured(o.measures)[name]):>14}" for o in found.outcomes.values())
        lines.append(f"  {CATALOGUE[name].label:<20}{cells} {CATALOGUE[name].typeset_unit}".rstrip())
    return lines


def _why(found: Present) -> list[str]:
    lines = ["Why"]
    for name, arc in found.arcs.items():
        m = found.outcomes[name].measures
        peak = f"{m.peak_pressure_kpa:.0f} kPa at r = {m.peak_radius_mm:.2f} mm"
        lines.append(f"  at {name} the {arc} carries the peak, {peak}")
    if not found.slopes:
        why = found.off or "no dimension of it could be changed"
        return [*lines, *_wrapped(f"which dimension moves it cannot be told: {why}")]
    lines += _wrapped(found.off) if found.off else []
    if found.wide_enough is not None:
        here = found.varied.table["width_mm"] if found.varied else 0.0
        lines += _wrapped(f"the peak leaves the edges at a width of {found.wide_enough:.1f} mm, other dimensions kept; "
                          f"the rim has {here:g} mm")  # fmt: skip
    lines += _wrapped("What a step of each dimension moves at loud, the lip held still (a dash: less than the error):")
    lines.append(f"  {'':<30}" + "".join(f"{CATALOGUE[name].label:>16}" for name in MOVED))
    lines += [f"  {step_in_words(slope):<30}" + "".join(_cell(slope, name) for name in MOVED) for slope in found.slopes]
    if found.playing:
        lines += _wrapped("What a step of each dimension moves at loud in the playing lip:")
        lines.append(f"  {'':<30}" + "".join(f"{CATALOGUE[name].label:>20}" for name in LIVING_ONLY))
        lines += [f"  {step_in_words(slope):<30}" + "".join(f"{_cell(slope, name):>20}" for name in LIVING_ONLY)
                  for slope in found.playing]  # fmt: skip
    for one in found.remedies:
        lines += _wrapped(f"{one.complaint.name}: most by {step_in_words(one.slope)}: {moved_in_words(one)}")
    for complaint in found.unmoved:
        lines += _wrapped(f"{complaint.name}: no step moves {CATALOGUE[complaint.measure].label} beyond its error")
    return lines


def moved_in_words(remedy: Remedy) -> str:
    """Say what a remedy's step moves; of what only a playing lip has, all that the complaint shows."""
    asked, slope = remedy.complaint, remedy.slope
    beside = [name for name in asked.shown if name in LIVING_ONLY and name != asked.measure and slope.sure(name)]
    named = [CATALOGUE[name] for name in (asked.measure, *beside)]
    return ", ".join(f"{one.label} {slope.change[one.name]:+.2g} {one.typeset_unit}".rstrip() for one in named)


def _cost(found: Present) -> list[str]:
    if found.tried is None:
        return []
    step = step_in_words(found.remedies[0].slope)
    lines = [f"What {step}, {TRIED_STEPS} times, does in the playing lip, beyond the errors"]
    for name, outcome in found.trials.items():
        rows = _cost_rows(found.outcomes[name].measures, outcome.measures)
        lines += [f"  at {name}, {outcome.force_n:g} N", *(rows or ["    nothing"])]
    return lines


def _cost_rows(now: Measures, then: Measures) -> list[str]:
    lines, before, after = list[str](), measured(now), measured(then)
    for name in TOLD:
        more = higher(then, now, name)
        if more is None:
            continue
        sign = CATALOGUE[name].better
        word = "moves" if sign is Better.NEITHER else "better" if (sign is Better.MORE) == more else "worse"
        values = f"{written_cell(before[name]):>10} -> {written_cell(after[name]):<8}"
        lines.append(f"    {CATALOGUE[name].label:<20}{values} {CATALOGUE[name].typeset_unit:<5} {word}".rstrip())
    return lines


def _next(found: Present, place: str) -> str:
    if not found.slopes:
        return f"next: labrum gauge {found.rim.name}, to have the rim as dimensions"
    return f"next: labrum shortlist {place}"


def step_in_words(slope: Slope) -> str:
    """Say which step of which dimension, as in ``bite radius +0.1 mm``."""
    name, _, unit = slope.key.rpartition("_")
    word, known = (name, unit) if unit in ("mm", "deg") else (slope.key, "")
    return f"{word.replace('_', ' ')} {slope.step:+g} {known}".rstrip()


def _cell(slope: Slope, name: str) -> str:
    return f"{f'{slope.change[name]:+.3g}' if slope.sure(name) else '-':>16}"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
