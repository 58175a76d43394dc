"""Profiles out of DXF drawings: lines, arcs, polylines with bulges, splines, ellipses and points."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from labrum.meshes.arrays import Floats
from labrum.meshes.traces.drawings.opening import CURVES, entities_of, opened
from labrum.meshes.traces.drawings.strokes import Stroke, layer_of, place_of_point, refused_entity, stroke_of
from labrum.meshes.traces.raw_trace import (
    FARTHEST_MM,
    FEWEST_POINTS,
    LONGEST_MM,
    UNITS_MM,
    RawTrace,
    agreed_unit,
    refuse,
)

# Codes of $INSUNITS (AutoCAD DXF reference).
_INSUNITS = {1: "inch", 4: "mm", 5: "cm", 6: "m", 13: "um"}
_HIDDEN_LINES = ("CENTER", "CENTRE", "DASHDOT", "PHANTOM", "DASHED", "HIDDEN")
JOIN_MM = 0.01
# Chains shorter than this share of the longest are no part of the profile.
LEAST_OF_LONGEST = 0.25
ON_AXIS_MM = 1e-3
# Ends of a drawing's curves do not meet so often.
MOST_MEETINGS = 1_000_000


def read_dxf(path: Path, unit: str | None, layer: str | None) -> RawTrace:
    """Read the profile in a DXF file's model space as closely spaced points.

    Size, number and nesting of what is drawn are limited before a point is set on any of it.

    Raises
    ------
    TraceError
        If the file is no DXF, holds no profile or an entity that cannot be followed, which is named, or neither it nor
        ``unit`` says the unit.
    """
    document, notes = opened(path)
    entities = entities_of(document)
    layers = sorted({layer_of(e) for e in entities})
    if layer is not None:
        if layer not in layers:
            raise refuse(f"layer {layer!r}", f"one of {_listed(layers) or 'none: the drawing is empty'}")
        entities = [e for e in entities if layer_of(e) == layer]
    drawn, left = _sorted_out(entities, document)
    if not drawn:
        raise refuse(f"no profile among {len(entities)} entities", f"{', '.join(CURVES)} or POINT")
    single = np.array([place_of_point(e) for e in drawn if e.dxftype() == "POINT"]).reshape(-1, 2)
    strokes = [s for s in (stroke_of(e) for e in drawn if e.dxftype() != "POINT") if s is not None]
    named = agreed_unit(_unit_of(document), unit, _size(single, strokes))
    scale = UNITS_MM[named]
    _check_reach(single, strokes, scale)
    points, more = _profile(single, strokes, scale)
    if len(points) < FEWEST_POINTS:
        raise refuse(f"{len(points)} points", f"at least {FEWEST_POINTS} points")
    if left:
        more.append("left out: " + ", ".join(f"{n} {kind}" for kind, n in sorted(left.items())))
    return RawTrace(points, "unsaid", named, (*notes, *more))


def _listed(layers: list[str]) -> str:
    return ", ".join(layers[:20]) + (f" and {len(layers) - 20} more" if len(layers) > 20 else "")


def _unit_of(document: Any) -> str | None:
    try:
        return _INSUNITS.get(int(document.header.get("$INSUNITS", 0)))
    except (TypeError, ValueError, OverflowError):  # no number: the file does not say
        return None


def _sorted_out(entities: list[Any], document: Any) -> tuple[list[Any], Counter[str]]:
    """Entities that can be part of a profile, and the count of those that cannot, by kind."""
    drawn, left = [], Counter[str]()
    for entity in entities:
        kind = entity.dxftype()
        if kind not in (*CURVES, "POINT"):
            left[kind] += 1
        elif kind == "POLYLINE" and (entity.is_polygon_mesh or entity.is_poly_face_mesh):
            left["POLYLINE that is a mesh"] += 1
        elif _line_type(entity, document).upper().startswith(_HIDDEN_LINES):
            left[f"{kind} with line type {_line_type(entity, document)}"] += 1
        else:
            drawn.append(entity)
    return drawn, left


def _line_type(entity: Any, document: Any) -> str:
    name = str(entity.dxf.get("linetype", "BYLAYER"))
    if name.upper() == "BYLAYER" and layer_of(entity) in document.layers:
        return str(document.layers.get(layer_of(entity)).dxf.get("linetype", name))
    return name


def _size(single: Floats, strokes: list[Stroke]) -> float:
    """Greatest number across, to tell the size of the drawing before its unit is known."""
    across = [np.abs(places[:, 0]).max() for places in (single, *(s.rough for s in strokes)) if len(places)]
    return float(max(across, default=0.0))


def _check_reach(single: Floats, strokes: list[Stroke], scale: float) -> None:
    """Refuse what lies far outside any drawing of a rim, before anything is measured along it."""
    for stroke in strokes:
        reach = float(np.abs(stroke.rough).max()) * scale
        if reach > FARTHEST_MM or stroke.length * scale > FARTHEST_MM:
            raise refused_entity(stroke.entity, f"reaches {reach:.4g} mm, {stroke.length * scale:.4g} mm long",
                                 f"at most {FARTHEST_MM:g} mm", "is the unit right?")
    if len(single) and np.abs(single).max() * scale > FARTHEST_MM:
        raise refuse(f"a POINT at {np.abs(single).max() * scale:.4g} mm", f"at most {FARTHEST_MM:g} mm")


def _profile(single: Floats, strokes: list[Stroke], scale: float) -> tuple[Floats, list[str]]:
    """(n, 2) points of the profile, mm: the long chains of joined curves, and single points."""
    notes: list[str] = []
    off = [s for s in strokes if np.abs(s.rough[:, 0]).max() * scale >= ON_AXIS_MM]
    if len(off) < len(strokes):
        notes.append(f"left out: {len(strokes) - len(off)} lines on the axis x = 0")
    chains = _chains(off, scale)
    lengths = [sum(s.length for s in c) for c in chains]
    kept = [c for c, n in zip(chains, lengths, strict=True) if n >= LEAST_OF_LONGEST * max(lengths)]
    if len(kept) < len(chains):
        notes.append(f"left out: {len(chains) - len(kept)} short curves not joined to the profile")
    long = sum(s.length for c in kept for s in c) * scale
    if long > LONGEST_MM:
        raise refuse(f"curves {long:.4g} mm long in all", f"at most {LONGEST_MM:g} mm",
                     "choose the rim's layer, or leave frames and views out")
    parts = [s.follow(scale) for c in kept for s in c]
    if len(single):
        parts.append(single * scale)
    return (np.vstack(parts) if parts else np.empty((0, 2))), notes


def _chains(strokes: list[Stroke], scale: float) -> list[list[Stroke]]:
    """Group strokes whose ends meet."""
    if not strokes:
        return []
    ends = np.array([[s.rough[0], s.rough[-1]] for s in strokes]).reshape(-1, 2) * scale
    tree = cKDTree(ends)
    if tree.count_neighbors(tree, JOIN_MM) > MOST_MEETINGS:
        raise refuse(f"{len(strokes)} curves whose ends crowd", f"ends that meet less than {MOST_MEETINGS} times")
    a, b = (tree.query_pairs(JOIN_MM, output_type="ndarray") // 2).T
    n = len(strokes)
    _, group = connected_components(coo_matrix((np.ones(len(a)), (a, b)), shape=(n, n)), directed=False)
    chains: dict[int, list[Stroke]] = {}
    for stroke, number in zip(strokes, group, strict=True):
        chains.setdefault(int(number), []).append(stroke)
    return list(chains.values())
