"""A profile that the page was given: its outline, and the dimensions that say it, for the page's sliders."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.dimensioning.traced_case import rim_table
from labrum.meshes.faults import GeometryError
from labrum.meshes.rims.outline import rim_from_outline

if TYPE_CHECKING:
    from labrum.meshes.dimensioning.dimensioned import DimensionedRim


def traced_profile(place: Path, name: str) -> dict[str, Any]:
    """Read a trace: ``outline_mm``, and ``dimensions`` as `dimensions_of` has them.

    Raises
    ------
    InvalidCase
        With every fault found; ``name`` is how the page calls the file.
    """
    from labrum.meshes.dimensioning.dimensioned import dimensioned_trace  # few pages need it, and it loads a while
    from labrum.meshes.traces.trace import measured_rim

    try:
        measured = measured_rim(place)
        vertices: list[list[float]] = measured.rim.curve.vertices.tolist()
        rim_from_outline(vertices)
    except GeometryError as error:
        raise InvalidCase(tuple(CaseFault(name, None, fault) for fault in error.faults)) from None
    return {"outline_mm": vertices, "dimensions": _in_sliders(lambda: dimensioned_trace(measured))}


def dimensions_of(case: Case) -> dict[str, Any] | None:
    """Say the rim of an opened case in dimensions: ``rim``, the keys, and ``words`` on how far off they are.

    None where the rim is drawn by dimensions, or by none that come near.
    """
    if not {"trace", "outline_mm"} & case.resolved["rim"].keys():
        return None
    from labrum.meshes.dimensioning.dimensioned import dimensioned_outline

    return _in_sliders(lambda: dimensioned_outline(case.problem.rim))


def _in_sliders(say: Callable[[], DimensionedRim]) -> dict[str, Any] | None:
    try:
        said = say()
    except GeometryError:
        return None
    words = said.refusal() or f"Its dimensions stand off it by up to {said.departure.words()}"
    return {"rim": rim_table(said), "words": "; ".join([words, *said.notes]), "is_said": said.is_said}
