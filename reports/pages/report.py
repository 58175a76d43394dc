"""The report: one HTML file that holds everything it shows, for a screen, a phone and paper."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

import jinja2
from markupsafe import Markup
from matplotlib.figure import Figure

from labrum.reports.figures.off_axis import sides_figure, wave_views
from labrum.reports.figures.pressure import pressure_figure
from labrum.reports.figures.ring_map import ring_figure
from labrum.reports.figures.section import section_figure
from labrum.reports.figures.side_by_side import compare_figure, overlay_figure
from labrum.reports.house_style.saving import inline_svg
from labrum.reports.house_style.style import round_above
from labrum.reports.house_style.words import error_in_words, plain
from labrum.reports.pages.content import Paper, RimSheet
from labrum.reports.pages.differences import SAME, difference, letter, orders_kept, range_columns, ranges, times
from labrum.reports.pages.first_reader import next_questions, rankings_told, unlike
from labrum.reports.pages.verdicts import BANDS_NOTE, verdicts
from labrum.simulate.measures.catalogue import groups_of
from labrum.simulate.measures.declaration import Measure
from labrum.simulate.outcome import Outcome

_LINE = re.compile(r'\bd="[^"]*"')
_DECIMALS = re.compile(r"(\.\d\d)\d+")


def report_page(paper: Paper) -> str:
    """Write the report as one HTML page that asks nothing of any network.

    Every word that came from people (titles, names of layers, paths) is escaped by the template engine.
    """
    paper = lettered(paper)
    return _template("report.html").render(
        paper=paper,
        title=page_title(paper),
        style=Markup(asset("page.css")),
        cards=[(sheet, verdicts(sheet.outcome)) for sheet in paper.sheets],
        rankings=rankings_told(paper.sheets),
        unlike=unlike(paper.sheets),
        next_questions=next_questions(paper.sheets),
        bands_note=BANDS_NOTE,
        table=comparison(paper),
        absent=absent(paper),
        pictures=_pictures(paper.sheets),
        conclusions=orders_kept(paper.sheets),
        ranges=[(sheet, ranges(sheet)) for sheet in paper.sheets if sheet.softened],
        times=times,
        range_columns=range_columns,
        rubbed=any(s.friction is not None for sheet in paper.sheets for s in sheet.softened),
        inputs=[(sheet, flat(sheet.inputs)) for sheet in paper.sheets],
        provenance=flat(paper.provenance or {}),
    )


def page_title(paper: Paper) -> str:
    """Name the report after its rims."""
    return plain(paper.sheets[0].name) if len(paper.sheets) == 1 else f"{len(paper.sheets)} rims side by side"


def lettered(paper: Paper) -> Paper:
    """Lead each of several rims' names by a letter, short enough to stand in a figure or a sentence."""
    if len(paper.sheets) == 1:
        return paper
    named = (replace(sheet, name=f"{letter(n)}: {sheet.name}") for n, sheet in enumerate(paper.sheets))
    return replace(paper, sheets=tuple(named))


def asset(name: str) -> str:
    """Return a text that ships beside this module."""
    return files("labrum.reports").joinpath("assets", name).read_text(encoding="utf-8")


def comparison(paper: Paper) -> list[tuple[str, list[tuple[Measure, list[tuple[str, Any]]]]]]:
    """Lay the measures out: heading, then row by row the measure and each rim's value and difference."""
    groups, left_out = groups_of(*(sheet.outcome.measures for sheet in paper.sheets)), set(absent(paper))
    rows = [
        (heading, [(m, _cells(m.name, paper.sheets)) for m in measures if m not in left_out])
        for heading, measures in groups
    ]
    return [(heading, some) for heading, some in rows if some]


def absent(paper: Paper) -> tuple[Measure, ...]:
    """The measures that apply to none of the rims: the page names them, and why, below its table."""
    found = [sheet.outcome.measures for sheet in paper.sheets]
    return tuple(
        m for _, measures in groups_of(*found) for m in measures if all(getattr(one, m.name) is None for one in found)
    )


def _cells(name: str, sheets: Sequence[RimSheet]) -> list[tuple[str, Any]]:
    first = sheets[0].outcome.measures
    cells = []
    for number, sheet in enumerate(sheets):
        m = sheet.outcome.measures
        value, error = written_measure(getattr(m, name)), m.errors.get(name)
        if error is not None:
            value += f" ± {error_in_words(error)}"
        cells.append((value, SAME if number == 0 else difference(name, first, m)))
    return cells


def written_measure(value: Any) -> str:
    """Write a measure as people read it; one that does not apply says so."""
    if value is None:
        return "does not apply"
    if isinstance(value, bool) or str(value) in ("True", "False"):
        return "yes" if value else "no"
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"


