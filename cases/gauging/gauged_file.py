"""One file that was gauged, with all that was asked about it."""

from __future__ import annotations

from dataclasses import dataclass

from labrum.meshes.dimensioning.chart_number import Explanation
from labrum.meshes.dimensioning.dimensioned import DimensionedRim
from labrum.meshes.gauges.gauge import Gauged
from labrum.meshes.gauges.reader_scatter import Scatter
from labrum.simulate.measures.catalogue import Measures


@dataclass(frozen=True)
class Chart:
    """A chart's number as it was given, and the readings that could have given it."""

    said: str
    found: tuple[Explanation, ...]


@dataclass(frozen=True)
class GaugedFile:
    """A file that was gauged.

    ``said`` is the rim of dimensions nearest to it, None where nothing like it can be drawn; ``chart`` and ``felt``
    hold what was asked about a chart's number and what pressing it into a lip gave.
    """

    name: str
    file: str
    gauged: Gauged
    scatter: Scatter
    said: DimensionedRim | None = None
    chart: Chart | None = None
    felt: Measures | None = None
