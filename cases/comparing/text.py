"""A comparison as a person reads it: a column a rim, marks where rims differ, and each pair's conclusions."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from labrum.cases.comparing.result import Compared, unlike
from labrum.cases.solving.result import measured, written_error
from labrum.cases.solving.robust import conclusion_lines, explanation, unsolved_lines
from labrum.cases.solving.screen import WIDTH, bold, written_cell
from labrum.simulate.conclusions.measure_errors import higher
from labrum.simulate.measures.catalogue import CATALOGUE, GROUPS, groups_of
from labrum.simulate.measures.declaration import Measure

LETTERS = "ABCDEF"
HIGHER, LOWER, WITHIN, OTHER = "^", "v", "=", "!"
LEGEND = (
    f"{HIGHER} {LOWER} higher, lower than A by more than the two errors together; {WITHIN} not told apart; "
    f"{OTHER} another answer; +- the largest of the rims' errors."
)


def comparison_text(compared: Sequence[Compared], found: dict[str, Any], robust: bool, colour: bool = False) -> str:
    """Lay out the table and, with ``robust``, what each pair's differences are worth."""
    lines = [bold(f"{len(compared)} rims side by side", colour), *_names(compared)]
    if "held" in found:
        forces = ", ".join("-" if rim.outcome is None else f"{rim.outcome.force_n:.4g}" for rim in compared)
        lines += textwrap.wrap(f"held: {found['held']} (forces {forces} N)", WIDTH, initial_indent="  ")
    for text in unlike([rim.name for rim in compared], [rim.case for rim in compared]):
        lines += textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
    told = [rim.outcome.measures for rim in compared if rim.outcome is not None]
    for heading, entries in groups_of(*told):
        lines += ["", bold(heading, colour)]
        if heading == GROUPS[0][0]:
            lines.append(_line("", [(letter, "") for letter in LETTERS[: len(compared)]], ""))
        for entry in entries:
            lines.append(_row(entry, compared))
    lines += ["", *textwrap.wrap(LEGEND, WIDTH)]
    return "\n".join([*lines, *(_survival(found, colour) if robust else [])])


def _names(compared: Sequence[Compared]) -> list[str]:
    wide = max(len(rim.name) for rim in compared)
    stopped = {True: "", False: "  (no result)"}
    return [
        f"  {letter}  {rim.name:<{wide}}  {rim.case.problem.title}{stopped[rim.outcome is not None]}"
        for letter, rim in zip(LETTERS, compared, strict=False)
    ]


def _row(entry: Measure, compared: Sequence[Compared]) -> str:
    cells = [_cell(entry.name, rim, compared[0]) for rim in compared]
    errors = [e for rim in compared if rim.outcome and (e := rim.outcome.measures.errors.get(entry.name)) is not None]
    return _line(entry.label, cells, entry.unit, written_error(max(errors, default=None)))


def _cell(name: str, rim: Compared, first: Compared) -> tuple[str, str]:
    if rim.outcome is None:
        return "-", ""
    value = measured(rim.outcome.measures)[name]
    return written_cell(value), "" if rim is first or first.outcome is None else _mark(name, rim, first)


def _mark(name: str, rim: Compared, first: Compared) -> str:
    assert rim.outcome is not None
    assert first.outcome is not None
    here, there = rim.outcome.measures, first.outcome.measures
    a, b = getattr(here, name), getattr(there, name)
    if a is None or b is None:
        return ""
    if CATALOGUE[name].fact:
        return OTHER if bool(a) != bool(b) else WITHIN
    return {None: WITHIN, True: HIGHER, False: LOWER}[higher(here, there, name)]


def _line(label: str, cells: Sequence[tuple[str, str]], unit: str, error: str = "") -> str:
    doubt = f"+-{error}" if error else ""
    return f"  {label:<19}{''.join(f'{value:>10} {mark:<1}' for value, mark in cells)} {unit:<7} {doubt}".rstrip()


def _survival(found: dict[str, Any], colour: bool) -> list[str]:
    lips = found["rims"][0]["lips"]
    lines = ["", bold("Which differences survive another lip", colour), *explanation(lips)]
    for pair in found["pairs"]:
        lines += ["", bold(f"{pair['first']} and {pair['second']}", colour)]
        for row in pair["conclusions"]:
            lines += conclusion_lines(row)
    for rim in found["rims"]:
        lines += [f"  {rim['name']}, {line.strip()}" for line in unsolved_lines(rim["lips"])]
    return lines
