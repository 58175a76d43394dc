"""Profiles out of DXF drawings: lines, arcs, polylines with bulges, splines, ellipses and points."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
from ezdxf import recover
from ezdxf.path import make_path

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.traces.raw_trace import FEWEST_POINTS, UNITS_MM, RawTrace, agreed_unit, refuse

# Codes of $INSUNITS (AutoCAD DXF reference).
_INSUNITS = {1: "inch", 4: "mm", 5: "cm", 6: "m", 13: "um"}
_CURVES = ("LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "SPLINE", "ELLIPSE")
_HIDDEN_LINES = ("CENTER", "CENTRE", "DASHDOT", "PHANTOM", "DASHED", "HIDDEN")
SPACING_MM = 0.02
JOIN_MM = 0.01
# Chords in place of a curve other than an arc stray by at most this.
CHORD_STRAY_MM = 1e-5
# Chains shorter than this share of the longest are no part of the profile.
LEAST_OF_LONGEST = 0.25
ON_AXIS_MM = 1e-3


@dataclass(frozen=True)
class _Stroke:
    """One entity as points, mm."""

    points: Floats

    @property
    def length(self) -> float:
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())


def read_dxf(path: Path, unit: str | None, layer: str | None) -> RawTrace:
    """Read the profile in a DXF file's model space as closely spaced points.

    Raises
    ------
    TraceError
        If the file is no DXF, holds no profile, or neither it nor ``unit`` says the unit.
    """
    document = _opened(path)
    entities = list(_flat(document.modelspace()))
    layers = sorted({e.dxf.layer for e in entities})
    if layer is not None:
        if layer not in layers:
            raise refuse(f"layer {layer!r}", f"one of {', '.join(layers) or 'none: the drawing is empty'}")
        entities = [e for e in entities if e.dxf.layer == layer]
    drawn, left = _sorted_out(entities, document)
    if not drawn:
        raise refuse(f"no profile among {len(entities)} entities", f"{', '.join(_CURVES)} or POINT")
    rough = [np.array(e) for e in (_ends(e) for e in drawn) if e is not None]
    size = float(np.abs(np.vstack(rough)[:, 0]).max()) if rough else 0.0
    named = agreed_unit(_INSUNITS.get(int(document.header.get("$INSUNITS", 0))), unit, size)
    scale = UNITS_MM[named]
    points, notes = _profile(drawn, scale)
    if len(points) < FEWEST_POINTS:
        raise refuse(f"{len(points)} points", f"at least {FEWEST_POINTS} points")
    if left:
        notes.append("left out: " + ", ".join(f"{n} {kind}" for kind, n in sorted(left.items())))
    return RawTrace(points, "unsaid", named, tuple(notes))


def _opened(path: Path) -> Any:
    try:
        return ezdxf.readfile(path)
    except OSError as error:
        if path.exists() and not str(error).startswith("["):
            raise refuse(f"no DXF file ({error})", "a DXF file, R12 or later") from None
        raise
    except ezdxf.DXFError:
        try:
            return recover.readfile(path)[0]
        except ezdxf.DXFError as error:
            raise refuse(f"a broken DXF file ({error})", "a DXF file, R12 or later") from None


def _flat(entities: Any) -> Iterator[Any]:
    """Every entity, those inside blocks too."""
    for entity in entities:
        if entity.dxftype() == "INSERT":
            yield from _flat(entity.virtual_entities())
        else:
            yield entity


def _sorted_out(entities: list[Any], document: Any) -> tuple[list[Any], Counter[str]]:
    """Entities that can be part of a profile, and the count of those that cannot, by kind."""
    drawn, left = [], Counter[str]()
    for entity in entities:
        kind = entity.dxftype()
        if kind not in (*_CURVES, "POINT"):
            left[kind] += 1
        elif _line_type(entity, document).upper().startswith(_HIDDEN_LINES):
            left[f"{kind} with line type {_line_type(entity, document)}"] += 1
        else:
            drawn.append(entity)
    return drawn, left


def _line_type(entity: Any, document: Any) -> str:
    name = str(entity.dxf.get("linetype", "BYLAYER"))
    if name.upper() == "BYLAYER" and entity.dxf.layer in document.layers:
        return str(document.layers.get(entity.dxf.layer).dxf.linetype)
    return name


def _ends(entity: Any) -> list[tuple[float, float]] | None:
    """Return two points of an entity, to tell the size of the drawing before its unit is known."""
    if entity.dxftype() == "POINT":
        return [(entity.dxf.location.x, entity.dxf.location.y)] * 2
    path = make_path(entity)
    return [(path.start.x, path.start.y), (path.end.x, path.end.y)] if len(path) else None


def _profile(drawn: list[Any], scale: float) -> tuple[Floats, list[str]]:
    """(n, 2) points of the profile, mm: the long chains of joined curves, and single points."""
    single = np.array([(e.dxf.location.x, e.dxf.location.y) for e in drawn if e.dxftype() == "POINT"])
    strokes = [_Stroke(points) for e in drawn if e.dxftype() != "POINT"
               if len(points := _sampled(e, scale)) > 1]
    notes: list[str] = []
    on_axis = [s for s in strokes if np.abs(s.points[:, 0]).max() < ON_AXIS_MM]
    if on_axis:
        notes.append(f"left out: {len(on_axis)} lines on the axis x = 0")
        strokes = [s for s in strokes if np.abs(s.points[:, 0]).max() >= ON_AXIS_MM]
    chains = _chains(strokes)
    longest = max((sum(s.length for s in c) for c in chains), default=0.0)
    kept = [c for c in chains if sum(s.length for s in c) >= LEAST_OF_LONGEST * longest]
    if len(kept) < len(chains):
        notes.append(f"left out: {len(chains) - len(kept)} short curves not joined to the profile")
    parts = [s.points for c in kept for s in c]
    if len(single):
        parts.append(single * scale)
    return (np.vstack(parts) if parts else np.empty((0, 2))), notes


def _sampled(entity: Any, scale: float) -> Floats:
    """(k, 2) points along a curve, mm, exactly on it and about 0.02 mm apart."""
    vertices = _bulged(entity)
    if vertices is not None:
        return _along(vertices, scale)
    if entity.dxftype() == "SPLINE":
        tool = entity.construction_tool()
        count = max(50, int(np.ceil(_Stroke(_flattened(entity) * scale).length / SPACING_MM)))
        return np.array([(p.x, p.y) for p in tool.approximate(count)]) * scale
    corners = _flattened(entity, CHORD_STRAY_MM / scale)
    return _along(np.column_stack([corners, np.zeros(len(corners))]), scale)


def _flattened(entity: Any, distance: float = 0.01) -> Floats:
    """(k, 2) points whose chords stray by at most ``distance``; ellipses are followed exactly, not by their path."""
    curve = entity if entity.dxftype() in ("ELLIPSE", "CIRCLE", "ARC") else make_path(entity)
    return np.array([(p.x, p.y) for p in curve.flattening(distance)])


def _bulged(entity: Any) -> Floats | None:
    """(k, 3) x, y and bulge of what is made of lines and arcs; None for other curves."""
    kind = entity.dxftype()
    if kind == "LINE":
        rows = [(p.x, p.y, 0.0) for p in (entity.dxf.start, entity.dxf.end)]
    elif kind == "ARC" and entity.dxf.extrusion.z > 0:
        half = np.tan(np.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0) / 4.0)
        rows = [(entity.start_point.x, entity.start_point.y, half), (entity.end_point.x, entity.end_point.y, 0.0)]
    elif kind == "LWPOLYLINE" and entity.dxf.extrusion.z > 0:
        rows = [tuple(p) for p in entity.get_points("xyb")]
        rows += rows[:1] if entity.closed else []
    elif kind == "POLYLINE" and entity.is_2d_polyline and not entity.dxf.flags & 6 and entity.dxf.extrusion.z > 0:
        rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices]
        rows += rows[:1] if entity.is_closed else []
    else:
        return None
    return np.array(rows, dtype=np.float64)


def _along(vertices: Floats, scale: float) -> Floats:
    """Points along arcs and lines, their ends among them."""
    rows = vertices * (scale, scale, 1.0)
    apart = np.append(np.hypot(*np.diff(rows[:, :2], axis=0).T) > 1e-9, True)
    if apart.sum() < 2:
        return rows[:1, :2]
    curve = Curve.from_vertices(rows[apart])
    steps = [np.linspace(a, b, max(2, int(np.ceil((b - a) / SPACING_MM))), endpoint=False)
             for a, b in zip(curve.offset[:-1], curve.offset[1:], strict=True)]
    return curve.at(np.append(np.concatenate(steps), curve.length))


def _chains(strokes: list[_Stroke]) -> list[list[_Stroke]]:
    """Group strokes whose ends meet."""
    group = list(range(len(strokes)))

    def root(i: int) -> int:
        while group[i] != i:
            i = group[i]
        return i

    ends = np.array([[s.points[0], s.points[-1]] for s in strokes]).reshape(-1, 2)
    from scipy.spatial import cKDTree

    if len(ends):
        for a, b in cKDTree(ends).query_pairs(JOIN_MM):
            group[root(a // 2)] = root(b // 2)
    chains: dict[int, list[_Stroke]] = {}
    for i, stroke in enumerate(strokes):
        chains.setdefault(root(i), []).append(stroke)
    return list(chains.values())
