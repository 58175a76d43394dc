"""The command ``labrum gauge``: measured rims read, laid side by side, and on request pressed into one lip."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from labrum.cases.case_file.reading import case_from_table
from labrum.cases.exits import DONE, NOT_CONVERGED, CannotDo
from labrum.cases.gauging.dimensions_text import dimensioned_case, lip_radius
from labrum.cases.gauging.gauged_file import Chart, GaugedFile
from labrum.cases.gauging.profiles import Profile, read_profiles
from labrum.cases.gauging.text import gauge_json, gauge_tables, heard, outline_toml, readings_table
from labrum.cases.library.shelf import lip_names
from labrum.cases.manner import USUAL, Manner
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.result import as_json
from labrum.cases.solving.run_folder import RunFolder, whole_or_gone
from labrum.cases.solving.screen import Narrator, show
from labrum.meshes.dimensioning.chart_number import ChartNumber, explanations
from labrum.meshes.dimensioning.dimensioned import dimensioned_outline, dimensioned_trace
from labrum.meshes.faults import GeometryError
from labrum.meshes.gauges.gauge import disagreements, gauged, gauged_drawing
from labrum.meshes.gauges.reader_scatter import Aim, readers_scatter
from labrum.simulate.problem import NotConverged, Problem

ASKED_UNITS = {"mm": "mm", "inch": "inch", "in": "inch"}
MM_PER_INCH = 25.4
GAUGE_NOTE = "Uncertainties come from the trace's noise alone: the instrument's own errors come on top."


@dataclass(frozen=True)
class GaugeOrder:
    """What the command line asked for: ``out`` is the folder to make, None for none."""

    files: tuple[str, ...]
    unit: str | None = None
    layer: str | None = None
    depth: float = 1.0
    aim: Aim = field(default_factory=Aim)
    felt: bool = False
    lip: str = "average"
    force_n: float = 20.0
    out: Path | None = None
    said: str | None = None
    manner: Manner = USUAL


class BadGaugeOptions(CannotDo):
    """Options that cannot be used: every fault found."""


def run_gauge(order: GaugeOrder) -> int:
    """Do the job and return its exit code: the readings go to stdout, all else to stderr."""
    return conducted(partial(_gauge, order), order.manner, reading="file")


def _gauge(order: GaugeOrder, narrator: Narrator) -> int:
    _check(order)
    with _folder(order.out, order.manner.force) as folder:
        unit = ASKED_UNITS[order.unit] if order.unit else None
        profiles = read_profiles(order.files, unit, order.layer)
        rims = [_gauged(name, file, profile, order)
                for name, file, profile in zip(_names(order.files), order.files, profiles, strict=True)]
        for profile, rim in zip(profiles, rims, strict=True):
            # The tables hold the notes; beside JSON a person reads them here.
            for text in (profile.invented, *(heard(rim) if order.manner.json else ())):
                if text:
                    narrator.say(f"{rim.file}: {text}")
        code = DONE
        if order.felt:
            rims, code = _felt(order, rims, narrator)
        if folder is not None:
            _keep(folder, rims, order.lip, order.force_n)
    if folder is not None:
        narrator.say(f"kept in {order.out}")
    apart = disagreements([r.gauged for r in rims])
    show(as_json(gauge_json(rims, apart)) if order.manner.json else gauge_tables(rims, apart))
    return code


def _gauged(name: str, file: str, profile: Profile, order: GaugeOrder) -> GaugedFile:
    measured, rim = profile.measured, profile.rim
    read = gauged_drawing(rim, order.depth) if measured is None else gauged(measured, order.depth)
    try:
        said = dimensioned_outline(rim) if measured is None else dimensioned_trace(measured)
    except GeometryError:
        said = None
    chart = None
    if order.said is not None:
        known = said.dimensions if said is not None and said.is_said else None
        chart = Chart(order.said, explanations(read, known, chart_number(order.said)))
    return GaugedFile(name, file, read, readers_scatter(rim, order.aim), said, chart)


def chart_number(text: str) -> ChartNumber:
    """Read a chart's number, mm or with ``in`` behind it inches, good to half of its last digit.

    Raises
    ------
    ValueError
        If it is none.
    """
    found = re.fullmatch(r"\s*(\d{1,3}(?:\.(\d{1,6}))?)\s*(mm|in|inch)?\s*", text)
    if found is None or float(found[1]) == 0.0:
        raise ValueError(text)
    unit = MM_PER_INCH if (found[3] or "mm").startswith("in") else 1.0
    return ChartNumber(float(found[1]) * unit, 0.5 * 10.0 ** -len(found[2] or "") * unit)


def _check(order: GaugeOrder) -> None:
    faults = []
    if order.unit is not None and order.unit not in ASKED_UNITS:
        faults.append(f"--unit: got {order.unit}, allowed mm or inch")
    if not 0.01 <= order.depth <= 20.0:
        faults.append(f"--depth: got {order.depth:g}, allowed 0.01 to 20 mm")
    if order.lip not in lip_names():
        faults.append(f"--lip: got {order.lip}, allowed {', '.join(lip_names())}")
    if not 0.01 <= order.force_n <= 500.0:
        faults.append(f"--force-n: got {order.force_n:g}, allowed from 0.01 to 500 N")
    if order.said is not None:
        try:
            chart_number(order.said)
        except ValueError:
            faults.append(f"--said: got {order.said}, allowed a diameter such as 16.5, or 0.650in")
    if len(order.files) > 6:
        faults.append(f"files: got {len(order.files)}, allowed up to 6 at a time")
    if faults:
        raise BadGaugeOptions("\n".join(faults))


def _names(files: tuple[str, ...]) -> list[str]:
    """Name each rim by its file, with a number where two files have one name."""
    stems = [Path(f).stem for f in files]
    return [stem if stems.count(stem) == 1 else f"{stem}-{i}" for i, stem in enumerate(stems, 1)]


def _felt(order: GaugeOrder, rims: list[GaugedFile], narrator: Narrator) -> tuple[list[GaugedFile], int]:
    """Press every rim into one lip; a rim that does not converge has no felt diameter and sets the exit code."""
    from labrum.simulate import solve  # only --felt needs the solver

    out, code = [], DONE
    radius = max(lip_radius(r.gauged.rim) for r in rims)
    for rim in rims:
        narrator.say(f"solving: {rim.name} on the lip {order.lip!r}, {order.force_n:g} N")
        try:
            problem = _problem(order, rim, radius)
            outcome = solve(problem, progress=narrator.listener(problem))
            out.append(replace(rim, felt=outcome.measures))
        except NotConverged as stop:
            narrator.tell(f"labrum: {rim.name}: not converged: {stop}")
            out.append(rim)
            code = NOT_CONVERGED
    return out, code


def _problem(order: GaugeOrder, rim: GaugedFile, radius: float) -> Problem:
    shape = rim.gauged.rim
    tables = {
        "schema": 1,
        "title": rim.name,
        "rim": {"outline_mm": shape.curve.vertices.tolist()},
        "lip": {"type": order.lip, "radius_mm": radius},
        "load": {"force_n": order.force_n},
    }
    return replace(case_from_table(tables, rim.file).problem, rim=shape)


@contextmanager
def _folder(target: Path | None, force: bool) -> Iterator[RunFolder | None]:
    """Make the folder under a temporary name, and give it its own when all is in it."""
    if target is None:
        yield None
        return
    with whole_or_gone(target, force) as kept:
        yield kept.folder


def _keep(folder: RunFolder, rims: list[GaugedFile], lip: str, force: float) -> None:
    from labrum.reports.figures.gauged_rim import (
        gauge_figure,
        gauge_table,
        gauged_overlay_figure,
        overlay_table,
        scatter_figure,
        scatter_table,
    )
    from labrum.reports.house_style.figure_data import write_csv
    from labrum.reports.house_style.saving import save

    apart = disagreements([r.gauged for r in rims])
    folder.write_json("gauge.json", gauge_json(rims, apart))
    folder.write("readings.txt", gauge_tables(rims, apart) + "\n")
    write_csv(readings_table(rims), folder.place / "readings.csv")
    figures, names = folder.place / "figures", [r.name for r in rims]
    for rim in rims:
        folder.write(f"outlines/{rim.name}.toml", outline_toml(rim))
        if rim.said is not None:
            folder.write(f"cases/{rim.name}.toml", dimensioned_case(rim, rim.said, lip, force))
        picture = gauge_figure(rim.gauged, f"{rim.name}, gauged", GAUGE_NOTE)
        save(picture, gauge_table(rim.gauged), figures, rim.name, ("svg", "pdf", "png"))
    if len(rims) > 1:
        shapes = [r.gauged for r in rims]
        title = "Laid over each other at the high point"
        save(gauged_overlay_figure(shapes, names, title, GAUGE_NOTE), overlay_table(shapes, names), figures, "overlay",
             ("svg", "pdf", "png"))
    scatters = [r.scatter for r in rims]
    aim = scatters[0].aim
    note = (f"{aim.readers} simulated readers whose aim errs by {aim.angle_deg:g}° and {aim.depth_mm:g} mm "
            "(standard deviations, assumed).")
    save(scatter_figure(scatters, names, "What people with callipers would read", note),
         scatter_table(scatters, names), figures, "readers", ("svg", "pdf", "png"))
