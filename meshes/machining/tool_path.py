"""The path of a round tool nose along an outline: the offset of arcs and lines, and what it cannot reach.

The outline is offset by the nose's radius to the side that holds no metal: lines stay lines, arcs stay arcs
about the same centre, and round a convex corner the nose rolls on an arc about the corner. Where this raw
offset crosses itself the nose would gouge; the crossings divide it, and the parts nearer to the outline than
the nose's radius are left out (Held 1991, On the Computational Geometry of Pocket Machining, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import atan2, hypot, pi, tan

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.faults import Fault, GeometryError

# Two pieces that turn by less than this times the nose's radius are joined where they come closest; the
# crossing of so small an overlap cannot be told from the joint itself.
SMOOTH_MM = 2e-5
CLEARANCE_MM = 1e-8
GAP_MM = 1e-6
NO_STEP_MM = 1e-9
AT_AXIS_MM = 1e-9
PROBE_MM = 0.01


@dataclass(frozen=True)
class Left:
    """A stretch of the outline that the nose cannot touch.

    ``start``, ``end`` and ``worst`` are (Z, X as a radius) in mm, in the order of travel; ``left_mm`` is the
    metal that stays on the outline at ``worst``.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    worst: tuple[float, float]
    left_mm: float


@dataclass(frozen=True)
class ToolPath:
    """The path of the centre of a tool nose, in lathe coordinates (Z, X as a radius), mm.

    ``left`` lists what the nose cannot reach by more than the tolerance it was looked for with.
    """

    centre: Curve
    nose_radius_mm: float
    left: tuple[Left, ...]


@dataclass(frozen=True)
class ToolPoint:
    """The point of the tool that the numbers of a path describe.

    ``towards`` is (Z, X): the imaginary tip lies one nose radius from the nose's centre each way it names,
    where the two tangents to the nose parallel to the axes cross. (0, 0) is the centre itself.
    """

    name: str
    words: str
    towards: tuple[int, int]


TOOL_POINTS = {
    "centre": ToolPoint("centre", "centre of the tool nose", (0, 0)),
    "outside": ToolPoint("outside", "imaginary tip towards -Z and -X (outside turning)", (-1, -1)),
    "boring": ToolPoint("boring", "imaginary tip towards -Z and +X (boring)", (-1, 1)),
    "face": ToolPoint("face", "imaginary tip towards -Z, at the centre's X (face plunging)", (-1, 0)),
}
"""Names of ours: controls number these directions each in their own way."""


def tool_path(outline: Curve, nose_radius_mm: float, tolerance_mm: float) -> ToolPath:
    """Lay the path of the centre of a round nose along an outline.

    Parameters
    ----------
    outline
        In lathe coordinates (Z, X as a radius), mm, metal on its left. Beyond its ends the metal is taken to go
        on straight; an outline that begins on the axis is met by its own mirror image there.
    nose_radius_mm
        Of the tool nose.
    tolerance_mm
        Metal left by no more than this counts as reached.

    Raises
    ------
    GeometryError
        If a nose of that radius finds no way along the outline.
    """
    whole, first = _with_surroundings(outline, nose_radius_mm)
    raw = _raw_offset(whole, nose_radius_mm)
    parts = [p for p in _parts(raw.curve) if raw.source[p.piece] >= 0]
    clear = _clear(parts, whole, nose_radius_mm)
    wanted = range(first, first + len(outline.bulge))
    chain = _chained(clear)
    through = bool(chain) and chain[-1] is clear[-1]
    chain = [p for p in chain if raw.source[p.piece] in wanted]
    if not (through and chain):
        raise GeometryError((Fault("nose radius", f"{nose_radius_mm:g} mm", "a nose that fits the outline",
                                   "take a tool with a smaller nose, or make arcs of more than 1 m radius lines"),))
    centre = _joined(chain)
    return ToolPath(centre, nose_radius_mm, _left(outline, centre, nose_radius_mm, tolerance_mm))


def gouge(places: Floats, outline: Curve, nose_radius_mm: float, parts: int = 8) -> float:
    """Depth to which a nose that travels straight between (k, 2) places cuts into the outline, mm.

    Seen at ``parts`` points on each straight stretch; 0 where it stays clear. Computed from the outline alone,
    so that it checks a path however that was made.
    """
    t = np.arange(parts)[:, None, None] / parts
    along = (places[:-1] + t * (places[1:] - places[:-1])).reshape(-1, 2)
    clearance = _surroundings_distance(outline, np.vstack([along, places[-1:]]), nose_radius_mm)
    return max(0.0, nose_radius_mm - float(clearance.min()))


def moved_to(point: ToolPoint, centre: Curve, nose_radius_mm: float) -> Curve:
    """Return the path of a point of the tool, from the path of its nose's centre."""
    return centre.translated(*(nose_radius_mm * np.array(point.towards, dtype=np.float64)))


