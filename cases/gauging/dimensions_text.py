"""A rim of dimensions as people read it, as JSON and as a case; and what could have given a chart's number."""

from __future__ import annotations

import json
from math import ceil, isfinite
from typing import Any

from labrum.cases.case_file.schema import SCHEMA
from labrum.cases.dimensioning.traced_case import rim_table
from labrum.cases.gauging.gauged_file import GaugedFile
from labrum.meshes.dimensioning.box_coordinates import KEYS
from labrum.meshes.dimensioning.chart_number import Explanation
from labrum.meshes.dimensioning.dimensioned import DimensionedRim
from labrum.meshes.faults import printable
from labrum.meshes.gauges.readings import CONVENTIONS
from labrum.meshes.rims.rim import Rim

LABELS = {convention.name: convention.label for convention in CONVENTIONS}
UNTOLD = "not told by the profile"
# The lip disc a gauged rim is pressed into: this large, or so far beyond the rim.
LIP_RADIUS_MM, BEYOND_MM = 25.0, 12.0


def lip_radius(rim: Rim) -> float:
    """Radius of a lip disc that the rim fits on, mm."""
    return max(LIP_RADIUS_MM, float(ceil(rim.outer_radius + BEYOND_MM)))


def standing(said: DimensionedRim) -> str:
    """Say how far off the rim of dimensions is, and whether that will do."""
    return said.refusal() or f"off the outline by up to {said.departure.words()}"


def dimension_lines(rim: GaugedFile) -> list[str]:
    """Say the dimensions of a rim as a case file has them; the last line is empty."""
    if rim.said is None:
        return ["as a rim of dimensions: no dimensions draw anything like it", ""]
    lines = ["as a rim of dimensions, by least squares"]
    lines += [f"  {key:<23}{value if isinstance(value, str) else f'{value:.4f}'}{_doubt(rim, key)}"
              for key, value in rim_table(rim.said).items()]
    return [*lines, f"  {standing(rim.said)}", *(f"  {note}" for note in rim.said.notes), ""]


def _doubt(rim: GaugedFile, key: str) -> str:
    """What stands behind a value: twice its standard uncertainty, where the profile was measured."""
    if rim.said is None or rim.gauged.measured is None or rim_table(rim.said)[key] == "flat":
        return ""
    doubt = rim.said.uncertainties[key]
    return f" +- {2 * doubt:.4f}" if isfinite(doubt) else f" ({UNTOLD})"


def dimensions_json(rim: GaugedFile) -> dict[str, Any] | None:
    """Give the dimensions with their uncertainties; null where nothing like the rim can be drawn."""
    said = rim.said
    if said is None:
        return None
    parts = {"rim": said.departure, "cup": said.cup, "outside": said.outside}
    return {
        "is_said": said.is_said,
        "refusal": said.refusal() or None,
        "keys": rim_table(said),
        "standard_uncertainty": {
            key: value if isfinite(value) and rim.gauged.measured is not None else None
            for key, value in said.uncertainties.items()
        },
        "largest_departure_um": {name: None if part is None else part.um for name, part in parts.items()},
        "at_mm": [said.departure.r, said.departure.s],
        "notes": list(said.notes),
    }


def dimensioned_case(rim: GaugedFile, said: DimensionedRim, lip: str, force: float) -> str:
    """Write a case, to be solved as it is, with the rim of dimensions."""
    remarks = [f"The rim of dimensions nearest to {rim.file}: {standing(said)}.", *said.notes]
    keys = [f"{key} = {json.dumps(value)}" for key, value in rim_table(said).items()]
    doubts = [_doubt(rim, key).strip().strip("()") for key in KEYS]
    return "\n".join([
        *(f"# {printable(remark)}" for remark in remarks),
        "# Behind a value: twice its standard uncertainty, from the trace's noise alone. Lip and force are assumed.",
        f"schema = {SCHEMA}",
        f"title = {json.dumps(f'{printable(rim.name)}, in dimensions')}",
        "",
        "[rim]",
        *(f"{line:<36}# {doubt}" if doubt else line for line, doubt in zip(keys, doubts, strict=True)),
        "",
        "[lip]",
        f'type = "{lip}"',
        f"radius_mm = {lip_radius(said.rim)!r}",
        "",
        "[load]",
        f"force_n = {force!r}",
        "",
    ])  # fmt: skip


def chart_lines(rim: GaugedFile) -> list[str]:
    """Say which readings could have given a chart's number."""
    if rim.chart is None:
        return []
    found = [f"  {_words(rim, one)}" for one in rim.chart.found]
    return ["", f"a chart's {printable(rim.chart.said)} could be", *(found or ["  no reading of this rim"])]


def _words(rim: GaugedFile, one: Explanation) -> str:
    if one.kind == "convention":
        return f"the {LABELS[one.name]}: {one.value:.3f} mm, {one.off:+.3f} of it"
    if one.kind == "bite radius":
        return f"the 45° tangent of a bite of {one.value:.2f} mm in this crown and cup wall" + (
            "" if rim.said is None else f" (this one has {rim.said.dimensions.bite_radius_mm:.2f})")
    return f"read {one.value:.2f} mm below the high point, where the profile stands at {one.angle_deg:.0f}°"


def chart_json(rim: GaugedFile) -> dict[str, Any] | None:
    """Give the same for programs; null where no number was given."""
    if rim.chart is None:
        return None
    found = [{"kind": one.kind, "convention": one.name or None, "value_mm": one.value,
              "angle_deg": one.angle_deg if isfinite(one.angle_deg) else None, "off_mm": one.off,
              "words": _words(rim, one)} for one in rim.chart.found]
    return {"said": rim.chart.said, "could_be": found}
