"""A shortlist as the page shows it: sentences first, a table a rim, and what is sent back to hand one over."""

from __future__ import annotations

import io

from labrum.cases.exploring.asks.answer import FurtherAnswer, PageFile, PageTable, rows_of_cells
from labrum.cases.exploring.tables import tables_of
from labrum.cases.handing_over.parcel import archive
from labrum.cases.shortlisting.finding import Listed, Shortlist
from labrum.cases.shortlisting.kept import file_stem
from labrum.cases.shortlisting.ready import kept_files, played_rims
from labrum.cases.shortlisting.told import (
    changes_told,
    effects,
    shortlist_json,
    shortlist_text,
    soft_words,
    summary,
)
from labrum.cases.solving.result import measured
from labrum.cases.solving.screen import written_cell
from labrum.simulate.measures.catalogue import CATALOGUE


def shortlist_for_page(found: Shortlist, off: str) -> FurtherAnswer:
    """Lay out all that was found; ``off`` says how far the dimensions stand off a trace."""
    told = shortlist_json(found)
    kept = {"told": told, "cases": {name: tables_of(one.case) for name, one in played_rims(found).items()},
            "rims": [{"rim": file_stem(one.kind), "kind": one.kind} for one in found.listed]}  # fmt: skip
    words = (*_head(found), *(_rim_words(one, found) for one in found.listed), *_limits(found), *([off] if off else []))
    tables = tuple(_table(one, found) for one in found.listed)
    pack = io.BytesIO()
    text = shortlist_text(found, ".")
    archive(pack, {name: written.encode() for name, written in kept_files(found, told, text).items()})
    file = PageFile.of("shortlist.zip", "application/zip", pack.getvalue())
    typeset = (text.replace(" -> ", " → ") for text in words)
    return FurtherAnswer((*typeset, NEXT), tables, (file,), kept)


NEXT = (
    "Next: lay a rim on the bench to look at it, or hand one over below: a page for player and shop, drawing, outline, "
    "tool path and cases, as one archive. `labrum handover` does the same with the shortlist kept here."
)


def _head(found: Shortlist) -> tuple[str, str]:
    wants = "; ".join(f"{one.name}: {one.words()}" for one in found.brief.wants)
    held = "; ".join(one.words() for one in found.brief.restraints)
    return (
        f"{_number(len(found.listed))} against {found.present.rim.name} at loud, {found.present.outcome.force_n:g} N.",
        f"Wanted: {wants}. Held: {held}.",
    )


def _number(count: int) -> str:
    return "One rim" if count == 1 else f"{'Two' if count == 2 else 'Three'} rims"


def _rim_words(one: Listed, found: Shortlist) -> str:
    changes = "; ".join(changes_told(found.present.rim.table, one.changes))
    return f"{one.kind.capitalize()}: {changes}. {_capital(summary(one, found))}; {soft_words(one, found)}."


def _limits(found: Shortlist) -> list[str]:
    lines = []
    if found.left_out:
        lines.append(f"Cannot be told of this rim in this lip, left out: {'; '.join(found.left_out)}.")
    if found.unmet:
        wants = "; ".join(f"{want.name} ({want.words()})" for want in found.unmet)
        lines.append(f"Not to be had within these limits: {wants}.")
    if found.holding:
        limits = "; ".join(f"{one.words} ({one.gain:.1f} times the relief asked for without it)"
                           for one in found.holding)  # fmt: skip
        lines.append(f"What holds the boldest rim back: {limits}.")
    return [*lines, *(f"No result: {note}." for note in found.notes)]


def _table(one: Listed, found: Shortlist) -> PageTable:
    before, after = measured(found.present.outcome.measures), measured(one.played.outcome.measures)
    rows = []
    for name, how in effects(one, found):
        entry, votes = CATALOGUE[name], one.lips.get(name)
        lips = "own lip only" if votes is None else f"{votes.same} of {votes.of}"
        label = f"{entry.label}, {entry.typeset_unit}" if entry.typeset_unit else entry.label
        rows.append((label, written_cell(before[name]), written_cell(after[name]), how, lips))
    caption = f"{one.kind.capitalize()}: what changes at loud beyond both errors, and in how many plausible lips"
    return PageTable(caption, ("measure", "present", one.kind, "", "lips"), rows_of_cells(rows))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
