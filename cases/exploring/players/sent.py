"""A player's sheet as a page sends it: read by what reads sheets, drawing on no rim but what ships or came along."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.exploring.tables import case_from_page, case_toml, toml_value
from labrum.cases.library.shelf import demo_names
from labrum.cases.player.sheet import Sheet, sheet_from_tables
from labrum.cases.player.sheet_keys import SHEET_SCHEMA
from labrum.meshes.faults import Fault

SHEET = "this sheet"


def sheet_from_page(tables: Any, rims: Any) -> Sheet:
    """Read the tables of a sheet; ``rims`` are the tables of the page's own cases by the names that the sheet uses.

    Raises
    ------
    InvalidCase
        With every fault found; one that names a file of this machine is refused before any is read.
    """
    if not isinstance(tables, dict):
        raise InvalidCase((CaseFault(SHEET, None, Fault("sheet", "no tables", "the tables of a sheet")),))
    sent = rims if isinstance(rims, dict) else {}
    known = [*demo_names(), *sent]
    strange = [(key, rim) for key, rim in _rims_of(tables) if isinstance(rim, str) and rim not in known]
    if strange:
        allowed = "the rim on the bench, a pinned one, or a shipped one"
        raise InvalidCase(tuple(CaseFault(SHEET, None, Fault(key, rim, allowed)) for key, rim in strange))
    with tempfile.TemporaryDirectory() as folder:
        for name, case in sent.items():
            Path(folder, Path(str(name)).name).write_text(case_toml(case_from_page(case)), encoding="utf-8")
        return sheet_from_tables({"schema": SHEET_SCHEMA, **tables}, SHEET, Path(folder))


def _rims_of(tables: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    presses = tables.get("press")
    for number, press in enumerate(presses if isinstance(presses, list) else []):
        if isinstance(press, dict) and "rim" in press:
            yield f"press[{number}].rim", press["rim"]
    present = tables.get("present")
    if isinstance(present, dict) and "rim" in present:
        yield "present.rim", present["rim"]


def sheet_toml(tables: Mapping[str, Any]) -> str:
    """Write a sheet's tables as the text of a sheet."""
    lines = [f"schema = {SHEET_SCHEMA}", *_pairs(tables)]
    for name, value in tables.items():
        parts = value if isinstance(value, list) and value and isinstance(value[0], dict) else [value]
        head = f"[[{name}]]" if parts is value else f"[{name}]"
        for part in parts:
            if isinstance(part, dict):
                lines += ["", head, *_pairs(part)]
    return "\n".join(lines) + "\n"


def _pairs(table: Mapping[str, Any]) -> list[str]:
    plain = {key: value for key, value in table.items() if key != "schema" and not _is_table(value)}
    return [f"{key} = {toml_value(value)}" for key, value in plain.items()]


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))
