"""The axes of a plan: a list, an evenly spaced range or a set of named choices; or a range to be sampled."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.faults import Findings
from labrum.cases.case_file.toml_positions import KeyPath
from labrum.cases.case_file.values import Key, OneNumber, nearest, shown
from labrum.cases.sweeping.settings import Change, key_at, keys_of, read_changes, taken

MOST_ON_AXIS = 10_000
RANGE_KEYS = ("from", "to", "step", "count")
RANGE_ALLOWED = "a list of values, { from, to, step }, { from, to, count }, or { from, to } with a [sample]"


@dataclass(frozen=True)
class Option:
    """One place on an axis: how it is shown, and the changes that make it."""

    shown: float | str
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class Axis:
    """What is varied over options that are told apart."""

    name: str
    options: tuple[Option, ...]


@dataclass(frozen=True)
class Span:
    """A key varied without steps between two ends."""

    path: tuple[str, str]
    low: float
    high: float

    @property
    def name(self) -> str:
        """The key as written in a plan."""
        return ".".join(self.path)


def read_vary(raw: Any, findings: Findings) -> tuple[list[Axis], list[Span]]:
    """Read ``[vary]``: axes in the order of the file, and spans for a sample."""
    axes: list[Axis] = []
    spans: list[Span] = []
    for path, value in keys_of(raw, ("vary",), findings):
        place = ("vary", *path)
        key = key_at(path, value, place, findings)
        if key is None:
            continue
        if isinstance(value, dict):
            found = read_range(key, path, value, place, findings)
            values = found if isinstance(found, list) else None
            if isinstance(found, Span):
                spans.append(found)
        else:
            values = _listed(key, value, place, findings)
        if values is not None:
            axes.append(Axis(".".join(path), tuple(_option(path, v) for v in values)))
    return axes, spans


def read_choose(raw: Any, findings: Findings) -> list[Axis]:
    """Read ``[choose]``: each table in it is an axis, each table in that an option with changes of its own."""
    if not isinstance(raw, dict):
        findings.fault(("choose",), shown(raw), "tables of named choices", "[choose.contour]")
        return []
    axes = []
    for name, options in raw.items():
        place = ("choose", name)
        if not isinstance(options, dict) or not options:
            findings.fault(place, shown(options), "one or more named choices, each a table of keys of a case")
            continue
        read = [Option(label, read_changes(item, (*place, label), findings)) for label, item in options.items()]
        axes.append(Axis(name, tuple(read)))
    return axes


def _option(path: tuple[str, str], value: Any) -> Option:
    return Option(value if isinstance(value, float | str) else shown(value), (Change(path, value),))


def _listed(key: Key, value: Any, place: KeyPath, findings: Findings) -> list[Any] | None:
    if not isinstance(value, list) or not value:
        findings.fault(place, shown(value), RANGE_ALLOWED, "a single value stands in brackets: [5.0]")
        return None
    if len(value) > MOST_ON_AXIS:
        findings.fault(place, shown(value), f"at most {MOST_ON_AXIS} values")
        return None
    before = len(findings.faults)
    values = [taken(key, item, (*place, index), findings) for index, item in enumerate(value)]
    if len(findings.faults) > before:
        return None
    seen: set[str] = set()
    for index, item in enumerate(values):
        if (written := repr(item)) in seen:
            findings.fault((*place, index), shown(item), "each value once")
        seen.add(written)
    return values


def read_range(
    key: Key, path: tuple[str, str], raw: dict[str, Any], place: KeyPath, findings: Findings
) -> list[float] | Span | None:
    """Read a range: its values where it has steps, else a span; None where it has faults."""
    if not isinstance(key, OneNumber):
        findings.fault(place, "a range", f"a list: {key.name} is not a number")
        return None
    before = len(findings.faults)
    _note_strange_keys(raw, place, findings)
    ends = {name: _end(key, raw, name, place, findings) for name in ("from", "to")}
    numbers = [end for end in ends.values() if isinstance(end, float)]
    if len(numbers) == 2 and numbers[0] >= numbers[1]:
        findings.fault((*place, "to"), shown(numbers[1]), f"more than from, {numbers[0]:g}")
    if "step" in raw and "count" in raw:
        findings.fault((*place, "count"), "step and count", "one of the two")
    if len(findings.faults) > before:
        return None
    low, high = numbers
    if "step" in raw or "count" in raw:
        return _stepped(raw, low, high, place, findings)
    return Span(path, low, high)


def _note_strange_keys(raw: dict[str, Any], place: KeyPath, findings: Findings) -> None:
    for name in raw:
        if name not in RANGE_KEYS:
            near = nearest(name, RANGE_KEYS)
            hint = f"did you mean {near}?" if near else ""
            findings.fault((*place, name), "an unknown key", "one of " + ", ".join(RANGE_KEYS), hint)


def _end(key: OneNumber, raw: dict[str, Any], name: str, place: KeyPath, findings: Findings) -> float | None:
    here = (*place, name)
    if name not in raw:
        findings.fault(here, "nothing", key.allowed, "the key is missing")
        return None
    value = taken(key, raw[name], here, findings)
    if isinstance(value, str):
        findings.fault(here, shown(value), "a number, for a range", "name words in a list")
        return None
    return None if value is None else float(value)


def _stepped(
    raw: dict[str, Any], low: float, high: float, place: KeyPath, findings: Findings
) -> list[float] | None:
    if "count" in raw:
        count = raw["count"]
        if not isinstance(count, int) or isinstance(count, bool) or not 2 <= count <= MOST_ON_AXIS:
            findings.fault((*place, "count"), shown(count), f"a whole number from 2 to {MOST_ON_AXIS}")
            return None
        step = (high - low) / (count - 1)
        return [_tidy(low + step * index) for index in range(count)]
    step = raw["step"]
    if not isinstance(step, int | float) or isinstance(step, bool) or not math.isfinite(step) or step <= 0:
        findings.fault((*place, "step"), shown(step), "a number above 0")
        return None
    steps = math.floor((high - low) / step * (1 + 1e-9))
    if not 1 <= steps < MOST_ON_AXIS:
        findings.fault((*place, "step"), shown(step), f"a step that fits 1 to {MOST_ON_AXIS - 1} times")
        return None
    return [_tidy(low + step * index) for index in range(steps + 1)]


def _tidy(value: float) -> float:
    """Take off the last digits, where 4.0 + 3 * 0.1 shows how a computer counts."""
    return float(f"{value:.12g}")
