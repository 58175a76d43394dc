"""A case whose rim is a trace or an outline as a case of dimensions: what may then be varied, and how far off it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import isfinite
from typing import TYPE_CHECKING, Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.cases.case_file.schema import RIM_DIMENSIONS, RIM_FORMS
from labrum.meshes.faults import Fault, GeometryError

if TYPE_CHECKING:
    from labrum.meshes.dimensioning.dimensioned import DimensionedRim

NEAREST = "labrum gauge {} --out FOLDER writes the nearest that can be said: take that case"


@dataclass(frozen=True)
class InDimensions:
    """A case of dimensions in place of one without, and the sentence that says so."""

    case: Case
    words: str


def is_traced(case: Case) -> bool:
    """Is the case's rim a measured trace?"""
    return "trace" in case.resolved["rim"]


def has_no_dimensions(case: Case) -> bool:
    """Is the case's rim a measured trace or a drawn outline?"""
    return not case.resolved["rim"].keys().isdisjoint(RIM_FORMS)


def needs_dimensions(case: Case, paths: Iterable[tuple[str, str]]) -> bool:
    """Does a plan vary dimensions of a rim that has none?"""
    return has_no_dimensions(case) and any(table == "rim" and name in RIM_DIMENSIONS for table, name in paths)


def rim_table(said: DimensionedRim) -> dict[str, Any]:
    """Return the ``[rim]`` of a rim of dimensions: numbers, or ``"flat"``."""
    values = {key: float(getattr(said.dimensions, key)) for key in RIM_DIMENSIONS}
    return {key: value if isfinite(value) else "flat" for key, value in values.items()}


def said_in_dimensions(case: Case) -> DimensionedRim:
    """Say a rim without dimensions in dimensions: a trace by its points, an outline by points along it.

    Raises
    ------
    GeometryError
        If no dimensions come near.
    """
    # Few cases need it, and it takes a while to load.
    from labrum.meshes.dimensioning.dimensioned import dimensioned_outline, dimensioned_trace
    from labrum.meshes.traces.trace import measured_rim

    return dimensioned_trace(measured_rim(case.inputs[0])) if is_traced(case) else dimensioned_outline(case.problem.rim)


def in_dimensions(case: Case, file: str = "case") -> InDimensions:
    """Say a case whose rim has no dimensions in dimensions; ``file`` names it in faults.

    Raises
    ------
    InvalidCase
        If no dimensions say that rim.
    """
    key, kind, given = ("rim.trace", "trace", "TRACE") if is_traced(case) else ("rim.outline_mm", "outline", "CASE")
    try:
        said = said_in_dimensions(case)
        refused = said.refusal()
    except GeometryError:
        said, refused = None, "no dimensions come near this rim"
    if said is None or refused:
        fault = Fault(key, refused, "a rim that dimensions say, where they are to be varied", NEAREST.format(given))
        raise InvalidCase((CaseFault(file, None, fault),))
    tables = {**case.resolved, "rim": rim_table(said)}
    words = (f"the rim of this {kind} is varied through its dimensions, which stand off it by up to "
             f"{said.departure.words()}" + "".join(f"; {note}" for note in said.notes))
    return InDimensions(replace(case_from_table(tables, file), presets=case.presets), words)
