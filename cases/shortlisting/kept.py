"""A shortlist as it is kept: its schema, the names of its files, and what is wrong with one that was read."""

from __future__ import annotations

from typing import Any

from labrum.meshes.faults import Fault

SHORTLIST_SCHEMA = 1
KEPT_AS = "shortlist.json"
_NEEDED: dict[str, type] = {
    "instrument": str, "complaints": list, "wishes": list, "wanted": list, "held": list, "present": dict, "rims": list,
    "not_met": list, "holds_back": list, "cautions": list, "lips_tried": list,
}  # fmt: skip
_NEEDED_OF_RIM: dict[str, type] = {"kind": str, "changes": dict, "summary": str, "effects": list, "measures": dict}


def file_stem(kind: str) -> str:
    """The name of a rim's case file without its ending: ``least-change``."""
    return kind.replace(" ", "-")


def kept_faults(told: Any) -> tuple[Fault, ...]:
    """What keeps a shortlist from being used; empty where nothing does."""
    if not isinstance(told, dict) or told.get("schema") != SHORTLIST_SCHEMA:
        got = told.get("schema", "nothing") if isinstance(told, dict) else "no table"
        return (Fault("schema", str(got), f"{SHORTLIST_SCHEMA}, as labrum shortlist --out writes it"),)
    faults = _lacking(told, _NEEDED, "")
    rims = told.get("rims")
    for number, row in enumerate(rims if isinstance(rims, list) else []):
        place = f"rims[{number}]"
        faults += _lacking(row, _NEEDED_OF_RIM, f"{place}.") if isinstance(row, dict) else [_no(place, dict)]
    return tuple(faults)


def _lacking(table: dict[str, Any], needed: dict[str, type], place: str) -> list[Fault]:
    return [_no(place + key, kind) for key, kind in needed.items() if not isinstance(table.get(key), kind)]


def _no(place: str, kind: type) -> Fault:
    words = {"str": "a text", "list": "a list", "dict": "a table"}[kind.__name__]
    return Fault(place, "nothing of that kind", f"{words}, as labrum shortlist --out writes it")
