"""Reads the plan of a sweep: every fault in one pass, each with its line."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, Findings, InvalidCase
from labrum.cases.case_file.reading import file_tables, read_case
from labrum.cases.case_file.schema import RIM_FORMS, KeyTable
from labrum.cases.case_file.tables import read_table
from labrum.cases.case_file.toml_positions import KeyPath, line_of
from labrum.cases.case_file.values import Exactly, Key, Presence, Text, shown
from labrum.cases.case_file.whole_numbers import Whole
from labrum.cases.dimensioning.traced_case import in_dimensions, needs_dimensions
from labrum.cases.places import is_file, trouble_with
from labrum.cases.sweeping.axes import Axis, Span, read_choose, read_vary
from labrum.cases.sweeping.settings import anchored
from labrum.meshes.faults import Fault

PLAN_SCHEMA = 1
MOST_CASES = 50_000
HEAD: tuple[Key, ...] = (Exactly("schema", PLAN_SCHEMA), Text("title", default=Presence.OPTIONAL), Text("case"))
MISPLACED = {name: f"what a plan changes of it stands in [vary] as {name}.…" for name in ("rim", "lip", "load")}
PLAN_TOP = KeyTable("plan", HEAD, ("vary", "choose", "sample"), MISPLACED)
SAMPLE = KeyTable("sample", (Whole("points", 2, 65536), Whole("seed", 0, 2**31, default=0)))


@dataclass(frozen=True)
class Sample:
    """A space-filling sample: how many points, and the seed that scrambles them."""

    points: int
    seed: int


@dataclass(frozen=True)
class SweepPlan:
    """What a sweep varies about its base: every option of every axis with every point of the sample over the spans.

    ``remark`` says where a traced or drawn base stands in for itself by its dimensions.
    """

    title: str
    base: Case
    axes: tuple[Axis, ...]
    spans: tuple[Span, ...]
    sample: Sample | None
    remark: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """What is varied, in the order of the file, spans last."""
        return tuple(axis.name for axis in self.axes) + tuple(span.name for span in self.spans)

    @property
    def count(self) -> int:
        """How many cases the plan has."""
        return math.prod(len(axis.options) for axis in self.axes) * (self.sample.points if self.sample else 1)


@dataclass(frozen=True)
class PlanText:
    """A plan's tables and the means to tell a fault's line; ``folder`` is where its paths count from."""

    file: str
    folder: Path
    raw: dict[str, Any]
    lines: dict[KeyPath, int]

    def refuse_faulty(self, findings: Findings) -> None:
        """Raise `InvalidCase` with every fault found, if any, in the order of the file."""
        placed = [CaseFault(self.file, line_of(self.lines, path), fault) for path, fault in findings.faults]
        if placed:
            raise InvalidCase(tuple(sorted(placed, key=lambda fault: fault.line or 0)))


def read_plan(place: Path) -> SweepPlan:
    """Read a plan's file.

    Raises
    ------
    InvalidCase
        With every fault found, those of the base case included.
    """
    text = plan_text(place)
    findings = Findings()
    head = read_table(PLAN_TOP, text.raw, (), findings)
    base = base_case(head, text, findings)
    axes, spans = read_vary(text.raw.get("vary", {}), findings)
    axes += read_choose(text.raw.get("choose", {}), findings)
    sample = _sample(text.raw, spans, findings)
    _note_clashes(axes, spans, findings)
    text.refuse_faulty(findings)
    assert base is not None
    base, remark = variable(base, changed_paths(axes, spans), head["case"])
    plan = SweepPlan(head.get("title", place.stem), base, tuple(axes), tuple(spans), sample, remark)
    if plan.count > MOST_CASES:
        findings.fault(("vary",), f"{plan.count} cases", f"at most {MOST_CASES}")
        text.refuse_faulty(findings)
    return plan


def changed_paths(axes: Sequence[Axis], spans: Sequence[Span]) -> set[tuple[str, str]]:
    """Every key that axes and spans change."""
    stepped = {change.path for axis in axes for option in axis.options for change in option.changes}
    return stepped | {span.path for span in spans}


def variable(base: Case, paths: Iterable[tuple[str, str]], named: str) -> tuple[Case, str]:
    """Say a base without dimensions in such where some of ``paths`` are, with the remark that says so; else leave it.

    Raises
    ------
    InvalidCase
        If no dimensions say that rim; ``named`` is how the plan names it.
    """
    paths = set(paths)
    if any(table == "rim" and name in RIM_FORMS for table, name in paths) or not needs_dimensions(base, paths):
        return base, ""
    found = in_dimensions(base, named)
    return found.case, found.words


def plan_text(place: Path) -> PlanText:
    """Parse a plan's file; raises `InvalidCase` where that cannot be done."""
    if got := trouble_with(place):
        raise InvalidCase((CaseFault(str(place), None, Fault("file", got, "a readable TOML file")),))
    raw, lines = file_tables(place)
    return PlanText(str(place), place.parent, raw, lines)


def base_case(head: dict[str, Any], text: PlanText, findings: Findings, key: str = "case") -> Case | None:
    """Read the case that ``head[key]`` names; its faults are raised at once, being another file's."""
    if key not in head:
        return None
    named = Path(head[key])
    beside = text.folder / named
    return anchored(read_case(str(beside) if is_file(beside) or named.suffix else str(named)))


def _sample(raw: dict[str, Any], spans: list[Span], findings: Findings) -> Sample | None:
    if "sample" not in raw:
        for span in spans:
            hint = "add step or count; or a table [sample] with points"
            findings.fault(("vary", *span.path), "a range without steps", "a range with step or count", hint)
        return None
    values = read_table(SAMPLE, raw["sample"], ("sample",), findings)
    points = values.get("points")
    if points is not None and points & (points - 1):
        near = 2 ** round(math.log2(points))
        allowed = "a power of two: only then does the sample fill the space evenly"
        findings.fault(("sample", "points"), shown(points), allowed, f"take {near}")
    if not spans:
        findings.fault(("sample",), "nothing to sample", "one or more { from, to } in [vary]")
    return Sample(points, values["seed"]) if points is not None and "seed" in values else None


def _note_clashes(axes: list[Axis], spans: list[Span], findings: Findings) -> None:
    if not axes and not spans:
        findings.fault(("vary",), "nothing to vary", "one or more keys in [vary] or [choose]")
    seen: dict[tuple[str, str], str] = {span.path: span.name for span in spans}
    for axis in axes:
        paths = {change.path for option in axis.options for change in option.changes}
        for path in sorted(paths & seen.keys()):
            place: KeyPath = ("vary", *path) if axis.name == ".".join(path) else ("choose", axis.name)
            findings.fault(place, ".".join(path), f"a key changed once: {seen[path]} changes it too")
        seen |= dict.fromkeys(paths, axis.name)
