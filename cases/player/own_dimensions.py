"""A rim that a sheet names as a rim of dimensions, so that these can be changed: its own, or those nearest to it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from labrum.cases.dimensioning.traced_case import rim_table
from labrum.cases.player.sheet import KnownRim
from labrum.meshes.faults import GeometryError


@dataclass(frozen=True)
class InOwnDimensions:
    """``rim`` drawn by dimensions, None where none say it; ``words`` tell how far off it is, or why there is none."""

    rim: KnownRim | None
    words: str = ""


def in_own_dimensions(rim: KnownRim) -> InOwnDimensions:
    """Say a rim in dimensions: as it is where it has them, else by least squares on its trace or outline."""
    if rim.dimensions is not None:
        return InOwnDimensions(rim)
    # few rims need it, and it takes a while to load
    from labrum.meshes.dimensioning.dimensioned import dimensioned_outline, dimensioned_trace
    from labrum.meshes.traces.trace import measured_rim

    try:
        trace = rim.table.get("trace")
        said = dimensioned_outline(rim.rim) if trace is None else dimensioned_trace(measured_rim(Path(trace)))
    except GeometryError:
        return InOwnDimensions(None, f"no dimensions draw anything like {rim.name}")
    if not said.is_said:
        return InOwnDimensions(None, said.refusal())
    words = f"{rim.name} is changed through its dimensions, which stand off it by up to {said.departure.words()}"
    return InOwnDimensions(KnownRim(f"{rim.name}, in dimensions", said.rim, rim_table(said)), words)
