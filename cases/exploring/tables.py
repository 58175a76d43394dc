"""A case as the page holds it: tables to turn knobs on, and the TOML text they are saved as."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.case_file.reading import case_from_table, case_from_text
from labrum.cases.case_file.schema import OFF_AXIS, SCHEMA
from labrum.meshes.faults import Fault

PAGE = "this page"
TABLES_KEPT = ("load", "accuracy", "readings")


def tables_of(case: Case) -> dict[str, Any]:
    """Return a case's tables with defaults filled in, a library lip by its name, a trace as the outline it gave.

    Raises
    ------
    InvalidCase
        Where the case's force is not given, but found: the page turns the force.
    """
    resolved = case.resolved
    if case.problem.load.aim is not None:
        name = case.problem.load.aim.measure
        raise _refused(PAGE, f"load.{name}", f"{resolved['load'][name]:g}", "force_n, which the page turns")
    rim = {"outline_mm": case.problem.rim.curve.vertices.tolist()} if "trace" in resolved["rim"] else resolved["rim"]
    lip = dict(resolved["lip"])
    if "lip" in case.presets:
        del lip["layer"]
        lip["type"] = case.presets["lip"]
    kept = {name: resolved[name] for name in (*TABLES_KEPT, OFF_AXIS.name) if name in resolved}
    return {"schema": SCHEMA, "title": resolved["title"], "rim": rim, "lip": lip, **kept}


def case_from_page(tables: Any) -> Case:
    """Read the tables a page sent.

    Raises
    ------
    InvalidCase
        With every fault found.
    """
    if not isinstance(tables, dict):
        raise _refused(PAGE, "case", "no tables", "the tables of a case")
    if isinstance(tables.get("rim"), dict) and "trace" in tables["rim"]:
        raise _refused(PAGE, "rim.trace", "a file's name", "an outline, which loading a trace gives")
    return case_from_table(tables, PAGE)


def opened(name: str, text: str, files: Mapping[str, str], folder: Path) -> Case:
    """Read a case file that was opened in the page, with the files opened beside it.

    Only those files can be drawn on: a case that came through a page must not reach for others on this machine.

    Raises
    ------
    InvalidCase
        With every fault found.
    """
    trace = _trace_named_in(text)
    if trace is not None:
        beside = {Path(other).name: content for other, content in files.items()}
        place, inside = Path(trace), not Path(trace).is_absolute() and ".." not in Path(trace).parts
        if place.name not in beside or not inside:
            hint = "open the case file and its trace together"
            raise _refused(name, "rim.trace", f"{trace}, which was not opened", "a file opened with the case", hint)
        (folder / place.parent).mkdir(parents=True, exist_ok=True)
        (folder / place).write_text(beside[place.name], encoding="utf-8")
    return case_from_text(text, name, folder)


def _trace_named_in(text: str) -> str | None:
    """Return the trace a case names; None where it names none, or cannot be read, which reading it will tell."""
    try:
        rim = tomllib.loads(text).get("rim")
    except (ValueError, RecursionError):
        return None
    trace = rim.get("trace") if isinstance(rim, dict) else None
    return trace if isinstance(trace, str) and trace.strip() else None


def _refused(file: str, key: str, got: str, allowed: str, hint: str = "") -> InvalidCase:
    return InvalidCase((CaseFault(file, None, Fault(key, got, allowed, hint)),))


def case_toml(case: Case) -> str:
    """Write a case as the text of a case file that reads back as the same case."""
    tables = tables_of(case)
    lines = [f"schema = {SCHEMA}", f"title = {toml_value(tables['title'])}"]
    for name in (name for name, table in tables.items() if isinstance(table, dict)):
        lines += ["", f"[{name}]", *_pairs(tables[name])]
        for layer in tables[name].get("layer", []):
            lines += ["", "[[lip.layer]]", *_pairs(layer)]
    return "\n".join(lines) + "\n"


def _pairs(table: Mapping[str, Any]) -> list[str]:
    return [f"{key} = {toml_value(value)}" for key, value in table.items() if key != "layer"]


def toml_value(value: Any) -> str:
    """Write a text, a number, a truth or a list as TOML does."""
    if isinstance(value, str):
        # JSON's escapes are TOML's, but TOML wants DEL escaped too.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list) and value and isinstance(value[0], list):
        return "[\n" + "".join(f"  {toml_value(row)},\n" for row in value) + "]"
    if isinstance(value, list):
        return "[" + ", ".join(toml_value(item) for item in value) + "]"
    return json.dumps(value) if isinstance(value, bool) else repr(value)
