"""From a file of measured points to a rim: read, put in order, placed on its axis, fitted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.faults import Fault, GeometryError
from labrum.meshes.rims.outline import lowest_place, rim_from_outline
from labrum.meshes.rims.rim import SMALLEST_RADIUS_MM, Rim
from labrum.meshes.traces.arc_fit import ProfileFit, fit_profile
from labrum.meshes.traces.chains import FreeChain
from labrum.meshes.traces.files import read_file
from labrum.meshes.traces.folding import NOISY_POSTS, folded
from labrum.meshes.traces.ordering import POST_MM, Ordered, ordered
from labrum.meshes.traces.raw_trace import KEY, CountsFrom, RawTrace, TraceError, refuse
from labrum.meshes.traces.segmentation import alike_noise_of, noise_of
from labrum.meshes.traces.symmetry import Placed, placed

# A fit need not be closer than this, however clean the points: half a micrometre.
FINEST_MM = 0.0005
# Noise beyond this hides a sharp bite.
COARSEST_MM = 0.1
LEVEL_SLOPE = 1e-4
# A fit with more than so many times the noise is worth a word; so is a bite so near the least radius, and an
# outside that still grows by this much for its height.
WAVY, SHARP_RADII, UPRIGHT = 1.5, 2.0, 0.1


@dataclass(frozen=True)
class MeasuredRim:
    """A rim read from measured points.

    Parameters
    ----------
    rim
        In its own frame: s = 0 at the high point.
    fit
        The chain in the frame of ``points``, and its uncertainty.
    points, side
        (n, 2) points in the rim's frame, mm, in the order of travel, and (n,) which half each came from, 1 or
        -1.
    gaps
        (g, 2, 2) places, in the rim's frame, between which nothing was measured.
    measured
        How many points the file held.
    unit
        Of the file.
    notes
        What was found, corrected and left out.
    axis_uncertainty
        Standard uncertainty of the axis' place, mm; 0 where the file's was taken.
    """

    rim: Rim
    fit: ProfileFit
    points: Floats
    side: Floats
    gaps: Floats
    measured: int
    unit: str
    notes: tuple[str, ...]
    axis_uncertainty: float

    def curve_of(self, chain: FreeChain) -> Curve:
        """Bring a chain of the fit's frame into the rim's: cut to the measured stretch, lowest point at 0."""
        curve = trimmed(chain, self.points + np.array([0.0, self.lift]))
        return curve.translated(0.0, -lowest_place(curve)[1])

    @property
    def lift(self) -> float:
        """Height of the high point in the fit's frame, mm."""
        return lowest_place(self.fit.chain.curve)[1]


def rim_from_trace(path: Path) -> Rim:
    """Read a measured profile as a rim: what ``[rim] trace`` in a case file names.

    Raises
    ------
    GeometryError
        With every fault found, each under the key ``rim.trace``.
    OSError
        If the file cannot be read.
    """
    try:
        return measured_rim(path).rim
    except TraceError as error:
        raise GeometryError(tuple(
            f if line is None else replace(f, got=f"line {line}: {f.got}")
            for f, line in zip(error.faults, error.lines, strict=True))) from None


def measured_rim(path: Path, unit: str | None = None, layer: str | None = None) -> MeasuredRim:
    """Read a file of points, CSV or DXF, as a measured rim; see `read_file` and `rim_of_points`."""
    return rim_of_raw(read_file(path, unit, layer))


def rim_of_points(points: Floats, counts_from: CountsFrom = "axis") -> MeasuredRim:
    """Read (n, 2) points across and height, mm, in any order, as a measured rim.

    Raises
    ------
    TraceError
        If the points are no rim, or hide what makes one.
    """
    return rim_of_raw(RawTrace(np.asarray(points, dtype=np.float64), counts_from, "mm"))


