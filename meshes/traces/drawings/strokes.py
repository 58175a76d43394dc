"""One curve of a drawing: where it begins and ends, how long it is and how far it reaches, before points are set on it.

The drawing library is trusted to read a sound entity and not to survive an unsound one: each is looked at first, and
what the library still cannot follow is refused with the entity's place.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, TypeVar

import numpy as np
from ezdxf.entities import Ellipse
from ezdxf.path import make_path

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.traces.raw_trace import TraceError, refuse

# Points stand so close that the chord between two strays by at most this, but no closer and no wider than these.
STRAY_MM = 1e-5
CLOSEST_MM, WIDEST_MM = 0.02, 0.05
# A spline's length is told from so many chords between two knots.
CHORDS_A_SPAN = 8
CHORDS_ROUND = 256
# Corners in place of a curve that lies askew stray by at most this share of its length.
ASKEW = 1e-6
SAME_PLACE = 1e-9
LARGEST = 1e9
MOST_VERTICES = 20_000
HIGHEST_DEGREE = 25

Follow = Callable[[float], Floats]
Anything = TypeVar("Anything")


@dataclass(frozen=True)
class Stroke:
    """One curve.

    Parameters
    ----------
    entity
        The entity it was drawn by.
    rough
        (k, 2) points that tell its ends, its length and how far it reaches, in the drawing's unit.
    length
        In the drawing's unit.
    follow
        Given mm in one drawing unit, (m, 2) points on the curve, mm.
    """

    entity: Any
    rough: Floats
    length: float
    follow: Follow


def place_of(entity: Any) -> str:
    """Name an entity as a person finds it: kind, handle (of the insert around it, where it has none), layer."""
    around = getattr(entity, "source_block_reference", None)
    handle = entity.dxf.get("handle") or (around.dxf.get("handle") if around is not None else None)
    inside = f" in block {around.dxf.get('name')}" if around is not None else ""
    return f"{entity.dxftype()} (handle {handle or 'none'}, layer {layer_of(entity)}{inside})"


def layer_of(entity: Any) -> str:
    """Layer of an entity; that of drawings without layers where it has none."""
    return str(entity.dxf.get("layer", "0")) if entity.dxf.is_supported("layer") else "0"


def refused_entity(entity: Any, got: str, allowed: str, hint: str = "") -> TraceError:
    """Make an error about one entity, which is named."""
    return refuse(f"{place_of(entity)}: {got}", allowed, hint)


def stroke_of(entity: Any) -> Stroke | None:
    """Look at a curve; None where it has no length.

    Raises
    ------
    TraceError
        If the entity cannot be followed.
    """
    stroke = _told(entity, _looked_at)
    return stroke if stroke is not None and stroke.length > 0.0 else None


def place_of_point(entity: Any) -> tuple[float, float]:
    """(x, y) of a POINT, in the drawing's unit; refused where it is no finite place."""
    at = _told(entity, lambda point: np.array([point.dxf.location.x, point.dxf.location.y], dtype=np.float64))
    _check_numbers(entity, at)
    return float(at[0]), float(at[1])


def _told(entity: Any, look: Callable[[Any], Anything]) -> Anything:
    """Look at an entity; whatever the drawing library makes of a broken one becomes a refusal that names it."""
    try:
        with np.errstate(over="raise", divide="raise", invalid="raise"):
            return look(entity)
    except (TraceError, MemoryError):
        raise
    except Exception as error:
        got = f"cannot be followed ({type(error).__name__}: {error})"
        raise refused_entity(entity, got, "a sound entity") from None


def _looked_at(entity: Any) -> Stroke | None:
    kind, dxf = entity.dxftype(), entity.dxf
    if kind in ("ARC", "CIRCLE"):
        if not (np.isfinite(dxf.radius) and dxf.radius > 0.0):
            raise refused_entity(entity, f"a radius of {dxf.radius:g}", "a finite radius above 0")
        rows = _arc_rows(entity) if kind == "ARC" else None
        return _smooth(entity, Ellipse.from_arc(entity)) if rows is None else _chain(entity, rows)
    if kind == "ELLIPSE":
        return _smooth(entity, entity)
    if kind == "SPLINE":
        return _spline(entity)
    return _chain(entity, np.array(_vertices(entity), dtype=np.float64).reshape(-1, 3))


