"""The options of ``labrum cut``, read into a plan, with every fault in one pass."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from labrum.cases.case_file.values import nearest, shown
from labrum.meshes.faults import Fault
from labrum.meshes.machining.dimensions import (
    Band,
    Rule,
    dimensions_of,
    iso_2768,
    no_tolerance,
    same_for_lengths,
    with_own,
)
from labrum.meshes.machining.dxf import VERSIONS
from labrum.meshes.machining.iso_2768 import ISO_CLASSES
from labrum.meshes.machining.lathe_view import UNITS, Unit, rounding_mm
from labrum.meshes.machining.tool_path import TOOL_POINTS, ToolPoint
from labrum.meshes.rims.rim import Rim

X_AS = ("diameter", "radius")
PARTS = ("whole", "rim")
DXF_AXES = ("zx", "rs")
DEFAULT_CHORD = {"mm": 0.005, "inch": 0.0002}
LARGEST_CHORD_MM = 1.0
LARGEST_NOSE_MM = 20.0
LARGEST_BAND_MM = 5.0

_NUMBER = r"(\d+\.?\d*|\.\d+)"
_SAME = re.compile(rf"(?:±|\+-|\+/-)?{_NUMBER}")
_TWO = re.compile(rf"\+{_NUMBER}/-{_NUMBER}")
_ISO = re.compile(rf"iso[ -]?2768-?(?:1-)?([{''.join(ISO_CLASSES)}])", re.IGNORECASE)


@dataclass(frozen=True)
class CutOptions:
    """Options as typed: lengths in ``unit``; None is left out."""

    unit: str = "mm"
    x: str = "diameter"
    part: str = "whole"
    dxf: str = "R12"
    dxf_axes: str = "zx"
    chord_tolerance: float | None = None
    nose_radius: float | None = None
    tool_point: str = "centre"
    tolerance: tuple[str, ...] = ()


@dataclass(frozen=True)
class CutPlan:
    """What to write: lengths in mm. ``tolerances`` says in words where those of ``rule`` come from."""

    unit: Unit
    diameter: bool
    part: str
    dxf: str
    dxf_axes: str
    chord_mm: float
    nose_mm: float | None
    tool_point: ToolPoint
    rule: Rule
    tolerances: str
    own: dict[str, Band]


def read_options(options: CutOptions) -> tuple[CutPlan | None, tuple[Fault, ...]]:
    """Turn options into a plan; None, and every fault, where there are any."""
    faults = _choice_faults(options)
    unit = UNITS.get(options.unit, UNITS["mm"])
    chord = options.chord_tolerance if options.chord_tolerance is not None else DEFAULT_CHORD[unit.name]
    faults += _range_fault("--chord-tolerance", chord, rounding_mm(unit), LARGEST_CHORD_MM, unit)
    if options.nose_radius is not None:
        faults += _range_fault("--nose-radius", options.nose_radius, 0.0, LARGEST_NOSE_MM, unit)
    rule, words, own, wrong = _tolerances(options.tolerance, unit)
    faults += wrong
    if faults:
        return None, tuple(faults)
    nose = None if options.nose_radius is None else options.nose_radius * unit.mm
    return CutPlan(unit, options.x == "diameter", options.part, options.dxf, options.dxf_axes, chord * unit.mm, nose,
                TOOL_POINTS[options.tool_point], rule, words, own), ()


def unknown_dimensions(plan: CutPlan, rim: Rim) -> tuple[Fault, ...]:
    """Faults of tolerances given for dimensions that the rim's drawing does not have."""
    names = [d.key for d in dimensions_of(rim)]
    return tuple(
        Fault("--tolerance", shown(f"{key}=…"), f"one of {', '.join(names)}", _meant(key, names))
        for key in plan.own if key not in names
    )


def _choice_faults(options: CutOptions) -> list[Fault]:
    given = (
        ("--unit", options.unit, tuple(UNITS)), ("--x", options.x, X_AS), ("--part", options.part, PARTS),
        ("--dxf", options.dxf, VERSIONS), ("--dxf-axes", options.dxf_axes, DXF_AXES),
        ("--tool-point", options.tool_point, tuple(TOOL_POINTS)),
    )
    return [
        Fault(name, shown(value), f"one of {', '.join(allowed)}", _meant(value, list(allowed)))
        for name, value, allowed in given if value not in allowed
    ]


def _meant(value: str, allowed: list[str]) -> str:
    near = nearest(value, allowed)
    return f'did you mean "{near}"?' if near else ""


def _range_fault(name: str, value: float, low_mm: float, high_mm: float, unit: Unit) -> list[Fault]:
    if math.isfinite(value) and low_mm < value * unit.mm <= high_mm:
        return []
    low, high = low_mm / unit.mm, high_mm / unit.mm
    return [Fault(name, f"{value:g}", f"above {low:.2g} up to {high:.4g} {unit.name}")]


def _tolerances(given: tuple[str, ...], unit: Unit) -> tuple[Rule, str, dict[str, Band], list[Fault]]:
    """Read every ``--tolerance``: at most one general one, and any number of single dimensions'."""
    rule: Rule = no_tolerance
    words = "none given"
    general: list[str] = []
    own: dict[str, Band] = {}
    faults: list[Fault] = []
    for item in given:
        key, mark, value = item.partition("=")
        band = _band(value if mark else item, unit, 1.0 if mark and key.strip().endswith("angle") else unit.mm)
        if mark and band:
            own[key.strip()] = band
        elif not mark and (read := _general(item, band, unit)):
            rule, words = read
            general.append(item)
        else:
            faults.append(_tolerance_fault(item))
    if len(general) > 1:
        faults.append(Fault("--tolerance", " and ".join(general), "one general tolerance, others as KEY=VALUE"))
    return with_own(rule, own), words + (", those shown at a dimension first" if own else ""), own, faults


def _general(item: str, band: Band | None, unit: Unit) -> tuple[Rule, str] | None:
    if iso := _ISO.fullmatch(item.strip()):
        name = iso[1].lower()
        return iso_2768(name), f"ISO 2768-{name} (values recalled, check them)"
    if band is None:
        return None
    return same_for_lengths(band.upper, band.lower), f"{item.strip()} {unit.name} on lengths, none on angles"


def _band(text: str, unit: Unit, size: float) -> Band | None:
    """Read ``0.02`` or ``+0.02/-0.01`` in units of ``size`` mm (or degrees, 1)."""
    text = text.strip()
    if same := _SAME.fullmatch(text):
        upper = lower = float(same[1]) * size
    elif two := _TWO.fullmatch(text):
        upper, lower = float(two[1]) * size, float(two[2]) * size
    else:
        return None
    return Band(upper, -lower) if upper + lower > 0.0 and max(upper, lower) <= LARGEST_BAND_MM else None


def _tolerance_fault(item: str) -> Fault:
    allowed = ("0.02, +0.02/-0.01, iso2768-f, -m or -c, or KEY=0.02; numbers above 0, "
               f"up to {LARGEST_BAND_MM:g} mm or degrees")
    return Fault("--tolerance", shown(item), allowed)
