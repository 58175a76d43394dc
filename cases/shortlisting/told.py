"""A shortlist as a person and as a program reads it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from labrum.cases.advising.lip_told import lip_json, lip_lines
from labrum.cases.shortlisting.finding import Listed, Shortlist
from labrum.cases.shortlisting.kept import SHORTLIST_SCHEMA, file_stem
from labrum.cases.shortlisting.probing import Played
from labrum.cases.shortlisting.wanted import Want
from labrum.cases.solving.result import CAUTIONS, errors_told, measured
from labrum.cases.solving.screen import WIDTH, written_cell
from labrum.simulate.conclusions.measure_errors import higher
from labrum.simulate.measures.catalogue import CATALOGUE, Measures
from labrum.simulate.measures.declaration import Better

COMPARED = (
    "peak_pressure_kpa", "edge_to_crown_pressure", "bearing_area_mm2", "skin_stretch_max", "felt_diameter_mm",
    "contact_inner_radius_mm", "height_past_high_point_mm", "cup_clearance_mm", "edge_drift_mm_per_10n",
    "closing_travel_ratio", "muscle_shortening_ratio",
)  # fmt: skip
"""What is told of every rim beside the present one."""


def shortlist_json(found: Shortlist) -> dict[str, Any]:
    """The shortlist as one JSON object; measures are those of the playing lip, loud."""
    return {
        "schema": SHORTLIST_SCHEMA,
        "alias": found.sheet.alias,
        "instrument": found.sheet.instrument,
        "complaints": list(found.sheet.complaints),
        "wishes": list(found.sheet.wishes),
        "lip": lip_json(found.sheet, found.lip),
        "force_n": found.present.outcome.force_n,
        "shop_step_mm": found.shop.mm,
        "wanted": [{"name": one.name, "measure": one.measure, "words": one.words()} for one in found.brief.wants],
        "held": [one.words() for one in found.brief.restraints] + [_held(*pair) for pair in found.brief.held.items()],
        "left_out": list(found.left_out),
        "present": {**_rim_json(found.present), "at_soft": _soft_json(found.present_soft)},
        "rims": [_listed_json(one, found) for one in found.listed],
        "not_met": [one.name for one in found.unmet],
        "holds_back": [{"limit": one.words, "relief_more_without": one.gain} for one in found.holding],
        "lips_tried": [{"thickness_mm": one.thickness, "stiffness": one.stiffness} for one in found.lips],
        "rims_solved": {"lip_held_still": found.still, "playing_lip": found.living},
        "notes": list(found.notes),
        "cautions": list(CAUTIONS),
    }


def shortlist_text(found: Shortlist, folder: str | None) -> str:
    """The shortlist in words, ended by the next step; ``folder`` is where it is kept, None where it is not."""
    parts = [lip_lines(found.sheet, found.lip), _asked(found)]
    parts += [_rim_lines(one, found) for one in found.listed]
    parts += [_limits(found), _cost(found)]
    return "\n".join([*(line for part in parts for line in (*part, "")), _next(found, folder)])


def dimension_words(key: str, before: object, after: object) -> str:
    """Say how a dimension changes: ``inner diameter 16.5 -> 16.75 mm``."""
    name, _, unit = key.rpartition("_")
    label, unit = (name, unit) if unit in ("mm", "deg") else (key, "")
    return f"{label.replace('_', ' ')} {_short(before)} -> {_short(after)} {unit}".rstrip()


def effect(now: Measures, then: Measures, name: str) -> str:
    """What a change of a measure is beyond the errors: ``better``, ``worse``, ``moves``; empty where it is none."""
    more = higher(then, now, name) if CATALOGUE[name].error is not None else None
    if more is None:
        return ""
    sign = CATALOGUE[name].better
    return "moves" if sign is Better.NEITHER else "better" if (sign is Better.MORE) == more else "worse"


def effects(one: Listed, found: Shortlist) -> Iterator[tuple[str, str]]:
    """The measures told that differ beyond the errors, and how."""
    names = dict.fromkeys((*(want.measure for want in found.brief.wants), *COMPARED))
    for name in names:
        how = effect(found.present.outcome.measures, one.played.outcome.measures, name)
        if how:
            yield name, how


def worse_at_soft(one: Listed, found: Shortlist) -> tuple[str, ...]:
    """The measures told that are worse at soft than under the present rim, beyond the errors."""
    if one.soft is None or found.present_soft is None:
        return ()
    now, then = found.present_soft.outcome.measures, one.soft.outcome.measures
    return tuple(name for name in COMPARED if effect(now, then, name) == "worse")


def soft_words(one: Listed, found: Shortlist) -> str:
    """Say what gets worse at soft, in a sentence."""
    if one.soft is None or found.present_soft is None:
        return "at soft it cannot be told: there is no equilibrium"
    force = f"at soft, {one.soft.outcome.force_n:g} N,"
    before, after = (measured(rim.outcome.measures) for rim in (found.present_soft, one.soft))
    told = [f"{CATALOGUE[name].label} {written_cell(before[name])} -> {written_cell(after[name])} "
            f"{CATALOGUE[name].typeset_unit}".rstrip() for name in worse_at_soft(one, found)]  # fmt: skip
    return f"{force} worse beyond the errors: {'; '.join(told)}" if told else f"{force} nothing told is worse"


def summary(one: Listed, found: Shortlist) -> str:
    """What a rim does to what was asked, in a sentence."""
    answered = ", ".join(f"{want.name}: {_relief_words(want, one.reliefs[want.name])}" for want in found.brief.wants)
    broken = "; beyond its limit: " + ", ".join(limit.words() for limit in one.broken) if one.broken else ""
    return answered + broken


def _relief_words(want: Want, relief: float) -> str:
    if relief >= 1.0:
        return f"answered ({want.words()} or more)"
    return f"answered in part ({100.0 * relief:.0f} % of that)" if relief > 0.1 else "not answered"


def _asked(found: Shortlist) -> list[str]:
    present = found.present
    lines = [f"Asked, against {present.rim.name} at loud, {present.outcome.force_n:g} N"]
    lines += _wrapped("wanted: " + "; ".join(f"{one.name}: {one.words()}" for one in found.brief.wants))
    lines += _wrapped("held: " + "; ".join(one.words() for one in found.brief.restraints))
    for key, wish in found.brief.held.items():
        lines += _wrapped(f"held: {_held(key, wish)}")
    for text in found.left_out:
        lines += _wrapped(f"cannot be told of this rim in this lip, left out: {text}")
    return lines


def changes_told(before: Mapping[str, Any], changes: Mapping[str, float]) -> list[str]:
    """Say what changes; the high point also by its place, for it moves with the width."""
    told = [dimension_words(key, before[key], value) for key, value in changes.items() if key != "high_point"]
    if "high_point" in changes:
        after = {**before, **changes}
        places = [_short(one["high_point"] * one["width_mm"]) for one in (before, after)]
        share = dimension_words("high_point", before["high_point"], changes["high_point"])
        told.append(f"{share} of the width, {places[0]} -> {places[1]} mm from the bite point")
    return told


def _rim_lines(one: Listed, found: Shortlist) -> list[str]:
    table, now = found.present.rim.table, found.present.outcome.measures
    lines = [f"{one.kind.capitalize()}", *_wrapped("; ".join(changes_told(table, one.changes)))]
    lines += _wrapped(summary(one, found))
    before, after = measured(now), measured(one.played.outcome.measures)
    for name, how in effects(one, found):
        entry, votes = CATALOGUE[name], one.lips.get(name)
        lips = "own lip only" if votes is None else f"{votes.same} of {votes.of} lips"
        values = f"{written_cell(before[name]):>8} -> {written_cell(after[name]):<8}"
        lines.append(f"    {entry.label:<20}{values} {entry.typeset_unit:<9}{how:<8}{lips}")
    return [*lines, *_wrapped(soft_words(one, found))]


def _limits(found: Shortlist) -> list[str]:
    lines = []
    if found.unmet:
        lines += _wrapped("Not to be had within these limits: " + "; ".join(
            f"{want.name} ({want.words()})" for want in found.unmet))  # fmt: skip
    if found.holding:
        lines += ["What holds the boldest rim back, by the relief more without it (1: as much as was asked)"]
        lines += [f"  {one.gain:5.1f}  {one.words}" for one in found.holding]
    return lines or ["No limit holds the boldest rim back much."]


def _cost(found: Shortlist) -> list[str]:
    text = (
        f"Lengths are rounded to {found.shop.words}, angles to half a degree. Better, worse and moves are beyond both "
        f"errors, in the playing lip; lips: in how many of {len(found.lips)} that this player may have, held still. "
        f"{found.living} rims were solved in the playing lip, {found.still} with a lip held still."
    )
    return [*textwrap.wrap(text, WIDTH), *(line for note in found.notes for line in _wrapped(f"no result: {note}"))]


def _next(found: Shortlist, folder: str | None) -> str:
    if folder is None:
        return "next: the same with --out FOLDER, then: labrum handover FOLDER --rim balanced"
    kinds = [one.kind for one in found.listed]
    return f"next: labrum handover {folder} --rim {file_stem(kinds[min(1, len(kinds) - 1)])}"


def _listed_json(one: Listed, found: Shortlist) -> dict[str, Any]:
    return {
        "kind": one.kind,
        **_rim_json(one.played),
        "changes": one.changes,
        "summary": summary(one, found),
        "reliefs": one.reliefs,
        "beyond_limits": [limit.words() for limit in one.broken],
        "at_soft": _soft_json(one.soft),
        "at_soft_words": soft_words(one, found),
        "worse_at_soft": list(worse_at_soft(one, found)),
        "effects": [
            {"measure": name, "effect": how, "lips": None if (v := one.lips.get(name)) is None else [v.same, v.of]}
            for name, how in effects(one, found)
        ],
    }


def _rim_json(one: Played) -> dict[str, Any]:
    m = one.outcome.measures
    return {"name": one.rim.name, "rim": one.rim.table, "measures": measured(m), "errors": errors_told(m)}


def _soft_json(one: Played | None) -> dict[str, Any] | None:
    if one is None:
        return None
    m = one.outcome.measures
    return {"force_n": one.outcome.force_n, "measures": measured(m), "errors": errors_told(m)}


def _held(key: str, wish: str) -> str:
    return f"{key.removesuffix('_mm').replace('_', ' ')} as it is: {wish}"


def _short(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
