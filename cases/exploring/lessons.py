"""The lessons: short stories about two or three prepared rims, read from the files that ship with the package."""

from __future__ import annotations

import copy
import math
import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from labrum.cases.case_file.reading import read_case
from labrum.cases.exploring.tables import case_from_page, tables_of
from labrum.meshes.gauges.readings import CONVENTIONS, diameters
from labrum.simulate.measures.catalogue import CATALOGUE

LESSON_CAUTION = (
    "An idealised lip with an assumed stiffness: compare the rims with each other rather than trust one number. "
    "The rims are invented. No pressure here is a limit of safety or of comfort."
)
WHO = ("the first", "the second", "the third", "the fourth", "the fifth")


@cache
def _lessons() -> dict[str, dict[str, Any]]:
    shipped = (item for item in files("labrum.cases").joinpath("lessons").iterdir() if item.name.endswith(".toml"))
    read = {item.name.removesuffix(".toml"): tomllib.loads(item.read_text(encoding="utf-8")) for item in shipped}
    return dict(sorted(read.items(), key=lambda pair: int(pair[1]["order"])))


def lesson_names() -> tuple[str, ...]:
    """Names of the lessons, in the order they are told."""
    return tuple(_lessons())


def lessons_index() -> list[dict[str, str]]:
    """Name, title and summary of every lesson."""
    return [{"name": name, "title": raw["title"], "summary": raw["summary"]} for name, raw in _lessons().items()]


def lesson_claims(name: str) -> list[dict[str, Any]]:
    """Return what a lesson claims of its numbers, beyond their errors: a measure, at which stops, and what of it.

    Which rim has ``more`` and which ``less``, in which rim it ``grows`` or ``falls`` from stop to stop, or which two
    are ``alike`` within so much.
    """
    return list(_lessons()[name].get("claim", ()))


@cache
def lesson_data(name: str) -> dict[str, Any]:
    """Return a lesson as its page holds it, each rim with the tables of its case at every stop of the slider.

    Raises
    ------
    KeyError
        Where there is no lesson of that name.
    """
    raw = _lessons()[name]
    cases = [
        {**{key: case[key] for key in ("name", "words")}, "tables": _tables(raw, case)} for case in raw["case"]
    ]
    page = {key: raw[key] for key in ("title", "summary", "story", "look", "knob")}
    readings = {"title": raw["readings"], "rows": _readings(raw)} if "readings" in raw else None
    return {**page, "name": name, "cases": cases, "measures": _measures(raw["measures"]), "readings": readings,
            "caution": LESSON_CAUTION}  # fmt: skip


def _tables(raw: dict[str, Any], case: dict[str, Any]) -> list[dict[str, Any]]:
    """Build the case at every stop: the base, what this rim changes, what the slider sets."""
    table, key = raw["knob"]["key"].split(".")
    base = tables_of(read_case(raw["base"]))
    made = []
    for value in raw["knob"]["values"]:
        tables = copy.deepcopy(base)
        tables["title"] = f"{raw['title']}: {case['name']}"
        for changed in ("rim", "lip", "load"):
            tables[changed] |= case.get(changed, {})
        tables[table][key] = value
        made.append(tables)
    return made


def _measures(names: list[str]) -> list[list[str]]:
    return [[name, CATALOGUE[name].label, CATALOGUE[name].unit] for name in names]


def _readings(raw: dict[str, Any]) -> list[dict[str, Any]]:
    """Read every rim by the five conventions; the slider changes the load, not the rim."""
    rims = [case_from_page(_tables(raw, case)[0]).problem.rim for case in raw["case"]]
    read = [diameters(rim) for rim in rims]
    return [
        {"who": who, "how": convention.definition, "values": [_written(one[convention.name]) for one in read]}
        for who, convention in zip(WHO, CONVENTIONS, strict=True)
    ]


def _written(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.2f}"