def rim_of_raw(raw: RawTrace) -> MeasuredRim:
    """Read the points of a file as a measured rim.

    Raises
    ------
    TraceError
        If the points are no rim, or hide what makes one.
    """
    first, noise = _in_order(raw.points)
    lay = _placed(first.points, raw.counts_from)
    whole = folded(lay, first, noise)
    order = whole.order
    fit = _fit(order, noise)
    notes = (*raw.notes, *_order_notes(first, lay), *lay.notes, *whole.notes)
    try:
        curve = trimmed(fit.chain, order.points)
        rim = rim_from_outline(leveled(curve, fit.chain), source="trace")
    except GeometryError as error:
        raise TraceError(tuple(_named(f) for f in error.faults)) from None
    low = lowest_place(fit.chain.curve)[1]
    gaps = _gap_places(fit.chain, order, low)
    _check_gaps(rim, gaps)
    notes += tuple(_fit_notes(rim, fit, noise))
    notes += tuple(f"nothing measured from {_place(a)} to {_place(b)} mm" for a, b in gaps)
    return MeasuredRim(rim, fit, whole.points - (0.0, low), whole.side, gaps, len(raw.points), raw.unit, notes,
                       lay.axis_uncertainty)


def _fit(order: Ordered, noise: float) -> ProfileFit:
    alike = max(alike_noise_of(order.points, order.weights), FINEST_MM)
    try:
        return fit_profile(order.points, order.weights, alike)
    except ValueError:
        raise refuse(f"a profile that no few arcs and lines follow (points scatter by {noise:.4f} mm)",
                     "a turned rim: arcs and lines", "measure with less waviness, or leave other parts out") from None


def _placed(points: Floats, counts_from: CountsFrom) -> Placed:
    """Place the points; a drawing that makes no rim as it stands may have its axis along x, as on a lathe."""
    try:
        return placed(points, counts_from)
    except TraceError:
        if counts_from != "unsaid":
            raise
        try:
            lay = placed(points[:, ::-1], counts_from)
        except TraceError:
            lay = None
        if lay is None:
            raise
    return replace(lay, notes=("the axis runs along the first coordinate, as on a lathe: exchanged", *lay.notes))


def _in_order(points: Floats) -> tuple[Ordered, float]:
    """Order the points and tell their noise; again with posts farther apart where there is much of it."""
    first = ordered(points)
    noise = noise_of(first.points, first.weights)
    if POST_MM < NOISY_POSTS * noise < NOISY_POSTS * COARSEST_MM:
        first = ordered(points, NOISY_POSTS * noise)
        noise = noise_of(first.points, first.weights)
    if noise > COARSEST_MM:
        raise refuse(f"points that stand {noise:.3f} mm off any line or arc through their neighbours",
                     f"noise of at most {COARSEST_MM} mm", "measure with less noise, or with points closer together")
    return first, max(noise, FINEST_MM)


def trimmed(chain: FreeChain, points: Floats) -> Curve:
    """Cut the chain to what was measured, and at the axis."""
    curve = chain.curve
    feet = curve.nearest(points).arc_length
    first, last = float(feet.min()), float(feet.max())
    if curve.is_arc[0]:  # beyond an arc the curve goes on straight, which is no part of the profile
        first = max(first, 0.0)
    if curve.is_arc[-1]:
        last = min(last, curve.length)
    before = curve.at(np.linspace(first, last, 400))
    if (before[:, 0] < 0).any():
        k = int(np.flatnonzero(before[:, 0] < 0).max())
        first = _on_axis(curve, *np.linspace(first, last, 400)[k : k + 2])
    return _stretch(curve, first, last)


def _on_axis(curve: Curve, inside: float, outside: float) -> float:
    """Arc length at which the curve leaves the axis r = 0, by halving."""
    for _ in range(60):
        middle = 0.5 * (inside + outside)
        if curve.at(middle)[0, 0] < 0:
            inside = middle
        else:
            outside = middle
    return outside


