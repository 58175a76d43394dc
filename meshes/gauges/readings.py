"""What a rim measures: the inner diameter by five conventions, and every other dimension, off its arcs and lines."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, degrees, inf, isinf, nan, pi, sin, sqrt

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.rims.rim import Rim

MM_PER_THOU = 0.0254
# Depth of the convention that reads at a set depth, and of the band that tells flatness, unless asked otherwise.
DEPTH_MM, BAND_MM = 1.0, 0.05
# Over so long a stretch of the outline a feeler's tip finds "where it turns most".
TURN_WINDOW_MM = 0.25
FLAT_MM = 100.0
SHOULDER_SWEEP = 0.15
IN_LEVEL_RAD = 1e-9


@dataclass(frozen=True)
class Place:
    """A place on the rim that a reading is taken at: r and s in mm."""

    r: float
    s: float


@dataclass(frozen=True)
class Convention:
    """A way of reading the inner diameter: its name, its definition in one line, and how it is done.

    ``find`` takes a rim and the set depth and gives the place; its r is not a number where there is none.
    """

    name: str
    label: str
    definition: str
    find: Callable[[Rim, float], Place]


def tangent_45(rim: Rim, depth: float) -> Place:
    """Give the bite point."""
    return Place(*rim.bite)


def arc_apex(rim: Rim, depth: float) -> Place:
    """Give the middle of the first convex arc on the way out of the cup."""
    apex = rim.curve.apex[_first_arc(rim)]
    return Place(float(apex[0]), float(apex[1]))


def sharp_corner(rim: Rim, depth: float) -> Place:
    """Give the place where crown and cup wall, carried on, would meet."""
    edge = _edge_pieces(rim)
    crown = _ray_or_circle(rim.curve, edge[-1] + 1, at_start=True)
    if edge[0] == 0:
        return Place(nan, nan)
    wall_end = rim.curve.end[edge[0] - 1]
    wall = rim.curve.tangent_at(float(rim.curve.offset[edge[0]]) - 1e-9)[0]
    return _meeting(wall_end, wall, crown)


def at_depth(rim: Rim, depth: float) -> Place:
    """Give the place inside the high point where the profile stands ``depth`` behind it."""
    top = _arc_length_of_high_point(rim)
    places = _crossings(rim.curve, depth)
    inside = places[places < top]
    if not len(inside):
        return Place(nan, nan)
    r, s = rim.curve.at(inside.max())[0]
    return Place(float(r), float(s))


def largest_curvature(rim: Rim, depth: float) -> Place:
    """Give the middle of the quarter millimetre of the inner edge along which the outline turns most."""
    curve, top, half = rim.curve, _arc_length_of_high_point(rim), 0.5 * TURN_WINDOW_MM
    first = float(curve.offset[max(_edge_pieces(rim)[0] - 1, 0)])
    steps = np.concatenate([curve.offset - half, curve.offset + half])
    steps = np.sort(steps[(steps > first + half) & (steps < top - half)])
    if not len(steps):
        return Place(nan, nan)
    # Turning over a window that slides along arcs and lines changes at a constant rate between these places.
    turned = np.array([_turning(curve, u - half, u + half) for u in steps])
    most = steps[turned > turned.max() - 1e-6]
    r, s = curve.at(0.5 * float(most.min() + most.max()))[0]
    return Place(float(r), float(s))


CONVENTIONS = (
    Convention("tangent_45", "45° tangent", "twice the radius where the inner edge's tangent stands at 45° to the axis",
               tangent_45),
    Convention("arc_apex", "apex of the inner arc",
               "twice the radius of the middle of the first convex arc on the way out of the cup", arc_apex),
    Convention("sharp_corner", "sharp corner",
               "twice the radius where crown and cup wall, both carried on, would meet if the bite had no radius",
               sharp_corner),
    Convention("at_depth", "set depth",
               "twice the radius of the inner side at a set depth below the high point (1 mm unless asked)", at_depth),
    Convention("largest_curvature", "largest curvature",
               "twice the radius of the middle of the quarter millimetre along which the inner edge turns most",
               largest_curvature),
)


def diameters(rim: Rim, depth: float = DEPTH_MM) -> dict[str, float]:
    """Inner diameter by each convention, mm; not a number where a convention finds no place."""
    return {c.name: 2.0 * c.find(rim, depth).r for c in CONVENTIONS}


@dataclass(frozen=True)
class RimQuantity:
    """Another dimension of a rim: name with unit, label, definition in one line, and how it is read."""

    name: str
    label: str
    definition: str
    read: Callable[[Rim], float]

    @property
    def unit(self) -> str:
        """``mm``, ``deg`` or nothing."""
        return {"mm": "mm", "deg": "deg"}.get(self.name.rpartition("_")[2], "")


def width(rim: Rim) -> float:
    """Read from the bite point to the outside, in radius, mm."""
    return rim.outer_radius - rim.bite[0]


def inner_crown(rim: Rim) -> float:
    """Read the radius of the longest piece between the inner edge and the high point, mm; infinite where flat."""
    return _longest(rim.curve, float(rim.curve.offset[_edge_pieces(rim)[-1] + 1]), _arc_length_of_high_point(rim))


def outer_crown(rim: Rim) -> float:
    """Read the radius of the longest piece between the high point and the shoulder, mm; infinite where flat."""
    shoulder = _shoulder_piece(rim)
    end = rim.curve.length if shoulder is None else float(rim.curve.offset[shoulder])
    return _longest(rim.curve, _arc_length_of_high_point(rim), end)


def shoulder(rim: Rim) -> float:
    """Read the radius of the sharpest convex arc outside the high point, mm."""
    piece = _shoulder_piece(rim)
    return nan if piece is None else float(rim.curve.radius[piece])


def wall_angle(rim: Rim) -> float:
    """Read the cup wall's angle from the rim plane where the inner edge begins, degrees."""
    if rim.cup_end <= 0.0:
        return nan
    tangent = rim.curve.tangent_at(rim.cup_end - 1e-9)[0]
    return degrees(np.arctan2(-tangent[1], tangent[0]))


