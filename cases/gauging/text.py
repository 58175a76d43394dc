"""Readings of gauged rims as people read them, as JSON, as a table, and as an outline for a case file."""

from __future__ import annotations

import textwrap
from math import hypot, isfinite, isinf
from typing import Any

from labrum.cases.gauging.dimensions_text import chart_json, chart_lines, dimension_lines, dimensions_json
from labrum.cases.gauging.gauged_file import GaugedFile
from labrum.meshes.gauges.gauge import Disagreement, Reading
from labrum.meshes.gauges.readings import MM_PER_THOU
from labrum.reports.house_style.figure_data import Table

GAUGE_SCHEMA = 1
TEXT_WIDTH = 110


def gauge_tables(rims: list[GaugedFile], apart: list[Disagreement]) -> str:
    """Write everything a person reads on the screen."""
    parts = [_one(rims[0])] if len(rims) == 1 else [_side_by_side(rims)]
    parts += [_differ(rims)] if len(rims) > 1 else []
    parts += ["\n".join(disagreement_words(rims, d)) for d in apart]
    return "\n\n".join(parts)


def _one(rim: GaugedFile) -> str:
    g = rim.gauged
    lines = [*_head(rim), "", "inner diameter, by how it is read"]
    lines += [_row(r, mm_and_thou(r)) for r in g.diameters]
    lines += [f"  {'they differ by':<23}{_length(g.spread.value)}", "", "everything else"]
    lines += [_row(r, _value(r)) for r in g.dimensions]
    return "\n".join([*lines, "", *dimension_lines(rim), *_readers(rim), *_felt(rim), *chart_lines(rim)])


def _head(rim: GaugedFile) -> list[str]:
    m = rim.gauged.measured
    if m is None:
        return [f"{rim.file}: drawn, {len(rim.gauged.rim.curve.bulge)} arcs and lines"]
    fit = f"fitted by {len(m.rim.curve.bulge)} arcs and lines to {1000 * m.fit.rms:.1f} um rms"
    return [f"{rim.file}: {m.measured} points in {m.unit}, {fit}", *(f"  {note}" for note in m.notes)]


def heard(rim: GaugedFile) -> list[str]:
    """What a person hears of a rim beside JSON: the reader's notes, and what dimensions do not say."""
    notes = [] if rim.gauged.measured is None else list(rim.gauged.measured.notes)
    refusal = "" if rim.said is None else rim.said.refusal()
    return [*notes, *([refusal] if refusal else [])]


def _row(reading: Reading, value: str) -> str:
    first = f"  {reading.label:<23}{value:<39}"
    whole = first + reading.definition
    if len(whole) <= TEXT_WIDTH + 20:
        return whole
    return textwrap.fill(whole, TEXT_WIDTH + 20, subsequent_indent=" " * 64, drop_whitespace=True)


def mm_and_thou(reading: Reading) -> str:
    """Write a length with its uncertainty in mm, and in inches."""
    if not isfinite(reading.value):
        return "- (no such place on this rim)"
    doubt = f" +- {2 * reading.uncertainty:.3f}" if isfinite(reading.uncertainty) else ""
    return f"{reading.value:.3f}{doubt} mm ({reading.value / 25.4:.4f} in)"


def _length(value: float) -> str:
    return f"{value:.3f} mm ({value / MM_PER_THOU:.1f} thou)"


def _value(reading: Reading) -> str:
    if isinf(reading.value):
        return "flat"
    if not isfinite(reading.value):
        return "-"
    unit = {"mm": " mm", "deg": " deg", "": ""}[reading.unit]
    doubt = f" +- {2 * reading.uncertainty:.3f}" if isfinite(reading.uncertainty) else ""
    return f"{reading.value:.3f}{doubt}{unit}"


