"""The README's tables: how each is written, and how it is put in its place."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labrum.cases.readme.findings import Finding, Findings
from labrum.cases.readme.rules import BORNE_OUT, NOT_BORNE_OUT, Rule
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.measures.declaration import Better, Measure

BEGIN = "<!-- {} : written by python -m labrum.cases.readme -->"
END = "<!-- end -->"
WAYS = {Better.LESS: "less", Better.MORE: "more", Better.NEITHER: ""}
DIGITS = 4


class TableNotFound(ValueError):
    """A text that has no place for a table."""


@dataclass(frozen=True)
class ReadmeTable:
    """A table of the README: ``name`` marks its place, ``lines`` are its Markdown."""

    name: str
    lines: tuple[str, ...]

    def put_into(self, text: str) -> str:
        """Replace what stands between the marks; raises `TableNotFound` where they are missing."""
        begin = BEGIN.format(self.name)
        block = "\n".join([begin, "", *self.lines, "", END])
        made, count = re.subn(f"{re.escape(begin)}.*?{re.escape(END)}", lambda _: block, text, count=1, flags=re.S)
        if count == 0:
            raise TableNotFound(f"no line {begin}")
        return made


def readme_tables(findings: Findings) -> tuple[ReadmeTable, ...]:
    """Write every table, the rules with these ``findings``."""
    return (
        ReadmeTable("measures", _measure_lines()),
        ReadmeTable("rules borne out", _rule_lines(BORNE_OUT, findings)),
        ReadmeTable("rules not borne out", _rule_lines(NOT_BORNE_OUT, findings)),
    )


def written_into(text: str, findings: Findings) -> str:
    """Put every table into the README's ``text``; raises `TableNotFound`."""
    for table in readme_tables(findings):
        text = table.put_into(text)
    return text


def _measure_lines() -> tuple[str, ...]:
    rows = [(f"`{m.name}`", m.meaning, WAYS[m.better], m.absent) for m in CATALOGUE.values()]
    return _table(("name", "meaning", "better", "`null` where"), rows)


def _rule_lines(rules: Sequence[Rule], findings: Findings) -> tuple[str, ...]:
    rows = [_rule_row(rule, CATALOGUE[rule.measure], findings[rule.says]) for rule in rules]
    return _table(("rule", "pair of cases", "number", "from → to", "change", "lips"), rows)


def _rule_row(rule: Rule, measure: Measure, found: Finding) -> tuple[str, ...]:
    values = f"{shown_number(found.first)} → {shown_number(found.second)} {measure.typeset_unit}".rstrip()
    change = f"× {found.second / found.first:#.3g} ± {found.ratio_error:.1g}"
    return rule.says, rule.pair(), measure.label, values, change, f"{found.holds} of {found.of}"


def shown_number(value: float) -> str:
    """Write a rule's number: four digits."""
    return f"{value:#.{DIGITS}g}".rstrip(".")


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> tuple[str, ...]:
    return (_line(head), _line(["---"] * len(head)), *(_line(row) for row in rows))


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"