def _with_surroundings(outline: Curve, nose: float) -> tuple[Curve, int]:
    """Lengthen an outline straight at its ends, or mirror it in the axis; and give its first piece's number."""
    reach = 4.0 * nose
    tail = outline.at([-reach, outline.length + reach])
    rows = [*outline.vertices[:-1], (*outline.end[-1], 0.0), (*tail[1], 0.0)]
    if abs(outline.start[0, 1]) > AT_AXIS_MM:
        return Curve.from_vertices([(*tail[0], 0.0), *rows]), 1
    mirror = [(z, -x, b) for (z, x, _), (_, _, b) in zip(rows[:0:-1], rows[-2::-1], strict=True)]
    return Curve.from_vertices([*mirror, *rows]), len(mirror)


def _surroundings_distance(outline: Curve, places: Floats, nose: float) -> Floats:
    return _with_surroundings(outline, nose)[0].nearest(places).distance


@dataclass(frozen=True)
class _Raw:
    """A raw offset and, for each of its pieces, the outline's piece it belongs to; -1 for one to leave out."""

    curve: Curve
    source: list[int]


def _raw_offset(outline: Curve, nose: float) -> _Raw:
    """Offset every piece, and fill each corner with an arc about it.

    In a hollow too tight for the nose that arc, like the offset of a hollow arc tighter than the nose, runs
    inside out: it keeps the chain together and is never part of the path.
    """
    starts, ends, bulges = _offset_pieces(outline, nose)
    rows, source = [], []
    for k, bulge in enumerate(bulges):
        inside_out = outline.sweep[k] < 0 and outline.radius[k] < nose
        rows.append((starts[k], bulge))
        source.append(-1 if inside_out else k)
        turn = outline.turns[k] if k + 1 < len(bulges) else 0.0
        if abs(turn) * nose > SMOOTH_MM:
            rows.append((ends[k], tan(0.25 * turn)))
            source.append(k if turn > 0 else -1)
    return _without_nothing([*rows, (ends[-1], 0.0)], source)


def _offset_pieces(outline: Curve, nose: float) -> tuple[Floats, Floats, Floats]:
    """Starts, ends and bulges of the offset pieces; those that hardly turn at their joint meet half way.

    There the offset pieces would gape or overlap by the nose's radius times the turn: each is lengthened or
    shortened along its own circle by half of that.
    """
    headings = np.column_stack([outline.heading, outline.heading + outline.sweep])
    normals = np.stack([np.sin(headings), -np.cos(headings)], axis=-1)
    starts, ends = outline.start + nose * normals[:, 0], outline.end + nose * normals[:, 1]
    grown = 1.0 + nose * outline.curvature
    turning = np.divide(outline.curvature, grown, out=np.zeros_like(grown), where=np.abs(grown) > 1e-12)
    sweep = outline.sweep.copy()
    for k in np.flatnonzero(np.abs(outline.turns) * nose <= SMOOTH_MM):
        gap = 0.5 * nose * outline.turns[k]
        starts[k + 1] = ends[k] = 0.5 * (ends[k] + starts[k + 1])
        sweep[k] += gap * turning[k]
        sweep[k + 1] += gap * turning[k + 1]
    return starts, ends, np.tan(0.25 * sweep)


def _without_nothing(rows: list[tuple[Floats, float]], source: list[int]) -> _Raw:
    """Chain the rows, leaving out pieces without length."""
    long = [hypot(*(b[0] - a[0])) > NO_STEP_MM for a, b in pairwise(rows)]
    kept = [row for row, keep in zip(rows[:-1], long, strict=True) if keep]
    curve = Curve.from_vertices([(*place, bulge) for place, bulge in [*kept, rows[-1]]])
    return _Raw(curve, [k for k, keep in zip(source, long, strict=True) if keep])


@dataclass(frozen=True)
class _Part:
    """Part of a piece of the raw offset: its ends, its bulge and its middle."""

    piece: int
    start: Floats
    end: Floats
    bulge: float
    middle: Floats


def _parts(raw: Curve) -> list[_Part]:
    """Divide every piece where the raw offset crosses itself."""
    crossings = raw.self_intersections()
    return [part for k in range(len(raw.bulge)) for part in _divided(raw, k, crossings)]


def _divided(raw: Curve, k: int, crossings: Floats) -> list[_Part]:
    cuts = _cuts(raw, k, crossings)
    edges = [0.0, *cuts, float(raw.piece_length[k])]
    places = [raw.start[k], *(raw.at(raw.offset[k] + c)[0] for c in cuts), raw.end[k]]
    parts = []
    for j in range(len(edges) - 1):
        share = (edges[j + 1] - edges[j]) / raw.piece_length[k]
        bulge = tan(0.25 * float(raw.sweep[k]) * share)
        middle = raw.at(raw.offset[k] + 0.5 * (edges[j] + edges[j + 1]))[0]
        parts.append(_Part(k, places[j], places[j + 1], bulge, middle))
    return parts


