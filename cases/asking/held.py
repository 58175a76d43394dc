"""What a sweep's figure says it rests on: the lip, the force, and what of the rim was held fixed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from labrum.cases.asking.selection import axis_words
from labrum.cases.sweeping.plan import SweepPlan
from labrum.cases.sweeping.runner import Row

SPELT = ("width_mm", "inner_diameter_mm", "high_point", "bite_radius_mm", "inner_crown_radius_mm",
         "outer_crown_radius_mm", "shoulder_radius_mm", "cup_wall_angle_deg")  # fmt: skip
"""Dimensions of a rim that are told, in this order; the cup's depth moves no number but its own clearance."""


def held_words(plan: SweepPlan, rows: Sequence[Row]) -> str:
    """Write the lip, the load and the rim's dimensions that all of the rows share, and name what varies among them."""
    alike, unlike = _settings(rows)
    owned = {path for name in [*alike, *unlike] for path in _paths(plan, name)}
    lip = [_lip(plan, alike, unlike), *_load(plan, owned, alike)]
    rim = [f"{_bare(n)} {_value(v)}{_unit(n)}" for n, v in alike.items() if n.startswith("rim.")]
    rim += [f"{name} {_value(value)}" for name, value in alike.items() if "." not in name]
    rim += [words for key, words in _rim(plan) if ("rim", key) not in owned]
    said = ", ".join(part for part in lip if part)
    return f"{said[0].upper()}{said[1:]}. Held fixed: {', '.join(rim) or 'nothing of the rim'}."


def _settings(rows: Sequence[Row]) -> tuple[dict[str, Any], list[str]]:
    """Settings that all rows share, and the names of those they do not."""
    first = rows[0].member.settings
    alike = {name: v for name, v in first.items() if all(row.member.settings[name] == v for row in rows)}
    return alike, [name for name in first if name not in alike]


def _paths(plan: SweepPlan, name: str) -> list[tuple[str, ...]]:
    """The keys of a case that a name of the plan sets."""
    axes = [tuple(c.path) for axis in plan.axes if axis.name == name for o in axis.options for c in o.changes]
    return axes + [tuple(span.path) for span in plan.spans if span.name == name]


def _lip(plan: SweepPlan, alike: dict[str, Any], unlike: Sequence[str]) -> str:
    if any(path[0] == "lip" for name in unlike for path in _paths(plan, name)):
        return "lips as named"
    preset = alike.get("lip.type") or (plan.base.presets or {}).get("lip")
    others = [f"{_bare(n)} {_value(v)}" for n, v in alike.items() if n.startswith("lip.") and n != "lip.type"]
    return ", ".join([f"{preset} lip" if preset else "a lip of its own layers", *others])


def _load(plan: SweepPlan, owned: set[tuple[str, ...]], alike: dict[str, Any]) -> Iterator[str]:
    load = dict(plan.base.resolved["load"])
    load |= {name.partition(".")[2]: value for name, value in alike.items() if name.startswith("load.")}
    said = {path[-1] for path in owned if path[0] == "load"} - {n.partition(".")[2] for n in alike}
    for key, words in (("force_n", "{:g} N"), ("mean_pressure_kpa", "at a mean pressure of {:g} kPa"),
                       ("friction", "friction {:g}"), ("muscle_activation", "muscle {:g} active")):  # fmt: skip
        if key in load and key not in said and load[key]:
            yield words.format(load[key])


def _rim(plan: SweepPlan) -> Iterator[tuple[str, str]]:
    rim = plan.base.resolved["rim"]
    for key in SPELT:
        if key in rim:
            yield key, f"{_bare('rim.' + key)} {_value(rim[key])}{_unit(key)}"


def _bare(name: str) -> str:
    return axis_words(name).partition(" (")[0]


def _unit(key: str) -> str:
    return " mm" if key.endswith("_mm") else "°" if key.endswith("_deg") else ""


def _value(value: Any) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)