def _readers(rim: GaugedFile) -> list[str]:
    s = rim.scatter
    low, high = s.middle_95
    return [
        f"{s.aim.readers} people with callipers (aim errs by {s.aim.angle_deg:g} deg, {s.aim.depth_mm:g} mm; assumed)",
        f"  would read {s.mean:.3f} mm, deviation {_length(s.deviation)}, 95 % of them {low:.2f} to {high:.2f}",
        "",
        "+- is twice the standard uncertainty, from the trace's noise alone; the instrument's errors come on top.",
    ]


def _felt(rim: GaugedFile) -> list[str]:
    if rim.felt is None:
        return []
    return ["", f"felt diameter {rim.felt.felt_diameter_mm:.3f} mm, peak {rim.felt.peak_pressure_kpa:.1f} kPa "
                f"at r = {rim.felt.peak_radius_mm:.2f} mm (an idealised lip, its stiffness assumed)"]


def _side_by_side(rims: list[GaugedFile]) -> str:
    names = [r.name[:17] for r in rims]
    lines = [line for rim in rims for line in _head(rim)]
    lines += ["", f"  {'inner diameter, mm':<24}" + "".join(f"{n:>19}" for n in names)]
    for k, first in enumerate(rims[0].gauged.diameters):
        lines.append(f"  {first.label:<24}" + "".join(_cell(r.gauged.diameters[k], 3) for r in rims))
    lines.append(f"  {'they differ by':<24}" + "".join(_cell(r.gauged.spread, 3) for r in rims))
    lines.append(f"  {'the same, thou':<24}" + "".join(f"{r.gauged.spread.value / MM_PER_THOU:>19.1f}" for r in rims))
    lines += ["", "  everything else"]
    for k, first in enumerate(rims[0].gauged.dimensions):
        label = f"{first.label}{', ' + first.unit if first.unit else ''}"
        lines.append(f"  {label:<24}" + "".join(_cell(r.gauged.dimensions[k], 3) for r in rims))
    lines += ["", f"  {'readers: mean, mm':<24}" + "".join(f"{r.scatter.mean:>19.3f}" for r in rims),
              f"  {'readers: deviation, mm':<24}" + "".join(f"{r.scatter.deviation:>19.3f}" for r in rims)]
    for rim in rims:
        lines += ["", rim.name, *(f"  {text}" for text in (*dimension_lines(rim)[:-1], *chart_lines(rim)) if text)]
    if any(r.felt for r in rims):
        lines += ["", f"  {'felt diameter, mm':<24}" + "".join(
            f"{r.felt.felt_diameter_mm:>19.3f}" if r.felt else f"{'not converged':>19}" for r in rims)]
    return "\n".join([*lines, "", "+- is twice the standard uncertainty, from the traces' noise alone."])


def _cell(reading: Reading, digits: int) -> str:
    if not isfinite(reading.value):
        return f"{'flat' if isinf(reading.value) else '-':>19}"
    doubt = f" +- {2 * reading.uncertainty:.{digits}f}" if isfinite(reading.uncertainty) else ""
    return f"{f'{reading.value:.{digits}f}{doubt}':>19}"


def _differ(rims: list[GaugedFile]) -> str:
    """Say how far each rim's diameters are from the first one's, beyond doubt or not."""
    lines = [f"less {rims[0].name}, mm (* beyond twice the uncertainty)"]
    for other in rims[1:]:
        cells = []
        for a, b in zip(rims[0].gauged.diameters, other.gauged.diameters, strict=True):
            apart = b.value - a.value
            doubt = 2.0 * hypot(*(u if isfinite(u) else 0.0 for u in (a.uncertainty, b.uncertainty)))
            cells.append(f"{a.label} {apart:+.3f}{'*' if abs(apart) > doubt else ''}" if isfinite(apart) else "")
        lines.append(f"  {other.name}: " + ", ".join(c for c in cells if c))
    return "\n".join(lines)