def _arc_rows(entity: Any) -> Floats | None:
    """(2, 3) ends and bulge of an arc drawn in the plane; None of one that lies otherwise."""
    dxf, front = entity.dxf, _seen_from(entity)
    if front is None:
        return None
    half = np.tan(np.radians((dxf.end_angle - dxf.start_angle) % 360.0) / 4.0)
    first, last = entity.start_point, entity.end_point
    return np.array([(first.x, first.y, front * half), (last.x, last.y, 0.0)])


def _vertices(entity: Any) -> list[tuple[float, float, float]]:
    """Rows of x, y and bulge of what is made of lines and arcs; of what lies askew, corners close together."""
    kind = entity.dxftype()
    if kind == "LINE":
        return [(p.x, p.y, 0.0) for p in (entity.dxf.start, entity.dxf.end)]
    if kind == "LWPOLYLINE":
        rows, closed = [tuple(p) for p in entity.get_points("xyb")], entity.closed
    else:
        rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices]
        closed = entity.is_closed
    rows += rows[:1] if closed else []
    _check_rows(entity, np.array(rows, dtype=np.float64).reshape(-1, 3))
    front = _seen_from(entity)
    if front is None:
        return _askew(entity, rows)
    return [(front * x, y, front * bulge) for x, y, bulge in rows]


def _seen_from(entity: Any) -> float | None:
    """1 for a curve drawn in the plane and seen from its front, -1 from its back; None for one that lies otherwise."""
    if entity.dxftype() == "POLYLINE" and (not entity.is_2d_polyline or entity.dxf.flags & 6):
        return None
    z = entity.dxf.extrusion
    return float(np.sign(z.z)) if z.x == z.y == 0.0 and z.z != 0.0 else None


def _askew(entity: Any, rows: list[Any]) -> list[tuple[float, float, float]]:
    """Corners of what is no arc any more once it is seen along z, as close as the length asks for."""
    length = Curve.from_vertices(_moving(np.array(rows, dtype=np.float64))).length
    return [(p.x, p.y, 0.0) for p in make_path(entity).flattening(ASKEW * length)]


def _moving(rows: Floats) -> Floats:
    """Leave out rows that stand where the next one does."""
    return rows[np.append(np.hypot(*np.diff(rows[:, :2], axis=0).T) > SAME_PLACE, True)]


def _check_rows(entity: Any, rows: Floats) -> None:
    if len(rows) < 2:
        raise refused_entity(entity, f"{len(rows)} vertices", "two or more")
    if len(rows) > MOST_VERTICES:
        raise refused_entity(entity, f"{len(rows)} vertices", f"at most {MOST_VERTICES}")
    _check_numbers(entity, rows)


def _check_numbers(entity: Any, numbers: Floats) -> None:
    if not (np.abs(numbers) <= LARGEST).all():
        raise refused_entity(entity, "a number that is not finite, or out of all bounds", f"numbers up to {LARGEST:g}")


def _chain(entity: Any, rows: Floats) -> Stroke | None:
    """Lines and arcs, exactly."""
    _check_rows(entity, rows)
    moving = _moving(rows)
    if len(moving) < 2:
        return None
    curve = Curve.from_vertices(moving)
    corners = np.vstack([curve.start[:1], curve.apex, curve.start[1:], curve.end[-1:]])
    return Stroke(entity, corners, curve.length, lambda scale: _along(moving * (scale, scale, 1.0)))


def _along(rows: Floats) -> Floats:
    """Points along arcs and lines, mm, their ends among them."""
    curve = Curve.from_vertices(rows)
    step = _steps(curve.radius)
    places = [np.linspace(a, b, max(2, int(np.ceil((b - a) / h))), endpoint=False)
              for a, b, h in zip(curve.offset[:-1], curve.offset[1:], step, strict=True)]
    return curve.at(np.append(np.concatenate(places), curve.length))


def _steps(radius: Floats) -> Floats:
    """(n,) distance between points on arcs of these radii, mm: a chord of it strays by `STRAY_MM`."""
    return np.clip(np.sqrt(8.0 * STRAY_MM * radius), CLOSEST_MM, WIDEST_MM)


