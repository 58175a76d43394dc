"""The ``[rim]`` table: a rim from dimensions, from an outline, or from a measured trace."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from labrum.cases.case_file.faults import Findings
from labrum.cases.case_file.schema import RIM, RIM_DIMENSIONS, RIM_FORMS
from labrum.cases.case_file.tables import read_table
from labrum.cases.case_file.values import shown
from labrum.cases.places import trouble_with
from labrum.meshes.faults import Fault, GeometryError
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.rims.rim import Rim, RimDimensions, rim_from_dimensions


@dataclass(frozen=True)
class ReadRim:
    """What ``[rim]`` gave: ``rim`` is None where it has faults; its size is there where it could be told."""

    rim: Rim | None
    outer_radius: float | None
    inner_radius: float | None
    resolved: dict[str, Any]
    inputs: tuple[Path, ...] = ()


def read_rim(raw: Any, folder: Path, findings: Findings) -> ReadRim:
    """Read the table, draw the rim and note every fault; a trace's path counts from ``folder``."""
    forms = [form for form in RIM_FORMS if isinstance(raw, dict) and form in raw]
    if not forms:
        return _from_dimensions(raw, findings)
    _note_mixture(raw, forms, findings)
    values = read_table(RIM, _without_need_of_dimensions(raw), ("rim",), findings)
    if len(forms) > 1 or forms[0] not in values:
        return ReadRim(None, None, None, {})
    return (
        _from_outline(values, findings) if forms[0] == "outline_mm" else _from_trace(values, folder, findings)
    )


def _note_mixture(raw: dict[str, Any], forms: list[str], findings: Findings) -> None:
    others = [name for name in (*RIM_DIMENSIONS, *RIM_FORMS) if name in raw and name != forms[0]]
    if others:
        got = f"{forms[0]} together with {', '.join(others)}"
        findings.fault(("rim", forms[0]), got, "either dimensions, or outline_mm, or trace")


def _without_need_of_dimensions(raw: dict[str, Any]) -> dict[str, Any]:
    """Keep a missing dimension from being a fault where another form draws the rim."""
    return {"inner_diameter_mm": 16.0, "width_mm": 5.0, **raw}


def _from_dimensions(raw: Any, findings: Findings) -> ReadRim:
    values = read_table(RIM, raw, ("rim",), findings)
    inner = values["inner_diameter_mm"] / 2 if "inner_diameter_mm" in values else None
    outer = inner + values["width_mm"] if inner is not None and "width_mm" in values else None
    if any(name not in values for name in RIM_DIMENSIONS):
        return ReadRim(None, outer, inner, {})
    resolved = {name: values[name] for name in RIM_DIMENSIONS}
    lengths = {name: math.inf if value == "flat" else value for name, value in resolved.items()}
    try:
        rim = rim_from_dimensions(RimDimensions(**lengths))
    except GeometryError as error:
        for fault in error.faults:
            findings.adopt(_with_default_named(fault, raw))
        return ReadRim(None, outer, inner, {})
    return ReadRim(rim, rim.outer_radius, rim.bite[0], resolved)


def _with_default_named(fault: Fault, raw: dict[str, Any]) -> Fault:
    """Say of a faulty value that nobody wrote where it comes from."""
    name = fault.key.removeprefix("rim.")
    if name in raw or name not in RIM_DIMENSIONS:
        return fault
    hint = "it is the default: give a value of your own"
    return replace(fault, hint=f"{hint}, or {fault.hint}" if fault.hint else hint)


def _from_outline(values: dict[str, Any], findings: Findings) -> ReadRim:
    try:
        rim = rim_from_outline(values["outline_mm"])
    except GeometryError as error:
        for fault in error.faults:
            findings.adopt(fault)
        # Arcs may reach farther out than the vertices, so this is the least the outer radius can be.
        return ReadRim(None, max(row[0] for row in values["outline_mm"]), None, {})
    return ReadRim(rim, rim.outer_radius, rim.bite[0], {"outline_mm": values["outline_mm"]})


def _from_trace(values: dict[str, Any], folder: Path, findings: Findings) -> ReadRim:
    path = folder / values["trace"]
    allowed = "a readable file of r, s points"
    nothing = ReadRim(None, None, None, {})
    if got := trouble_with(path):
        findings.fault(("rim", "trace"), f"{shown(values['trace'])}, {got}", allowed, f"looked for {path}")
        return nothing
    from labrum.meshes.traces.trace import rim_from_trace  # few cases need it, and it takes a while to load

    try:
        rim = rim_from_trace(path)
    except GeometryError as error:
        for fault in error.faults:
            findings.adopt(replace(fault, key=fault.key.replace("rim.outline_mm", "rim.trace")))
        return nothing
    except (OSError, UnicodeDecodeError) as error:
        findings.fault(("rim", "trace"), f"{shown(values['trace'])}, {error}", allowed)
        return nothing
    return ReadRim(rim, rim.outer_radius, rim.bite[0], {"trace": values["trace"]}, (path,))
