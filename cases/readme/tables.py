"""The README's tables: how each is written, and how it is put in its place."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from labrum.cases.readme.rules import BORNE_OUT, NOT_BORNE_OUT, Rule
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.measures.declaration import Better, Measure

BEGIN = "<!-- {} : written by python -m labrum.cases.readme -->"
END = "<!-- end -->"
WAYS = {Better.LESS: "less", Better.MORE: "more", Better.NEITHER: ""}
DIGITS = 4

RuleNumbers = Mapping[str, tuple[float, float]]
"""The measure of both cases of each rule, by what the rule says."""


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


def readme_tables(numbers: RuleNumbers) -> tuple[ReadmeTable, ...]:
    """Write every table, the rules with these ``numbers``."""
    return (
        ReadmeTable("measures", _measure_lines()),
        ReadmeTable("rules borne out", _rule_lines(BORNE_OUT, numbers)),
        ReadmeTable("rules not borne out", _rule_lines(NOT_BORNE_OUT, numbers)),
    )


def written_into(text: str, numbers: RuleNumbers) -> str:
    """Put every table into the README's ``text``; raises `TableNotFound`."""
    for table in readme_tables(numbers):
        text = table.put_into(text)
    return text


def _measure_lines() -> tuple[str, ...]:
    rows = [(f"`{m.name}`", m.meaning, WAYS[m.better], m.absent) for m in CATALOGUE.values()]
    return _table(("name", "meaning", "better", "`null` where"), rows)


def _rule_lines(rules: Sequence[Rule], numbers: RuleNumbers) -> tuple[str, ...]:
    rows = [_rule_row(rule, CATALOGUE[rule.measure], *numbers[rule.says]) for rule in rules]
    return _table(("rule", "pair of cases", "number", "from → to", "change"), rows)


def _rule_row(rule: Rule, measure: Measure, first: float, second: float) -> tuple[str, ...]:
    values = f"{shown_number(first)} → {shown_number(second)} {measure.typeset_unit}".rstrip()
    return rule.says, rule.pair(), measure.label, values, f"× {second / first:#.3g}"


def shown_number(value: float) -> str:
    """Write a rule's number: four digits."""
    return f"{value:#.{DIGITS}g}".rstrip(".")


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> tuple[str, ...]:
    return (_line(head), _line(["---"] * len(head)), *(_line(row) for row in rows))


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def kept_numbers() -> RuleNumbers:
    """Read the rules' numbers as they were last solved."""
    kept: dict[str, list[float]] = json.loads(kept_place().read_text(encoding="utf-8"))
    return {says: (first, second) for says, (first, second) in kept.items()}


def keep_numbers(numbers: RuleNumbers) -> None:
    """Keep the rules' numbers, to six digits."""
    rounded = {says: [float(f"{value:.6g}") for value in pair] for says, pair in numbers.items()}
    kept_place().write_text(json.dumps(rounded, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def kept_place() -> Path:
    """Return the file that keeps them, beside this module."""
    return Path(str(files("labrum.cases.readme").joinpath("rule_numbers.json")))
