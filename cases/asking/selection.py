"""Picks from a sweep the cases a question is about: fixes some of what was varied, and tells what still varies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labrum.cases.case_file.values import nearest
from labrum.cases.exits import CannotDo
from labrum.cases.sweeping.plan import SweepPlan
from labrum.cases.sweeping.runner import Row
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.measures.declaration import Measure

Setting = float | str


@dataclass(frozen=True)
class Group:
    """Cases alike in all but the keys a question is about; ``label`` tells the group from the others."""

    label: str
    rows: tuple[Row, ...]


def fixed(plan: SweepPlan, rows: Sequence[Row], wanted: Sequence[str]) -> list[Row]:
    """Keep the converged cases whose settings are those wanted, each written ``name=value``.

    Raises
    ------
    CannotDo
        For a name or a value that the sweep does not have.
    """
    kept = [row for row in rows if row.converged]
    for text in wanted:
        name, _, value = text.partition("=")
        if name not in plan.names:
            raise CannotDo(_unknown(f"--at {text}", name, plan.names))
        kept = [row for row in kept if _shown(row.member.settings[name]) == _shown(value)]
        if not kept:
            there = dict.fromkeys(_shown(row.member.settings[name]) for row in rows)
            raise CannotDo(f"--at {text}: no such case has a result; {name} was varied over {', '.join(there)}")
    return kept


def groups(rows: Sequence[Row], free: Sequence[str]) -> list[Group]:
    """Part the cases by all their settings but the free ones, in the order they come."""
    parted: dict[tuple[tuple[str, Setting], ...], list[Row]] = {}
    for row in rows:
        own = tuple((name, value) for name, value in row.member.settings.items() if name not in free)
        parted.setdefault(own, []).append(row)
    varied = {name for name, values in _values(rows).items() if len(values) > 1}
    return [
        Group(", ".join(_words(name, value) for name, value in own if name in varied), tuple(members))
        for own, members in parted.items()
    ]


def only_group(rows: Sequence[Row], free: Sequence[str]) -> list[Row]:
    """Return the cases if nothing but the free settings tells them apart.

    Raises
    ------
    CannotDo
        If something does, with how to fix it.
    """
    for name, values in _values(rows).items():
        if name not in free and len(values) > 1:
            choices = ", ".join(f'--at "{name}={value}"' for value in values)
            raise CannotDo(f"{name} varies too, and one picture shows one of its values; add one of: {choices}")
    return list(rows)


def conditions(plan: SweepPlan) -> list[str]:
    """Tell which of the names varied are no part of the rim: the lip, the load, the accuracy."""
    return [axis.name for axis in plan.axes if any(c.path[0] != "rim" for o in axis.options for c in o.changes)] + [
        span.name for span in plan.spans if span.path[0] != "rim"
    ]


def numeric(plan: SweepPlan, rows: Sequence[Row], name: str) -> list[float]:
    """Return one setting of each case as numbers.

    Raises
    ------
    CannotDo
        If it was not varied, or over words.
    """
    if name not in plan.names:
        raise CannotDo(_unknown(name, name, plan.names))
    values = [row.member.settings[name] for row in rows]
    if any(isinstance(value, str) for value in values):
        raise CannotDo(f"{name} was varied over words, and an axis needs numbers")
    return [float(value) for value in values]


def numeric_names(plan: SweepPlan, rows: Sequence[Row]) -> list[str]:
    """Names that take several values among the cases, all of them numbers."""
    values = {name: {row.member.settings[name] for row in rows} for name in plan.names}
    return [n for n, seen in values.items() if len(seen) > 1 and not any(isinstance(v, str) for v in seen)]


def measure_of(row: Row, name: str) -> float | None:
    """Return one measure as a number; None where it does not apply."""
    value = row.measures.get(name)
    return None if value is None else float(value)


def entry_of(name: str) -> Measure:
    """Return what a measure means; raises `CannotDo` for an unknown name, with the nearest."""
    if name not in CATALOGUE:
        raise CannotDo(_unknown(f"measure {name}", name, tuple(CATALOGUE)))
    return CATALOGUE[name]


def axis_words(name: str) -> str:
    """Write a varied key for an axis: ``rim.width_mm`` is width (mm)."""
    bare = name.rpartition(".")[2]
    base, _, unit = bare.rpartition("_")
    known = {"mm": "mm", "n": "N", "kpa": "kPa", "deg": "degrees"}
    return f"{base.replace('_', ' ')} ({known[unit]})" if unit in known else bare.replace("_", " ")


def _values(rows: Sequence[Row]) -> dict[str, list[Setting]]:
    seen: dict[str, dict[Setting, None]] = {}
    for row in rows:
        for name, value in row.member.settings.items():
            seen.setdefault(name, {})[value] = None
    return {name: list(values) for name, values in seen.items()}


def _words(name: str, value: Setting) -> str:
    if isinstance(value, str):
        return f"{value} {'lip' if name == 'lip.type' else name.rpartition('.')[2].replace('_', ' ')}"
    words = axis_words(name)
    base, bracket, unit = words.partition(" (")
    return f"{base} {value:g}{' ' + unit[:-1] if bracket else ''}"


def _shown(value: Setting) -> str:
    try:
        return f"{float(value):.9g}"
    except ValueError:
        return str(value)


def _unknown(asked: str, name: str, names: Sequence[str]) -> str:
    near = nearest(name, list(names))
    return f"{asked}: unknown{f', did you mean {near}?' if near else ''} There are: {', '.join(names)}"