def cup_depth(rim: Rim) -> float:
    """Read from the bite plane to the deepest place of the cup as far as it was drawn or measured, mm."""
    return nan if rim.cup_floor is None else rim.cup_floor - rim.bite[1]


def band_width(rim: Rim) -> float:
    """Read the width of the band that lies within 0.05 mm of the high point, mm: how flat the crown is."""
    places = _crossings(rim.curve, BAND_MM)
    top = _arc_length_of_high_point(rim)
    inside, outside = places[places < top], places[places > top]
    if not len(inside) or not len(outside):
        return nan
    r = rim.curve.at([inside.max(), outside.min()])[:, 0]
    return float(r[1] - r[0])


RIM_QUANTITIES = (
    RimQuantity("width_mm", "rim width", "bite point (45°) to the outside, in radius", width),
    RimQuantity("outer_diameter_mm", "outer diameter", "twice the largest radius", lambda rim: 2.0 * rim.outer_radius),
    RimQuantity("high_point_radius_mm", "high point, radius", "radius of the place nearest the teeth",
             lambda rim: rim.high_point_radius),
    RimQuantity("high_point", "high point, share", "its distance from the bite point over the rim width",
             lambda rim: (rim.high_point_radius - rim.bite[0]) / width(rim)),
    RimQuantity("bite_depth_mm", "bite plane", "depth of the bite point below the high point", lambda rim: rim.bite[1]),
    RimQuantity("bite_radius_mm", "bite radius", "radius of the arc that holds the bite point",
             lambda rim: rim.bite_radius),
    RimQuantity("inner_crown_radius_mm", "inner crown", "radius of the longest arc between bite and high point",
             inner_crown),
    RimQuantity("outer_crown_radius_mm", "outer crown", "radius of the longest arc between high point and shoulder",
             outer_crown),
    RimQuantity("flat_band_mm", "flatness", "width of the band within 0.05 mm of the high point", band_width),
    RimQuantity("shoulder_radius_mm", "shoulder", "radius of the sharpest convex arc outside the high point", shoulder),
    RimQuantity("cup_wall_angle_deg", "cup wall", "angle from the rim plane where the inner edge begins", wall_angle),
    RimQuantity("cup_depth_mm", "cup depth", "bite plane to the deepest place measured", cup_depth),
)


def dimensions(rim: Rim) -> dict[str, float]:
    """Every other dimension: infinite for a flat crown, not a number where there is none."""
    return {q.name: _flat(q.read(rim)) if q.name.endswith("crown_radius_mm") else q.read(rim) for q in RIM_QUANTITIES}


def spread_of_readings(by_convention: dict[str, float]) -> float:
    """Difference between the largest and the smallest reading of one diameter, mm."""
    found = [v for v in by_convention.values() if np.isfinite(v)]
    return max(found) - min(found) if found else nan


def _flat(radius: float) -> float:
    return inf if radius > FLAT_MM else radius


def _arc_length_of_high_point(rim: Rim) -> float:
    return float(rim.curve.nearest(np.array([[rim.high_point_radius, 0.0]])).arc_length[0])