def _cuts(raw: Curve, k: int, crossings: Floats) -> list[float]:
    """Arc lengths from the start of piece ``k`` at which the crossings lie on it, ascending."""
    found: list[float] = []
    for place in crossings:
        along = _along(raw, k, place)
        here = raw.at(raw.offset[k] + along)[0]
        inside = NO_STEP_MM < along < raw.piece_length[k] - NO_STEP_MM
        if inside and hypot(*(here - place)) < 10 * NO_STEP_MM:
            found.append(along)
    found.sort()
    return [a for j, a in enumerate(found) if j == 0 or a - found[j - 1] > NO_STEP_MM]


def _along(raw: Curve, k: int, place: Floats) -> float:
    """Arc length from the start of piece ``k`` to the point of its line or circle nearest to a place."""
    if not raw.is_arc[k]:
        return float((place - raw.start[k]) @ (raw.end[k] - raw.start[k]) / raw.chord[k])
    (sz, sx), (pz, px) = raw.start[k] - raw.centre[k], place - raw.centre[k]
    turned = (atan2(px, pz) - atan2(sx, sz)) * np.sign(raw.sweep[k])
    return float(raw.radius[k] * (turned % (2.0 * pi)))


def _clear(parts: list[_Part], outline: Curve, nose: float) -> list[_Part]:
    """Keep the parts that are nowhere nearer to the outline than the nose's radius."""
    if not parts:
        return []
    clearance = outline.nearest(np.array([p.middle for p in parts])).distance
    return [p for p, d in zip(parts, clearance, strict=True) if d > nose - CLEARANCE_MM]


def _chained(parts: list[_Part]) -> list[_Part]:
    """Follow the path from its beginning; parts that do not join on lie in pockets it cannot enter.

    Where several parts go on from one point, the last leaves out whatever returns to that point: loops of a
    corner so nearly smooth that how far they gouge is lost in rounding.
    """
    if not parts:
        return []
    starts = np.array([p.start for p in parts])
    chain, at = [parts[0]], 0
    while True:
        onwards = np.flatnonzero(np.hypot(*(starts[at + 1 :] - chain[-1].end).T) < GAP_MM)
        if not len(onwards):
            return chain
        at += 1 + int(onwards[-1])
        chain.append(parts[at])


def _joined(chain: list[_Part]) -> Curve:
    """Join parts that meet up to rounding."""
    rows = [(*part.start, part.bulge) for part in chain]
    return Curve.from_vertices([*rows, (*chain[-1].end, 0.0)])


def _left(outline: Curve, centre: Curve, nose: float, tolerance: float) -> tuple[Left, ...]:
    """Stretches of the outline that stay farther than the tolerance from the nose, wherever on its path."""
    at = _probes(outline)
    places = outline.at(at)
    left = distance_to(centre, places) - nose
    missed = np.flatnonzero(left > tolerance)
    if not len(missed):
        return ()
    runs = np.split(missed, np.flatnonzero(np.diff(missed) > 1) + 1)
    return tuple(_stretch(places, left, run) for run in runs)


def _probes(outline: Curve) -> Floats:
    """Arc lengths at which to look for metal left: close together, with every joint among them."""
    counts = np.maximum(8, np.ceil(outline.piece_length / PROBE_MM)).astype(int)
    steps = [o + length * np.arange(n) / n
             for o, length, n in zip(outline.offset, outline.piece_length, counts, strict=False)]
    return np.append(np.concatenate(steps), outline.length)


def _stretch(places: Floats, left: Floats, run: NDArray[np.intp]) -> Left:
    worst = run[np.argmax(left[run])]
    start, end, middle = ((float(places[k, 0]), float(places[k, 1])) for k in (run[0], run[-1], worst))
    return Left(start, end, middle, float(left[worst]))


def distance_to(curve: Curve, places: Floats) -> Floats:
    """(m,) distance of (m, 2) places to a curve that ends where it ends, not going on straight."""
    least = np.full(len(places), np.inf)
    for k in range(len(curve.bulge)):
        least = np.minimum(least, _distance_to_piece(curve, k, places))
    return least


def _distance_to_piece(curve: Curve, k: int, places: Floats) -> Floats:
    to_ends = np.minimum(np.hypot(*(places - curve.start[k]).T), np.hypot(*(places - curve.end[k]).T))
    if curve.is_arc[k]:
        out, middle = places - curve.centre[k], curve.apex[k] - curve.centre[k]
        reach = np.hypot(*out.T)
        beside = out @ middle >= reach * curve.radius[k] * np.cos(0.5 * curve.sweep[k])
        return np.where(beside, np.abs(reach - curve.radius[k]), to_ends)
    step = (curve.end[k] - curve.start[k]) / curve.chord[k]
    along = (places - curve.start[k]) @ step
    off = np.abs((places - curve.start[k]) @ np.array([-step[1], step[0]]))
    return np.where((along >= 0.0) & (along <= curve.chord[k]), off, to_ends)