def _stretch(curve: Curve, first: float, last: float) -> Curve:
    """Part of a curve between two arc lengths, its straight continuations included."""
    inner = curve.offset[1:-1]
    inner = inner[(inner > first + 1e-6) & (inner < last - 1e-6)]
    ends = np.concatenate([[first], inner, [last]])
    piece = curve.piece_at(0.5 * (ends[1:] + ends[:-1]))
    bulge = np.tan(0.25 * curve.curvature[piece] * np.diff(ends))
    places = curve.at(ends)
    places[np.abs(places[:, 0]) < 1e-12, 0] = 0.0
    return Curve.from_vertices(np.column_stack([places, np.append(bulge, 0.0)]))


def leveled(curve: Curve, chain: FreeChain) -> Floats:
    """Vertices of the curve; what the fit ties to level is level to the last bit, so that its middle is found."""
    rows = curve.vertices.copy()
    if np.isfinite(chain.tied[~chain.is_arc]).any():
        flat = np.abs(np.diff(rows[:, 1])) < LEVEL_SLOPE * np.abs(np.diff(rows[:, 0]))
        for i in np.flatnonzero(flat & (rows[:-1, 2] == 0.0)):
            rows[i + 1, 1] = rows[i, 1]
    return rows


def _fit_notes(rim: Rim, fit: ProfileFit, noise: float) -> Iterator[str]:
    """What the fit leaves in doubt."""
    if fit.noise > WAVY * noise:
        yield f"wavier than its noise: read with a tolerance of {fit.noise:.4f} mm, the points scatter by {noise:.4f}"
    if rim.bite_radius < SHARP_RADII * SMALLEST_RADIUS_MM:
        yield "the bite is as sharp as the points can tell: its radius is anything below what they would show"
    end = rim.curve.tangent_at(rim.curve.length)[0]
    if end[0] > UPRIGHT * end[1]:
        yield "not measured out to where the outside stands upright: outer diameter and width are at least those read"


def _place(at: Floats) -> str:
    return f"r = {at[0]:.3f}, s = {at[1]:.3f}"


def _named(fault: Fault) -> Fault:
    return replace(fault, key=KEY)


def _order_notes(first: Ordered, lay: Placed) -> Iterator[str]:
    backwards = np.diff(first.source.astype(np.int64))
    if len(backwards) and 0.01 < (backwards < 0).mean() < 0.99:
        yield "points were not in the order of travel: sorted along the profile"
    if first.duplicates:
        yield f"left out: {first.duplicates} points that stood there twice"
    if len(first.gaps) and (lay.side < 0).any():  # after folding, the other half may fill them
        for a, b in first.gaps:
            ends = [first.points[np.argmin(np.abs(first.place - v))] for v in (a, b)]
            yield f"a gap in the file from x = {ends[0][0]:.3f} to x = {ends[1][0]:.3f} mm"
    if first.strays:
        yield f"left out: {first.strays} stray points off the profile"


def _gap_places(chain: FreeChain, order: Ordered, low: float) -> Floats:
    """(g, 2, 2) the measured places on either side of each gap."""
    out = []
    for a, b in order.gaps:
        i = int(np.clip(np.searchsorted(order.place, a, side="right") - 1, 0, len(order.points) - 1))
        j = int(np.clip(np.searchsorted(order.place, b), 0, len(order.points) - 1))
        out.append([order.points[i] - (0.0, low), order.points[j] - (0.0, low)])
    return np.array(out).reshape(-1, 2, 2)


def _check_gaps(rim: Rim, gaps: Floats) -> None:
    """Refuse a profile whose gap hides the bite or the high point: what was not measured is not read."""
    found = []
    marks = {"the bite point": rim.bite, "the high point": (rim.high_point_radius, 0.0)}
    for name, mark in marks.items():
        at = float(rim.curve.nearest(np.array([mark])).arc_length[0])
        for gap in gaps:
            first, last = np.sort(rim.curve.nearest(gap).arc_length)
            if first < at < last:
                found.append(Fault(KEY, f"a gap of {last - first:.2f} mm over {name}",
                                   "points there", "measure that stretch"))
    if found:
        raise TraceError(tuple(found))