def _pictures(sheets: Sequence[RimSheet]) -> dict[str, Any]:
    """Draw every figure of the page, each as an element with the words that stand in for it.

    Every scale of contact pressure on the page is the same, so that a colour or a height means one thing.
    """
    top = _round_top([sheet.outcome for sheet in sheets]) if len(sheets) > 1 else None
    alone = [
        (
            sheet,
            _drawn(section_figure(sheet.outcome, pressure_to_kpa=top), f"s{n}", _section_words(sheet)),
            _drawn(pressure_figure(sheet.outcome, pressure_to_kpa=top), f"p{n}", _pressure_words(sheet)),
            _drawn(ring_figure(sheet.outcome, pressure_to_kpa=top), f"m{n}", _ring_words(sheet)),
            _off_axis_pictures(sheet, n, top),
        )
        for n, sheet in enumerate(sheets)
    ]
    if len(sheets) < 2:
        return {"alone": alone, "together": []}
    outcomes, names = [sheet.outcome for sheet in sheets], [sheet.name for sheet in sheets]
    words = "; ".join(_pressure_words(sheet) for sheet in sheets)
    overlaid, beside = (draw(outcomes, names, pressure_to_kpa=top) for draw in (overlay_figure, compare_figure))
    overlay = _drawn(overlaid, "overlay", f"Pressures on one pair of axes. {words}")
    compare = _drawn(beside, "compare", f"Sections and pressures at one scale. {words}")
    return {"alone": alone, "together": [overlay, compare]}


def _round_top(outcomes: Sequence[Outcome]) -> float:
    """A round pressure, kPa, with some room above everything that the page's figures show."""
    highest = [outcome.measures.peak_pressure_kpa for outcome in outcomes]
    highest += [view.highest_kpa() for outcome in outcomes for view in wave_views(outcome).values()]
    return round_above(1.05 * max(highest))


def _off_axis_pictures(sheet: RimSheet, number: int, top: float | None) -> list[tuple[Markup, str]]:
    """What was asked off the axis: the pressure on the sides of the ring, with a caption each."""
    return [
        (_drawn(sides_figure(view, pressure_to_kpa=top), f"{name}{number}", f"Pressure of {sheet.name}, {view.words}."),
         f"Contact pressure around the ring, {view.words}; to first order.")
        for name, view in wave_views(sheet.outcome).items()
    ]  # fmt: skip


def _drawn(figure: Figure, key: str, words: str) -> Markup:
    """Write a figure for the page, its lines to a hundredth of a point, which no screen or paper can tell from more."""
    element = inline_svg(figure, key, words)
    return Markup(_LINE.sub(lambda line: _DECIMALS.sub(r"\1", line[0]), element))


def _section_words(sheet: RimSheet) -> str:
    m = sheet.outcome.measures
    return (
        f"Section of {sheet.name}: the rim has sunk {m.sink_mm:.2f} mm into the lip, which stands "
        f"{m.intrusion_height_mm:.2f} mm past the bite."
    )


def _pressure_words(sheet: RimSheet) -> str:
    m = sheet.outcome.measures
    return (
        f"Pressure of {sheet.name}: from r = {m.contact_inner_radius_mm:.2f} to {m.contact_outer_radius_mm:.2f} mm, "
        f"peak {m.peak_pressure_kpa:.1f} kPa at r = {m.peak_radius_mm:.2f} mm, mean {m.mean_pressure_kpa:.1f} kPa."
    )


def _ring_words(sheet: RimSheet) -> str:
    return f"The same pressure as a ring, seen from the player's side. {_pressure_words(sheet)}"


def flat(tables: Mapping[str, Any] | Sequence[Any], path: str = "") -> list[tuple[str, str]]:
    """Write nested tables as rows of dotted key and value, elements counted from 1."""
    pairs = tables.items() if isinstance(tables, Mapping) else enumerate(tables, 1)
    rows: list[tuple[str, str]] = []
    for key, value in pairs:
        name = f"{path}.{key}" if path and isinstance(key, str) else f"{path}[{key}]" if path else str(key)
        nested = isinstance(value, Mapping) or (isinstance(value, list | tuple) and _holds_tables(value))
        rows += flat(value, name) if nested else [(name, _plain_value(value))]
    return rows


def _holds_tables(values: Sequence[Any]) -> bool:
    return any(isinstance(value, Mapping) for value in values)


def _plain_value(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list | tuple):
        return ", ".join(_plain_value(v) for v in value)
    return "–" if value is None else str(value)


@cache
def _template(name: str) -> jinja2.Template:
    engine = jinja2.Environment(
        loader=jinja2.PackageLoader("labrum.reports", "assets"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    engine.filters["plain"] = plain
    return engine.get_template(name)
