"""Measured profiles as files, CSV or DXF, whichever the name says."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from labrum.meshes.traces.csv_files import read_csv
from labrum.meshes.traces.raw_trace import (
    FARTHEST_MM,
    LARGEST_MM,
    SMALLEST_MM,
    TALLEST_MM,
    UNITS_MM,
    RawTrace,
    refuse,
)

MOST_BYTES = 12_000_000


def read_file(path: Path, unit: str | None = None, layer: str | None = None) -> RawTrace:
    """Read a CSV or DXF file; ``unit`` is asked of the user, ``layer`` chooses one layer of a DXF.

    Raises
    ------
    TraceError
        With every fault found.
    OSError
        If the file cannot be read.
    """
    if path.stat().st_size > MOST_BYTES:
        raise refuse(f"{path.stat().st_size} bytes", f"at most {MOST_BYTES} bytes")
    if path.suffix.lower() == ".dxf":
        from labrum.meshes.traces.dxf_files import read_dxf  # the DXF library takes a while to load

        raw = read_dxf(path, unit, layer)
    else:
        raw = read_csv(path.read_bytes(), unit)
    _check_size(raw)
    return raw


def _check_size(raw: RawTrace) -> None:
    """Catch inches read as mm, and the reverse, before anything else goes wrong because of them."""
    across = raw.points[:, 0]
    size = float(np.ptp(across) if raw.counts_from == "anywhere" or across.min() < 0 else across.max())
    if SMALLEST_MM <= size <= LARGEST_MM:
        _check_place(raw)
        return
    factor = UNITS_MM[raw.unit]
    slips = [u for u in ("inch", "mm", "um", "cm", "m") if u != raw.unit
             and SMALLEST_MM <= size / factor * UNITS_MM[u] <= LARGEST_MM]
    looks = f"this looks like {slips[0]} read as {raw.unit}" if slips else "no mouthpiece is of that size"
    raise refuse(f"a profile {size:.4g} mm across", f"{SMALLEST_MM:g} to {LARGEST_MM:g} mm", looks)


def _check_place(raw: RawTrace) -> None:
    tall, far = float(np.ptp(raw.points[:, 1])), float(np.abs(raw.points).max())
    if tall > TALLEST_MM:
        raise refuse(f"a profile {tall:.4g} mm high", f"at most {TALLEST_MM:g} mm")
    if far > FARTHEST_MM:
        raise refuse(f"points {far:.4g} mm from the file's origin", f"at most {FARTHEST_MM:g} mm",
                     "so far out the digits of the file run short")
