"""The ``[load]`` table: values of one's own over those of a preset."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.faults import Findings
from labrum.cases.case_file.lip import MPA_PER_KPA
from labrum.cases.case_file.schema import LOAD
from labrum.cases.case_file.tables import read_table
from labrum.cases.library.shelf import library_load, load_names
from labrum.simulate.problem import Load


@dataclass(frozen=True)
class ReadLoad:
    """What ``[load]`` gave: ``load`` is None where it has faults."""

    load: Load | None
    resolved: dict[str, Any]


def read_load(raw: Any, findings: Findings) -> ReadLoad:
    """Read the table, fill it from the preset it names, and note every fault."""
    before = len(findings.faults)
    values = read_table(LOAD, _over_preset(raw), ("load",), findings)
    if len(findings.faults) > before:
        return ReadLoad(None, {})
    values.pop("preset", None)
    load = Load(
        force=values["force_n"],
        mouth_pressure=values["mouth_pressure_kpa"] * MPA_PER_KPA,
        friction=values["friction"],
        muscle_activation=values["muscle_activation"],
    )
    return ReadLoad(load, values)


def _over_preset(raw: Any) -> Any:
    preset = raw.get("preset") if isinstance(raw, dict) else None
    if preset is None:
        return raw
    # An unknown preset is a fault of its own; the values it would have given are not missing besides.
    known = isinstance(preset, str) and preset in load_names()
    return {**library_load(preset if known else load_names()[0]).values, **raw}
