"""Which keys of a case a plan may change, and how a change is made to a resolved case."""

from __future__ import annotations

import copy
from dataclasses import dataclass, replace
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import Findings, dotted
from labrum.cases.case_file.schema import (
    ACCURACY,
    HELD,
    LIP,
    LOAD,
    OFF_AXIS,
    RIM,
    RIM_DIMENSIONS,
    RIM_FORMS,
    KeyTable,
)
from labrum.cases.case_file.tables import unknown_key_hint
from labrum.cases.case_file.toml_positions import KeyPath
from labrum.cases.case_file.values import Key, OneNumber, Refused, shown
from labrum.cases.library.shelf import library_lip
from labrum.simulate.conclusions.varied_lips import stiffened_moduli

FACTORS = ("stiffness_factor", "thickness_factor")
# A plan may scale a whole lip, whatever its layers: what survives a stiffness off by two is asked of every result.
CHANGEABLE = {
    "rim": RIM,
    "lip": KeyTable("lip", (*LIP.keys, *(OneNumber(name, 0.05, 20.0) for name in FACTORS)), LIP.tables, LIP.advice),
    "load": LOAD,
    "accuracy": ACCURACY,
    "off_axis": OFF_AXIS,
}


@dataclass(frozen=True)
class Change:
    """One key of a case, as ``("rim", "width_mm")``, and the value it gets."""

    path: tuple[str, str]
    value: Any


def key_at(path: KeyPath, value: Any, place: KeyPath, findings: Findings) -> Key | None:
    """Return the schema of the key at ``path`` of a case, or note at ``place`` that there is none."""
    table = CHANGEABLE.get(str(path[0]))
    if table is None:
        findings.fault(place, "an unknown table", "one of " + ", ".join(CHANGEABLE), "keys stand as rim.width_mm")
        return None
    for key in table.keys:
        if key.name == path[-1]:
            return key
    hint = unknown_key_hint(str(path[-1]), value, table)
    findings.fault(place, "an unknown key", "one of " + ", ".join(table.names), hint)
    return None


def taken(key: Key, value: Any, place: KeyPath, findings: Findings) -> Any:
    """Return the value as the key takes it; None where it does not, which is noted at ``place``."""
    try:
        return key.take(value)
    except Refused as refused:
        findings.fault(place, refused.got, key.allowed, refused.hint)
        return None


def read_changes(raw: Any, place: KeyPath, findings: Findings) -> tuple[Change, ...]:
    """Read nested tables of keys and values, such as ``rim.width_mm = 5.0``, noting every fault."""
    changes = []
    for path, value in keys_of(raw, place, findings):
        if path == ("lip", "layer"):  # judged with the case, where its own keys get their faults
            changes.append(Change(path, value))
            continue
        key = key_at(path, value, (*place, *path), findings)
        good = None if key is None else taken(key, value, (*place, *path), findings)
        if good is not None:
            changes.append(Change(path, good))
    return tuple(changes)


def keys_of(raw: Any, place: KeyPath, findings: Findings) -> list[tuple[tuple[str, str], Any]]:
    """Flatten two levels of tables to paths and values; anything else is noted."""
    if not isinstance(raw, dict):
        findings.fault(place, shown(raw), "a table of keys of a case", "such as rim.width_mm")
        return []
    found = []
    for table, inner in raw.items():
        if isinstance(inner, dict):
            found += [((table, name), value) for name, value in inner.items()]
        else:
            hint = "write rim.width_mm, without quotes round the whole" if "." in table else "such as rim.width_mm"
            findings.fault((*place, table), shown(inner), "a table of a case: " + ", ".join(CHANGEABLE), hint)
    return found


def anchored(case: Case) -> Case:
    """Give a case whose rim is a trace the whole path to it, so that it can be changed and kept anywhere."""
    if "trace" not in case.resolved["rim"]:
        return case
    return replace(case, resolved={**case.resolved, "rim": {"trace": str(case.inputs[0].resolve())}})


def changed(resolved: dict[str, Any], changes: tuple[Change, ...]) -> dict[str, Any]:
    """Return the case's tables with the changes made; what a change replaces is taken out.

    A lip's type replaces its layers and the other way about, a preset replaces force and pressure, a mean pressure or
    a sink replaces the force and the other way about, and another form of rim replaces the one there was. Factors scale
    the layers last.
    """
    raw = copy.deepcopy(resolved)
    named = {change.path for change in changes}
    for change in changes:
        for name in _replaced(change.path):
            if (change.path[0], name) not in named:
                raw[change.path[0]].pop(name, None)
    for change in changes:
        if change.path[1] not in FACTORS:
            raw.setdefault(change.path[0], {})[change.path[1]] = copy.deepcopy(change.value)
    for change in changes:
        if change.path[1] in FACTORS:
            _scale(raw["lip"], change)
    return raw


def _replaced(path: tuple[str, str]) -> tuple[str, ...]:
    table, name = path
    if table == "lip" and name in ("type", "layer"):
        return ("layer", "type")
    if path == ("load", "preset"):
        return (*HELD, "mouth_pressure_kpa")
    if table == "load" and name in HELD:
        return HELD
    if table == "rim" and name in RIM_FORMS:
        return (*RIM_DIMENSIONS, *RIM_FORMS)
    return ()


def _scale(lip: dict[str, Any], change: Change) -> None:
    if "type" in lip:
        lip["layer"] = [dict(layer) for layer in library_lip(lip.pop("type")).layers]
    for layer in lip["layer"]:
        if change.path[1] == "thickness_factor":
            layer["thickness_mm"] *= change.value
        else:
            moduli = stiffened_moduli(layer["shear_modulus_kpa"], layer["stiffening_kpa"], change.value)
            layer["shear_modulus_kpa"], layer["stiffening_kpa"] = moduli[0], list(moduli[1])


def written_key(path: tuple[str, str]) -> str:
    """Write a key's path as people do: ``rim.width_mm``."""
    return dotted(path)
