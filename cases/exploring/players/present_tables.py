"""What the present rim does to its player, as the page shows it: sentences first, then tables."""

from __future__ import annotations

from labrum.cases.advising.present import TRIED_STEPS, Present
from labrum.cases.advising.present_told import MOVED, TOLD, moved_in_words, step_in_words
from labrum.cases.exploring.asks.answer import FurtherAnswer, PageTable, rows_of_cells
from labrum.cases.player.playing import LIVING_ONLY
from labrum.cases.player.slopes import Slope
from labrum.cases.solving.result import measured
from labrum.simulate.conclusions.measure_errors import higher
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.measures.declaration import Better


def present_for_page(found: Present) -> FurtherAnswer:
    """Lay out all that was found."""
    tables = (_numbers(found), _slopes(found), _playing(found), *(_cost(found, name) for name in found.trials))
    return FurtherAnswer((*_judged(found), *_why(found)), tuple(table for table in tables if table is not None))


def _judged(found: Present) -> list[str]:
    told = [f"{one.complaint.name.capitalize()}: {one.verdict}; {one.words}." for one in found.judged]
    given = [name for name in found.outcomes if name not in found.sheet.forces]
    library = f"The force at {' and '.join(given)} is the library's for a {found.sheet.instrument}, not this player's."
    return told + ([library] if given else [])


def _why(found: Present) -> list[str]:
    lines = []
    for name, arc in found.arcs.items():
        m = found.outcomes[name].measures
        lines.append(f"At {name} the {arc} carries the peak, {m.peak_pressure_kpa:.0f} kPa at r = "
                     f"{m.peak_radius_mm:.2f} mm.")  # fmt: skip
    if found.wide_enough is not None:
        here = (found.rim.dimensions or {}).get("width_mm")
        lines.append(f"The peak leaves the edges at a width of {found.wide_enough:.1f} mm, other dimensions kept; the "
                     f"rim has {here:g} mm.")  # fmt: skip
    for one in found.remedies:
        lines.append(f"Against '{one.complaint.name}' {step_in_words(one.slope)} moves most: {moved_in_words(one)}.")
    for complaint in found.unmoved if found.slopes else ():
        label = CATALOGUE[complaint.measure].label
        lines.append(f"Against '{complaint.name}' no step helps: none moves {label} beyond its error.")
    if not found.slopes:
        lines.append("Which dimension moves it cannot be told: the rim is no set of dimensions. Use such instead.")
    return lines


def _numbers(found: Present) -> PageTable:
    shown = dict.fromkeys((*TOLD, *(name for one in found.judged for name in one.complaint.shown)))
    columns = [measured(outcome.measures) for outcome in found.outcomes.values()]
    rows = [(_named(name), *(_value(column[name]) for column in columns)) for name in shown]
    heads = [f"{name}, {outcome.force_n:g} N" for name, outcome in found.outcomes.items()]
    return PageTable(f"The present rim, {found.rim.name}", ("measure", *heads), rows_of_cells(rows))


def _slopes(found: Present) -> PageTable | None:
    if not found.slopes:
        return None
    rows = [(step_in_words(slope), *(_moved(slope, name) for name in MOVED)) for slope in found.slopes]
    caption = "What a step of each dimension moves at loud, the lip held still (a dash: less than the error)"
    return PageTable(caption, ("step", *(_named(name) for name in MOVED)), rows_of_cells(rows))


def _playing(found: Present) -> PageTable | None:
    if not found.playing:
        return None
    rows = [(step_in_words(slope), *(_moved(slope, name) for name in LIVING_ONLY)) for slope in found.playing]
    caption = "What a step of each dimension moves at loud in the playing lip (a dash: less than the error)"
    return PageTable(caption, ("step", *(_named(name) for name in LIVING_ONLY)), rows_of_cells(rows))


def _cost(found: Present, loudness: str) -> PageTable:
    now, then = found.outcomes[loudness].measures, found.trials[loudness].measures
    rows = list[tuple[object, ...]]()
    before, after = measured(now), measured(then)
    for name in TOLD:
        more = higher(then, now, name)
        if more is None:
            continue
        sign = CATALOGUE[name].better
        word = "moves" if sign is Better.NEITHER else "better" if (sign is Better.MORE) == more else "worse"
        rows.append((_named(name), _value(before[name]), _value(after[name]), word))
    step = step_in_words(found.remedies[0].slope)
    caption = f"What {step}, {TRIED_STEPS} times, does at {loudness} in the playing lip, beyond errors"
    return PageTable(caption, ("measure", "present", "changed", ""), rows_of_cells(rows))


def _named(name: str) -> str:
    entry = CATALOGUE[name]
    return f"{entry.label}, {entry.typeset_unit}" if entry.typeset_unit else entry.label


def _value(value: object) -> object:
    return "does not apply" if value is None else float(value) if isinstance(value, int | float) else value


def _moved(slope: Slope, name: str) -> str:
    return f"{slope.change[name]:+.3g}" if slope.sure(name) else "–"

