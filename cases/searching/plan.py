"""Reads the plan of a search: every fault in one pass, each with its line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case, asking_off_axis
from labrum.cases.case_file.faults import Findings
from labrum.cases.case_file.schema import KeyTable
from labrum.cases.case_file.tables import read_table
from labrum.cases.case_file.toml_positions import KeyPath
from labrum.cases.case_file.values import Choice, Presence, Text, nearest, shown
from labrum.cases.case_file.whole_numbers import Whole
from labrum.cases.searching.goals import Bound
from labrum.cases.sweeping.axes import Span, read_vary
from labrum.cases.sweeping.plan import HEAD, MISPLACED, base_case, changed_paths, plan_text, variable
from labrum.cases.sweeping.settings import Change, read_changes
from labrum.simulate.measures.catalogue import CATALOGUE, OFF_AXIS

COBYQA, EVOLUTION = "cobyqa", "evolution"
WANTS = ("minimise", "maximise", "match")
SEARCH_TOP = KeyTable(
    "search",
    (*HEAD, Text("minimise", default=Presence.OPTIONAL), Text("maximise", default=Presence.OPTIONAL)),
    ("set", "vary", "limits", "match", "effort"),
    MISPLACED,
)
EFFORT = KeyTable(
    "effort",
    (
        Whole("solves", 4, 100_000, default=60),
        Whole("first", 1, 4096, default=8),
        Whole("seed", 0, 2**31, default=0),
        Choice("method", (COBYQA, EVOLUTION), default=COBYQA),
    ),
)
MATCH = KeyTable("match", (Text("case"),), ("measures",))
FELT = ("felt_diameter_mm", "bearing_area_mm2", "peak_pressure_kpa")
ENDS = ("least", "most", "equals", "within")


@dataclass(frozen=True)
class SearchEffort:
    """How much may be solved, ``first`` of it spread over the space; how, and from which seed."""

    solves: int
    first: int
    seed: int
    method: str


@dataclass(frozen=True)
class Matched:
    """A case to be matched, and in what."""

    case: Case
    measures: tuple[str, ...]


@dataclass(frozen=True)
class SearchPlan:
    """What is varied about a base with some keys set, within which limits, and what is wanted.

    ``wanted`` is (measure, 1 for the least or -1 for the most), or None where a ``model`` is to be matched.
    ``remark`` says where a traced base stands in for itself by its dimensions.
    """

    title: str
    base: Case
    settled: tuple[Change, ...]
    spans: tuple[Span, ...]
    bounds: tuple[Bound, ...]
    wanted: tuple[str, float] | None
    model: Matched | None
    effort: SearchEffort
    remark: str = ""


def read_search(place: Path) -> SearchPlan:
    """Read a search's file.

    Raises
    ------
    InvalidCase
        With every fault found, those of the cases it names included.
    """
    text = plan_text(place)
    raw, findings = text.raw, Findings()
    head = read_table(SEARCH_TOP, raw, (), findings)
    base = base_case(head, text, findings)
    settled = read_changes(raw.get("set", {}), ("set",), findings)
    axes, spans = read_vary(raw.get("vary", {}), findings)
    for axis in axes:
        path = axis.options[0].changes[0].path
        findings.fault(("vary", *path), "steps", "a range { from, to }: a search goes between the steps")
    if not axes and not spans:
        findings.fault(("vary",), "nothing to vary", "one or more ranges { from, to }")
    bounds = _bounds(raw.get("limits", {}), findings)
    wanted = _wanted(raw, findings)
    measures = _match_measures(raw["match"], findings) if "match" in raw else ()
    effort = read_table(EFFORT, raw.get("effort", {}), ("effort",), findings)
    text.refuse_faulty(findings)
    assert base is not None
    names = {*measures, *(bound.measure for bound in bounds), *([] if wanted is None else wanted[:1])}
    base = _asked(base, names)
    model = Matched(_asked(_model(raw["match"], text), names), measures) if "match" in raw else None
    title = head.get("title", place.stem)
    paths = changed_paths(axes, spans) | {change.path for change in settled}
    base, remark = variable(base, paths, head["case"])
    return SearchPlan(title, base, settled, tuple(spans), bounds, wanted, model, SearchEffort(**effort), remark)


def _asked(case: Case, names: set[str]) -> Case:
    """The case, asked what a tilt and a shift do where one of the measures named lies off the axis."""
    return asking_off_axis(case) if any(CATALOGUE[name].heading == OFF_AXIS for name in names) else case


def _model(raw: dict[str, Any], text: Any) -> Case:
    case = base_case({"case": raw["case"]}, text, Findings())
    assert case is not None
    return case


def _wanted(raw: dict[str, Any], findings: Findings) -> tuple[str, float] | None:
    given = [name for name in WANTS if name in raw]
    if len(given) != 1:
        got = " and ".join(given) or "nothing"
        findings.fault((given[1] if given else "minimise",), got, "one of " + ", ".join(WANTS))
        return None
    name = given[0]
    if name == "match":
        return None
    measure = _measure(raw[name], (name,), findings)
    return None if measure is None else (measure, 1.0 if name == "minimise" else -1.0)


def _measure(name: Any, place: KeyPath, findings: Findings) -> str | None:
    if isinstance(name, str) and name in CATALOGUE:
        return name
    near = nearest(name, tuple(CATALOGUE)) if isinstance(name, str) else None
    findings.fault(place, shown(name), "the name of a measure", f"did you mean {near}?" if near else "")
    return None


def _match_measures(raw: Any, findings: Findings) -> tuple[str, ...]:
    read_table(MATCH, raw, ("match",), findings)
    names = raw.get("measures", list(FELT)) if isinstance(raw, dict) else []
    if not isinstance(names, list) or not names:
        findings.fault(("match", "measures"), shown(names), "a list of measures")
        return ()
    read = [_measure(name, ("match", "measures", index), findings) for index, name in enumerate(names)]
    return tuple(name for name in read if name is not None)


def _bounds(raw: Any, findings: Findings) -> tuple[Bound, ...]:
    if not isinstance(raw, dict):
        findings.fault(("limits",), shown(raw), "a table of measures", "peak_pressure_kpa = { most = 80.0 }")
        return ()
    read = [_bound(name, ends, findings) for name, ends in raw.items()]
    return tuple(bound for bound in read if bound is not None)


def _bound(name: str, raw: Any, findings: Findings) -> Bound | None:
    place = ("limits", name)
    measure = _measure(name, place, findings)
    allowed = "{ least }, { most }, both, or { equals, within }"
    ends = raw if isinstance(raw, dict) else {}
    good = {key: float(v) for key, v in ends.items() if key in ENDS and _is_number(v)}
    if good.keys() != ends.keys() or not good.keys() & {"least", "most", "equals"}:
        findings.fault(place, shown(raw) if not ends else ", ".join(ends), f"{allowed}, each a number")
        return None
    if ("equals" in good) != ("within" in good) or ("equals" in good and good.keys() & {"least", "most"}):
        findings.fault(place, ", ".join(good), allowed)
        return None
    if measure is None:
        return None
    least, most = good.get("least", -math.inf), good.get("most", math.inf)
    if "equals" in good:
        least = most = good["equals"]
    if least > most or good.get("within", 1.0) <= 0:
        findings.fault(place, ", ".join(f"{k} = {v:g}" for k, v in good.items()), "least below most, within above 0")
    return Bound(measure, least, most, good.get("within", 0.0))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