def _edge_pieces(rim: Rim) -> list[int]:
    """Pieces of the inner edge, cup side first: from where the cup ends as long as they are as sharp as the bite."""
    first = int(rim.curve.piece_at(rim.cup_end + 1e-9)[0])
    last = first
    while (last + 1 < len(rim.curve.bulge) and rim.curve.sweep[last + 1] > 0
           and rim.curve.radius[last + 1] <= 1.5 * rim.bite_radius
           and rim.curve.offset[last + 2] < _arc_length_of_high_point(rim)):
        last += 1
    return list(range(first, last + 1))


def edge_ends(rim: Rim) -> tuple[float, float]:
    """Arc lengths at which the inner edge begins, coming from the cup, and ends."""
    edge = _edge_pieces(rim)
    return float(rim.curve.offset[edge[0]]), float(rim.curve.offset[edge[-1] + 1])


def _first_arc(rim: Rim) -> int:
    return next((i for i in _edge_pieces(rim) if rim.curve.sweep[i] > 0), _edge_pieces(rim)[0])


def _shoulder_piece(rim: Rim) -> int | None:
    top = _arc_length_of_high_point(rim)
    curve = rim.curve
    outside = [i for i in range(len(curve.bulge)) if curve.offset[i + 1] > top and curve.sweep[i] > SHOULDER_SWEEP]
    return min(outside, key=lambda i: float(curve.radius[i])) if outside else None


def _longest(curve: Curve, first: float, last: float) -> float:
    """Radius of the piece that covers most of a stretch."""
    cover = np.minimum(curve.offset[1:], last) - np.maximum(curve.offset[:-1], first)
    return float(curve.radius[int(np.argmax(cover))]) if (cover > IN_LEVEL_RAD).any() else nan


def _turning(curve: Curve, first: float, last: float) -> float:
    """Angle by which the outline turns between two arc lengths, radians."""
    cover = np.minimum(curve.offset[1:], last) - np.maximum(curve.offset[:-1], first)
    corners = (curve.offset[1:-1] > first) & (curve.offset[1:-1] < last)
    return float((curve.curvature * np.maximum(cover, 0.0)).sum() + curve.turns[corners].sum())


def _crossings(curve: Curve, level: float) -> Floats:
    """Arc lengths at which the outline stands at a height, exact on arcs and lines."""
    found = []
    for i in range(len(curve.bulge)):
        for along in _piece_at_level(curve, i, level):
            if -1e-9 <= along <= curve.piece_length[i] + 1e-9:
                found.append(float(curve.offset[i] + along))
    return np.array(sorted(found))


def _piece_at_level(curve: Curve, i: int, level: float) -> list[float]:
    """Lengths along piece ``i`` at which s is ``level``."""
    rise, heading, kappa = level - float(curve.start[i, 1]), float(curve.heading[i]), float(curve.curvature[i])
    if kappa == 0.0:
        return [rise / sin(heading)] if abs(sin(heading)) > IN_LEVEL_RAD else []
    # s - s0 = (cos(heading) - cos(heading + kappa u)) / kappa
    cosine = cos(heading) - kappa * rise
    if abs(cosine) > 1.0:
        return []
    angle = float(np.arccos(cosine))
    way = 1.0 if kappa > 0 else -1.0
    return [float(((way * (a - heading)) % (2 * pi)) / abs(kappa)) for a in (angle, -angle)]


@dataclass(frozen=True)
class _Carrier:
    """What a piece lies on, carried on without end: a line (radius infinite) or a circle."""

    point: Floats
    tangent: Floats
    centre: Floats
    radius: float


def _ray_or_circle(curve: Curve, piece: int, at_start: bool) -> _Carrier:
    at = float(curve.offset[piece] + 1e-9)
    radius = float(curve.radius[piece])
    return _Carrier(curve.start[piece], curve.tangent_at(at)[0], curve.centre[piece], min(radius, 1e7))


def _meeting(point: Floats, way: Floats, crown: _Carrier) -> Place:
    """Where a straight wall, carried on, meets the crown: the meeting nearest the wall's end."""
    if crown.radius >= 1e7 or isinf(crown.radius):
        cross = way[0] * crown.tangent[1] - way[1] * crown.tangent[0]
        rel = crown.point - point
        t = (rel[0] * crown.tangent[1] - rel[1] * crown.tangent[0]) / cross if cross else nan
        return Place(float(point[0] + t * way[0]), float(point[1] + t * way[1]))
    rel = point - crown.centre
    along = float(rel @ way)
    inside = along * along - float(rel @ rel) + crown.radius**2
    if inside < 0.0:
        return Place(nan, nan)
    t = min((-along - sqrt(inside), -along + sqrt(inside)), key=abs)
    return Place(float(point[0] + t * way[0]), float(point[1] + t * way[1]))
