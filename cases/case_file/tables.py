"""Reads one table against its schema: takes what is good, notes everything that is not."""

from __future__ import annotations

from typing import Any

from labrum.cases.case_file.faults import Findings
from labrum.cases.case_file.schema import TABLES, KeyTable
from labrum.cases.case_file.toml_positions import KeyPath
from labrum.cases.case_file.units import converted, split_unit
from labrum.cases.case_file.values import LARGEST, Key, Presence, Refused, nearest, shown

MOST_UNKNOWN = 50


def read_table(table: KeyTable, raw: Any, path: KeyPath, findings: Findings) -> dict[str, Any]:
    """Return the good values of ``raw`` and the defaults of keys left out; everything else becomes a fault.

    A refused or missing key is absent from the result, so that later checks see only what can be trusted.
    """
    if not isinstance(raw, dict):
        _refuse_table(table, raw, path, findings)
        return {}
    _note_unknown(table, raw, path, findings)
    values = {key.name: _value(key, raw, path, findings) for key in table.keys}
    return {name: value for name, value in values.items() if not isinstance(value, Presence)}


def _note_unknown(table: KeyTable, raw: dict[str, Any], path: KeyPath, findings: Findings) -> None:
    """Note every key that the table does not have; of a flood of them, look for what may have been meant in a few."""
    unknown = [name for name in raw if name not in table.names]
    allowed = "one of " + ", ".join(table.names)
    for name in unknown[:MOST_UNKNOWN]:
        findings.fault((*path, name), "an unknown key", allowed, unknown_key_hint(name, raw[name], table))
    if len(unknown) > MOST_UNKNOWN:
        findings.fault(path, f"{len(unknown) - MOST_UNKNOWN} more unknown keys", allowed)


def _refuse_table(table: KeyTable, raw: Any, path: KeyPath, findings: Findings) -> None:
    double = isinstance(raw, list) and raw and isinstance(raw[0], dict)
    hint = "single brackets: there is one of them" if double else ""
    findings.fault(path, shown(raw), f"a table [{table.name}]", hint)


def _value(key: Key, raw: dict[str, Any], path: KeyPath, findings: Findings) -> Any:
    here = (*path, key.name)
    if key.name not in raw:
        if key.default is Presence.REQUIRED:
            findings.fault(here, "nothing", key.allowed, "the key is missing")
        return key.default
    try:
        return key.take(raw[key.name])
    except Refused as refused:
        for index, item in refused.items.items():
            findings.fault((*here, index), item.got, key.allowed, item.hint)
        if not refused.items:
            findings.fault(here, refused.got, key.allowed, refused.hint)
        return Presence.REQUIRED


def unknown_key_hint(name: str, value: Any, table: KeyTable) -> str:
    """Suggest the key that may have been meant; empty where nothing is near."""
    if name in table.advice:
        return table.advice[name]
    base, unit = split_unit(name)
    for valid in table.names:
        if base.lower() == split_unit(valid)[0].lower():
            return _unit_hint(valid, unit, value)
    for other in table.beside or TABLES:
        if name in other.names:
            return f"it belongs in {_place(other)}"
    by_base = {split_unit(valid)[0]: valid for valid in table.names}
    near = nearest(name, table.names) or by_base.get(nearest(name, tuple(by_base)) or "")
    return f"did you mean {near}?" if near else ""


def _unit_hint(valid: str, unit: str, value: Any) -> str:
    number = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < LARGEST
    meant = converted(value, unit, split_unit(valid)[1]) if unit and number else None
    return f"did you mean {valid}{'' if meant is None else f' = {meant:.6g}'}? the unit stands in the key"


def _place(table: KeyTable) -> str:
    top = "the top of the file, before the first table"
    return {"case": top, "sheet": top, "layer": "[[lip.layer]]", "press": "[[press]]"}.get(
        table.name, f"[{table.name}]"
    )