def _spline(entity: Any) -> Stroke | None:
    """Look at a spline, given by control points and knots or by points to go through."""
    _check_spline(entity)
    tool = entity.construction_tool()
    knots = np.unique(np.array(tool.knots(), dtype=np.float64)[tool.degree:len(tool.knots()) - tool.degree])
    if len(knots) < 2:
        raise refused_entity(entity, "knots that are all one", "knots that grow")
    spans = [np.linspace(a, b, CHORDS_A_SPAN, endpoint=False) for a, b in pairwise(knots)]
    return _by_parameter(entity, np.append(np.concatenate(spans), knots[-1]), lambda at: tool.points(at))


def _check_spline(entity: Any) -> None:
    control, through = entity.control_point_count(), entity.fit_point_count()
    degree = int(entity.dxf.degree)
    for points in (entity.control_points, entity.fit_points, entity.knots, entity.weights):
        if len(points) > MOST_VERTICES:
            raise refused_entity(entity, f"{len(points)} points or knots", f"at most {MOST_VERTICES}")
        _check_numbers(entity, np.array([tuple(p) for p in points] if len(np.shape(points)) > 1 else list(points)))
    if control == 0:
        if through < 2:
            raise refused_entity(entity, f"{control} control and {through} fit points", "two or more of one kind")
        return
    if not 1 <= degree <= HIGHEST_DEGREE or control <= degree:
        raise refused_entity(entity, f"degree {degree} with {control} control points",
                             f"a degree from 1 to {HIGHEST_DEGREE}, below the number of control points")
    knots = np.array(list(entity.knots))
    if len(knots) != control + degree + 1 or (np.diff(knots) < 0.0).any():
        raise refused_entity(entity, f"{len(knots)} knots", f"{control + degree + 1} that do not fall")
    if len(entity.weights) and (len(entity.weights) != control or min(entity.weights) <= 0.0):
        raise refused_entity(entity, f"{len(entity.weights)} weights", f"{control} weights above 0")


def _smooth(entity: Any, ellipse: Any) -> Stroke | None:
    """Look at an ellipse, or at a circle seen askew."""
    first, last = float(ellipse.dxf.start_param), float(ellipse.dxf.end_param)
    axis, ratio = ellipse.dxf.major_axis, float(ellipse.dxf.ratio)
    _check_numbers(entity, np.array([*ellipse.dxf.center, *axis, first, last, ratio]))
    if axis.magnitude == 0.0 or ratio == 0.0:
        raise refused_entity(entity, f"axes of {axis.magnitude:g} and {ratio * axis.magnitude:g}", "axes above 0")
    turn = (last - first) % (2.0 * np.pi) or 2.0 * np.pi
    at = np.linspace(first, first + turn, CHORDS_ROUND)
    return _by_parameter(entity, at, ellipse.vertices)


def _by_parameter(entity: Any, at: Floats, points: Callable[[Floats], Any]) -> Stroke:
    """A curve whose points a parameter gives; ``at`` holds (k,) of its values, close enough to tell its length."""

    def evaluated(where: Floats) -> Floats:
        return np.array([(p.x, p.y) for p in points(where)], dtype=np.float64).reshape(-1, 2)

    rough = evaluated(at)
    _check_numbers(entity, rough)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(rough, axis=0).T))])

    def follow(scale: float) -> Floats:
        step = _steps(_rough_radius(rough * scale))
        count = np.concatenate([[0.0], np.cumsum(np.diff(along) * scale / step)])
        whole = max(2, int(np.ceil(count[-1])) + 1)
        return evaluated(np.interp(np.linspace(0.0, count[-1], whole), count, at)) * scale

    return Stroke(entity, rough, float(along[-1]), follow)


def _rough_radius(points: Floats) -> Floats:
    """(n - 1,) radius of curvature about each chord of a polyline; infinite where it is straight."""
    chord = np.diff(points, axis=0)
    length = np.hypot(*chord.T)
    heading = np.unwrap(np.arctan2(chord[:, 1], chord[:, 0]))
    turn = np.abs(np.gradient(heading)) if len(heading) > 1 else np.zeros(1)
    radius = np.full(len(length), np.inf)
    np.divide(length, turn, out=radius, where=turn > 0.0)
    return radius
