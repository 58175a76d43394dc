"""From the tables of a case to a problem: each table by itself, then whether they fit together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from labrum.cases.case_file.faults import Findings
from labrum.cases.case_file.lip import ReadLip, read_lip
from labrum.cases.case_file.load import ReadLoad, read_load
from labrum.cases.case_file.rim import ReadRim, read_rim
from labrum.cases.case_file.schema import ACCURACY, OFF_AXIS, READINGS, SCHEMA, TOP
from labrum.cases.case_file.tables import read_table
from labrum.cases.case_file.values import shown
from labrum.simulate.postures.asked import Posture, over_the_mean
from labrum.simulate.problem import Accuracy, Lip, Load, Problem

ASKED = OFF_AXIS.name


@dataclass(frozen=True)
class Case:
    """A case that can be solved.

    Parameters
    ----------
    problem
        For the solver.
    resolved
        The case with every default filled in and the library's values in place, readable again as a case.
    presets
        Names of what came from the library: ``lip`` and ``load``, where it did.
    inputs
        Files the case drew on besides itself.
    warnings
        What deserves a second look.
    given
        The case as it was given; empty where it did not come from a text.
    """

    problem: Problem
    resolved: dict[str, Any]
    presets: dict[str, str]
    inputs: tuple[Path, ...] = ()
    warnings: tuple[str, ...] = ()
    given: bytes = b""


def build(raw: dict[str, Any], folder: Path, title: str, findings: Findings) -> Case | None:
    """Build the case from its tables; None where ``findings`` now holds faults.

    ``folder`` is where a trace's path counts from, ``title`` stands in for one left out.
    """
    top = {"title": title, **read_table(TOP, raw, (), findings)}
    rim = read_rim(raw.get("rim", {}), folder, findings)
    lip = read_lip(raw.get("lip", {}), findings)
    load = read_load(raw.get("load", {}), findings)
    accuracy = read_table(ACCURACY, raw.get("accuracy", {}), ("accuracy",), findings)
    off_axis = read_table(OFF_AXIS, raw[ASKED], (ASKED,), findings) if ASKED in raw else None
    readings = read_table(READINGS, raw.get("readings", {}), ("readings",), findings)
    _note_misfits(rim, lip, findings)
    _note_teeth_that_turn_back(off_axis, lip, findings)
    if findings.faults or rim.rim is None or lip.lip is None or load.load is None:
        return None
    load = _with_breath_that_pushes(lip.lip, load)
    assert load.load is not None
    _remark(rim, lip.lip, load.load, findings)
    problem = Problem(
        top["title"], rim.rim, lip.lip, load.load, Accuracy(**accuracy), _posture(off_axis), **readings
    )
    resolved = {
        "schema": SCHEMA,
        "title": top["title"],
        "rim": rim.resolved,
        "lip": lip.resolved,
        "load": load.resolved,
        "accuracy": accuracy,
        **({} if off_axis is None else {ASKED: off_axis}),
        "readings": readings,
    }
    return Case(problem, resolved, _presets(raw), rim.inputs)


def with_vibration(case: Case) -> Case:
    """The same case, its vibration asked for."""
    asked = {**case.resolved, "readings": {**case.resolved["readings"], "vibration": True}}
    return replace(case, problem=replace(case.problem, vibration=True), resolved=asked)


def _presets(raw: dict[str, Any]) -> dict[str, str]:
    named = {"lip": raw["lip"].get("type"), "load": raw["load"].get("preset")}
    return {table: name for table, name in named.items() if name is not None}


def _note_misfits(rim: ReadRim, lip: ReadLip, findings: Findings) -> None:
    radius, opening = lip.values.get("radius_mm"), lip.values.get("opening_radius_mm")
    if rim.outer_radius is not None and radius is not None and radius <= rim.outer_radius:
        allowed = f"more than {rim.outer_radius:g} mm, the rim's outer radius"
        findings.fault(("lip", "radius_mm"), shown(radius), allowed, "the rim is wider than the lip disc")
    if rim.inner_radius is not None and opening is not None and opening >= rim.inner_radius:
        allowed = f"less than {rim.inner_radius:g} mm, the rim's inner radius"
        findings.fault(
            ("lip", "opening_radius_mm"), shown(opening), allowed, "the rim would press on the opening"
        )


def _remark(read: ReadRim, lip: Lip, load: Load, findings: Findings) -> None:
    rim = read.rim
    if rim is not None and lip.radius < rim.outer_radius + 0.5 * lip.thickness:
        enough = rim.outer_radius + lip.thickness
        text = f"the lip disc ends close outside the rim; from {enough:.1f} mm on its edge hardly matters"
        findings.remark(("lip", "radius_mm"), text)
    if rim is not None and lip.tooth_gap_radius >= rim.high_point_radius:
        text = "the tooth gap is wider than the rim's high point: no tooth stands behind the rim"
        findings.remark(("lip", "tooth_gap_radius_mm"), text)
    if lip.backing == "bonded" and lip.fold_radius != Lip.fold_radius:
        findings.remark(("lip", "fold_radius_mm"), "it changes nothing here: only a sliding back ends at the fold")
    if load.mouth_pressure > 0 and not _breath_pushes(lip):
        text = (
            "the mouth's pressure has nothing to push on: the back is bonded, "
            "lip.tooth_gap_radius_mm and lip.opening_radius_mm are 0"
        )
        findings.remark(("load", "mouth_pressure_kpa"), text)
    if load.muscle_activation > 0 and not any(
        layer.muscle and layer.active_stress > 0 for layer in lip.layers
    ):
        findings.remark(("load", "muscle_activation"), "no layer of the lip is a muscle that can contract")


def _with_breath_that_pushes(lip: Lip, read: ReadLoad) -> ReadLoad:
    """Leave out a preset's breath where it has nothing to push on: it came with the preset, and nobody asked for it."""
    if read.load is None or read.breath_asked_for or _breath_pushes(lip):
        return read
    resolved = {**read.resolved, "mouth_pressure_kpa": 0.0}
    return replace(read, load=replace(read.load, mouth_pressure=0.0), resolved=resolved)


def _breath_pushes(lip: Lip) -> bool:
    return lip.backing == "sliding" or lip.tooth_gap_radius > 0.0 or lip.opening_radius > 0.0


def asking_off_axis(case: Case) -> Case:
    """Ask what a tilt and a shift do, unless the case has an ``[off_axis]`` table that says what to ask."""
    if case.problem.posture is not None:
        return case
    values = read_table(OFF_AXIS, {}, (ASKED,), Findings())
    problem = replace(case.problem, posture=_posture(values))
    return replace(case, problem=problem, resolved={**case.resolved, ASKED: values})


def _posture(values: dict[str, Any] | None) -> Posture | None:
    """What is asked off the axis; the case's lip is the mean of both."""
    if values is None:
        return None
    return Posture(
        tilt_deg=values["tilt_deg"],
        arch_radius_mm=values.get("arch_radius_mm"),
        lower_stiffer=over_the_mean(values["lower_lip_stiffness"]),
        lower_thicker=over_the_mean(values["lower_lip_thickness"]),
    )


def _note_teeth_that_turn_back(off_axis: dict[str, Any] | None, lip: ReadLip, findings: Findings) -> None:
    arch, radius = (off_axis or {}).get("arch_radius_mm"), lip.values.get("radius_mm")
    if arch is not None and radius is not None and arch <= 0.5 * radius:
        allowed = f"more than {0.5 * radius:g} mm, half the lip's radius_mm"
        findings.fault((ASKED, "arch_radius_mm"), shown(arch), allowed, "the teeth would turn back under the lip")