def disagreement_words(rims: list[GaugedFile], d: Disagreement) -> list[str]:
    """Say in words that two rims are one size by one convention and two by another."""
    a, b = rims[d.first].name, rims[d.second].name
    same = ", ".join(label for label, _ in d.same)
    text = ", ".join(f"{label} ({apart:+.3f} mm, {apart / MM_PER_THOU:+.1f} thou)" for label, apart in d.different)
    words = (f"{a} and {b}: same diameter by one convention, different by another. The same by: {same}. "
             f"Different by: {text}.")
    return textwrap.wrap(words, TEXT_WIDTH)


def gauge_json(rims: list[GaugedFile], apart: list[Disagreement]) -> dict[str, Any]:
    """Everything as one JSON object: mm and degrees; null does not apply, ``"flat"`` is a crown without curvature."""
    return {
        "schema": GAUGE_SCHEMA,
        "status": "gauged",
        "rims": [_rim_json(rim) for rim in rims],
        "same_by_one_different_by_another": [
            {"first": rims[d.first].name, "second": rims[d.second].name,
             "same": dict(d.same), "different": dict(d.different),
             "words": " ".join(disagreement_words(rims, d))} for d in apart
        ],
    }


def _rim_json(rim: GaugedFile) -> dict[str, Any]:
    g, m, s = rim.gauged, rim.gauged.measured, rim.scatter
    return {
        "name": rim.name,
        "file": rim.file,
        "drawn": m is None,
        "unit": "mm" if m is None else m.unit,
        "points": 0 if m is None else m.measured,
        "noise_mm": 0.0 if m is None else m.fit.noise,
        "fit_rms_mm": 0.0 if m is None else m.fit.rms,
        "pieces": len(g.rim.curve.bulge),
        "axis_uncertainty_mm": 0.0 if m is None else m.axis_uncertainty,
        "notes": [] if m is None else list(m.notes),
        "set_depth_mm": g.depth,
        "inner_diameter_mm": {r.name: _reading_json(r) for r in g.diameters},
        "convention_spread_mm": _reading_json(g.spread),
        "convention_spread_thou": _number(g.spread.value / MM_PER_THOU),
        "dimensions": {r.name: _reading_json(r) for r in g.dimensions},
        "readers": {"readers": s.aim.readers, "aim_angle_deg": s.aim.angle_deg, "aim_depth_mm": s.aim.depth_mm,
                    "mean_mm": s.mean, "standard_deviation_mm": s.deviation, "middle_95_mm": list(s.middle_95)},
        "felt_diameter_mm": None if rim.felt is None else float(rim.felt.felt_diameter_mm),
        "rim_of_dimensions": dimensions_json(rim),
        "chart": chart_json(rim),
        "outline_mm": g.rim.curve.vertices.tolist(),
    }


def _reading_json(reading: Reading) -> dict[str, Any]:
    interval = [_number(reading.low), _number(reading.high)]
    return {"value": _number(reading.value), "standard_uncertainty": _number(reading.uncertainty),
            "interval_95": None if None in interval else interval, "definition": reading.definition}


def _number(value: float) -> float | str | None:
    return "flat" if isinf(value) else float(value) if isfinite(value) else None


def readings_table(rims: list[GaugedFile]) -> Table:
    """Every reading of every rim, a row each."""
    rows = []
    for rim in rims:
        g = rim.gauged
        for r in (*g.diameters, g.spread, *g.dimensions):
            cells = [_number(v) for v in (r.value, r.uncertainty, r.low, r.high)]
            rows.append((rim.name, r.name, r.unit, *("" if c is None else c for c in cells)))
    return Table(("rim", "reading", "unit", "value", "standard_uncertainty", "low_95", "high_95"), tuple(rows))


def outline_toml(rim: GaugedFile) -> str:
    """Write the fitted outline as the ``[rim]`` table of a case file."""
    rows = "\n".join(f"  [{r:.9g}, {s:.9g}, {b:.9g}]," for r, s, b in rim.gauged.rim.curve.vertices)
    head = f"# Arcs and lines of {rim.name}: paste this over the [rim] table of a case."
    return f"{head}\n[rim]\noutline_mm = [\n{rows}\n]\n"
