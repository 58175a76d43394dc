"""A traced case as a case of dimensions: what may then be varied, and how far off it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import isfinite
from typing import TYPE_CHECKING, Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.cases.case_file.schema import RIM_DIMENSIONS
from labrum.meshes.faults import Fault

if TYPE_CHECKING:
    from labrum.meshes.dimensioning.dimensioned import DimensionedRim

NEAREST = "labrum gauge TRACE --out FOLDER writes the nearest that can be said: take that case"


@dataclass(frozen=True)
class InDimensions:
    """A case of dimensions in place of a traced one, and the sentence that says so."""

    case: Case
    words: str


def is_traced(case: Case) -> bool:
    """Is the case's rim a measured trace?"""
    return "trace" in case.resolved["rim"]


def needs_dimensions(case: Case, paths: Iterable[tuple[str, str]]) -> bool:
    """Does a plan vary dimensions of a rim that is a trace?"""
    return is_traced(case) and any(table == "rim" and name in RIM_DIMENSIONS for table, name in paths)


def rim_table(said: DimensionedRim) -> dict[str, Any]:
    """Return the ``[rim]`` of a rim of dimensions: numbers, or ``"flat"``."""
    values = {key: float(getattr(said.dimensions, key)) for key in RIM_DIMENSIONS}
    return {key: value if isfinite(value) else "flat" for key, value in values.items()}


def in_dimensions(case: Case, file: str = "case") -> InDimensions:
    """Say a traced case in dimensions; ``file`` names it in faults.

    Raises
    ------
    InvalidCase
        If no dimensions say that rim.
    """
    # Few cases need it, and it takes a while to load.
    from labrum.meshes.dimensioning.dimensioned import dimensioned_trace
    from labrum.meshes.traces.trace import measured_rim

    said = dimensioned_trace(measured_rim(case.inputs[0]))
    if not said.is_said:
        fault = Fault("rim.trace", said.refusal(), "a rim that dimensions say, where they are to be varied", NEAREST)
        raise InvalidCase((CaseFault(file, None, fault),))
    tables = {**case.resolved, "rim": rim_table(said)}
    words = ("the traced rim is varied through its dimensions, which stand off the trace by up to "
             f"{said.departure.words()}" + "".join(f"; {note}" for note in said.notes))
    return InDimensions(replace(case_from_table(tables, file), presets=case.presets), words)
