"""The command ``labrum gauge``: measured rims read, laid side by side, and on request pressed into one lip."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from math import ceil
from pathlib import Path

from labrum.cases.case_file.reading import case_from_table
from labrum.cases.exits import DONE, NOT_CONVERGED, BadInput, CannotDo, Ending, ended
from labrum.cases.gauging.text import GaugedFile, gauge_json, gauge_tables, outline_toml, readings_table
from labrum.cases.library.shelf import demo_place, lip_names
from labrum.cases.places import is_file, reason_of
from labrum.cases.solving.result import as_json
from labrum.cases.solving.run_folder import RunFolder, whole_or_gone
from labrum.cases.solving.screen import Narrator, show
from labrum.meshes.gauges.gauge import disagreements, gauged
from labrum.meshes.gauges.reader_scatter import Aim, readers_scatter
from labrum.meshes.traces.raw_trace import TraceError
from labrum.meshes.traces.trace import MeasuredRim, measured_rim
from labrum.simulate.problem import NotConverged, Problem

ASKED_UNITS = {"mm": "mm", "inch": "inch", "in": "inch"}
DEMO = "demo-trace"
INVENTED = "demo-trace is an invented rim, not a measured one"
# The lip disc of --felt, one for all rims: this large, or so far beyond the widest of them.
LIP_RADIUS_MM, BEYOND_MM = 25.0, 12.0
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
    force: float = 20.0
    out: Path | None = None
    json: bool = False
    quiet: bool = False
    debug: bool = False


class BadTraces(BadInput):
    """Files that cannot be gauged: every fault of every file, each with its place."""


class BadGaugeOptions(CannotDo):
    """Options that cannot be used: every fault found."""


def run_gauge(order: GaugeOrder) -> int:
    """Do the job and return its exit code: the readings go to stdout, all else to stderr."""
    narrator = Narrator(sys.stderr, order.quiet)
    return ended(lambda teller: _gauge(order, teller), narrator, Ending(order.debug, reading="file"))


def _gauge(order: GaugeOrder, narrator: Narrator) -> int:
    _check(order)
    with _folder(order.out) as folder:
        measured = _read_all(order)
        for place, rim in zip(order.files, measured, strict=True):
            # The tables hold the notes; beside JSON a person reads them here.
            for text in (*((INVENTED,) if place == DEMO else ()), *(rim.notes if order.json else ())):
                narrator.say(f"{place}: {text}")
        names = _names(order.files)
        rims = [GaugedFile(name, file, gauged(rim, order.depth), readers_scatter(rim.rim, order.aim))
                for name, file, rim in zip(names, order.files, measured, strict=True)]
        code = DONE
        if order.felt:
            rims, code = _felt(order, rims, narrator)
        if folder is not None:
            _keep(folder, rims)
    if folder is not None:
        narrator.say(f"kept in {order.out}")
    apart = disagreements([r.gauged for r in rims])
    show(as_json(gauge_json(rims, apart)) if order.json else gauge_tables(rims, apart))
    return code


def _check(order: GaugeOrder) -> None:
    faults = []
    if order.unit is not None and order.unit not in ASKED_UNITS:
        faults.append(f"--unit: got {order.unit}, allowed mm or inch")
    if not 0.01 <= order.depth <= 20.0:
        faults.append(f"--depth: got {order.depth:g}, allowed 0.01 to 20 mm")
    if order.felt and order.lip not in lip_names():
        faults.append(f"--lip: got {order.lip}, allowed {', '.join(lip_names())}")
    if order.felt and not 0.01 <= order.force <= 500.0:
        faults.append(f"--force: got {order.force:g}, allowed from 0.01 to 500 N")
    if len(order.files) > 6:
        faults.append(f"files: got {len(order.files)}, allowed up to 6 at a time")
    if faults:
        raise BadGaugeOptions("\n".join(faults))


def _read_all(order: GaugeOrder) -> list[MeasuredRim]:
    """Read every file before giving up, so that all faults are told at once."""
    rims, faults = [], []
    for place in order.files:
        try:
            rims.append(_read(place, order))
        except TraceError as error:
            faults += [f"{place}{'' if line is None else f':{line}'}: got {f.got}, allowed {f.allowed}"
                       f"{f' ({f.hint})' if f.hint else ''}" for f, line in zip(error.faults, error.lines, strict=True)]
        except (OSError, ValueError) as error:
            got = reason_of(error) if isinstance(error, OSError) else str(error)
            faults.append(f"{place}: got {got}, allowed a readable CSV or DXF file")
    if faults:
        raise BadTraces("\n".join(faults))
    return rims


def _read(place: str, order: GaugeOrder) -> MeasuredRim:
    unit = ASKED_UNITS[order.unit] if order.unit else None
    if place == DEMO and not is_file(Path(place)):
        return measured_rim(demo_place() / f"{DEMO}.csv")
    return measured_rim(Path(place), unit, order.layer)


def _names(files: tuple[str, ...]) -> list[str]:
    """Name each rim by its file, with a number where two files have one name."""
    stems = [Path(f).stem for f in files]
    return [stem if stems.count(stem) == 1 else f"{stem}-{i}" for i, stem in enumerate(stems, 1)]


def _felt(order: GaugeOrder, rims: list[GaugedFile], narrator: Narrator) -> tuple[list[GaugedFile], int]:
    """Press every rim into one lip; a rim that does not converge has no felt diameter and sets the exit code."""
    from labrum.simulate import solve  # only --felt needs the solver

    out, code = [], DONE
    radius = max(LIP_RADIUS_MM, *(ceil(r.gauged.measured.rim.outer_radius + BEYOND_MM) for r in rims))
    for rim in rims:
        narrator.say(f"solving: {rim.name} on the lip {order.lip!r}, {order.force:g} N")
        try:
            outcome = solve(_problem(order, rim, radius), progress=narrator.progress)
            out.append(replace(rim, felt=outcome.measures))
        except NotConverged as stop:
            narrator.tell(f"labrum: {rim.name}: not converged: {stop}")
            out.append(rim)
            code = NOT_CONVERGED
    return out, code


def _problem(order: GaugeOrder, rim: GaugedFile, radius: float) -> Problem:
    shape = rim.gauged.measured.rim
    tables = {
        "schema": 1,
        "title": rim.name,
        "rim": {"outline_mm": shape.curve.vertices.tolist()},
        "lip": {"type": order.lip, "radius_mm": radius},
        "load": {"force_n": order.force},
    }
    return replace(case_from_table(tables, rim.file).problem, rim=shape)


@contextmanager
def _folder(target: Path | None) -> Iterator[RunFolder | None]:
    """Make the folder under a temporary name, and give it its own when all is in it."""
    if target is None:
        yield None
        return
    with whole_or_gone(target) as kept:
        yield kept.folder


def _keep(folder: RunFolder, rims: list[GaugedFile]) -> None:
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
