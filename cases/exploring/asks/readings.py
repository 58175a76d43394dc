"""How the rim reads: its inner diameter by every convention, off the drawing or off a measured trace."""

from __future__ import annotations

import tempfile
from math import isfinite
from pathlib import Path

from labrum.cases.case_file.building import Case
from labrum.cases.exits import BadInput
from labrum.cases.exploring.asks.answer import Files, FurtherAnswer, PageTable, Tell, rows_of_cells
from labrum.cases.gauging.text import mm_and_thou
from labrum.meshes.gauges.readings import CONVENTIONS, diameters, spread_of_readings

GAUGED_NOTE = "± is twice the standard uncertainty, from the trace's noise alone; the instrument's errors come on top."


def read_by_gauges(case: Case, files: Files, tell: Tell) -> FurtherAnswer:
    """Read the page's rim by every convention, and a measured trace beside it where one was sent."""
    own = diameters(case.problem.rim)
    words = [f"The conventions read this rim up to {spread_of_readings(own):.2f} mm apart."]
    table = PageTable(
        "Inner diameter of the rim shown",
        ("read by", "how", "mm"),
        rows_of_cells([(c.label, c.definition, _written(own[c.name])) for c in CONVENTIONS]),
    )
    traced = [_of_trace(name, text, tell) for name, text in files.items()]
    words += [sentence for sentences, _ in traced for sentence in sentences]
    return FurtherAnswer(tuple(words), (table, *(table for _, table in traced)))


def _of_trace(name: str, text: str, tell: Tell) -> tuple[list[str], PageTable]:
    from labrum.meshes.gauges.gauge import gauged  # reads traces, which few questions need
    from labrum.meshes.traces.raw_trace import TraceError
    from labrum.meshes.traces.trace import measured_rim

    tell({"share": 0.2, "words": f"reading {name}"})
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder, Path(name).name or "trace")
        place.write_text(text, encoding="utf-8")
        try:
            measured = measured_rim(place)
        except TraceError as error:
            faults = "; ".join(f"got {f.got}, allowed {f.allowed}" for f in error.faults)
            raise BadInput(f"{name}: {faults}") from error
    found = gauged(measured)
    words = [
        f"{name}: {measured.measured} points; the conventions read it {found.spread.value:.2f} mm apart. {GAUGED_NOTE}",
        *measured.notes,
    ]
    rows = [(r.label, r.definition, mm_and_thou(r).replace("+-", "±")) for r in found.diameters]
    return words, PageTable(f"Inner diameter of {name}", ("read by", "how", "reading"), rows_of_cells(rows))


def _written(value: float) -> str:
    return f"{value:.3f}" if isfinite(value) else "no such place on this rim"
