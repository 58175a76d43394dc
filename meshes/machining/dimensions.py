"""The dimensions a drawing of a rim bears, and how far each may stray."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import degrees

import numpy as np

from labrum.meshes.curves.curve import Curve
from labrum.meshes.machining.iso_2768 import SizeKind, general_deviation
from labrum.meshes.rims.rim import Rim

ON_ONE_LEVEL_MM = 1e-6
ISO_KINDS: dict[str, SizeKind] = {"diameter": "length", "length": "length", "radius": "radius", "angle": "angle"}


@dataclass(frozen=True)
class Dimension:
    """One number on a drawing.

    Parameters
    ----------
    key
        The name a tolerance is given by.
    words
        What it is.
    kind
        ``"diameter"``, ``"length"``, ``"radius"`` or ``"angle"``.
    value
        mm; degrees for an angle.
    piece
        Number, from 0, of the rim curve's piece it belongs to; -1 for none.
    leg_mm
        Length of an angle's shorter leg, mm; nought for the other kinds.
    """

    key: str
    words: str
    kind: str
    value: float
    piece: int = -1
    leg_mm: float = 0.0


@dataclass(frozen=True)
class Band:
    """How far a dimension may go above (``upper``) and below (``lower``, negative): mm, or degrees."""

    upper: float
    lower: float


Rule = Callable[[Dimension], Band | None]
"""A tolerance for a dimension; None where the rule has none to give."""


def dimensions_of(rim: Rim) -> tuple[Dimension, ...]:
    """List the dimensions of a rim: diameters, depths, the cup wall's angle, then a radius for every arc."""
    return (*_diameters(rim), *_depths(rim), *_wall_angle(rim), *_radii(rim))


def _diameters(rim: Rim) -> list[Dimension]:
    return [
        Dimension("inner_diameter", "inner diameter at the bite point (45 degrees)", "diameter", 2 * rim.bite[0]),
        Dimension("high_point_diameter", "diameter of the high point", "diameter", 2 * rim.high_point_radius),
        Dimension("outer_diameter", "outer diameter", "diameter", 2 * rim.outer_radius),
    ]


def auxiliary_of(rim: Rim) -> tuple[Dimension, ...]:
    """What follows from the diameters and is what a fitter asks for: width and place of the high point; no tolerance.

    Auxiliary dimensions, in brackets on a drawing (ISO 129-1, from memory).
    """
    return (
        Dimension("rim_width", "rim width, from the bite point to the outer diameter", "length",
                  rim.outer_radius - rim.bite[0]),
        Dimension("high_point_place", "high point from the bite point, along the width", "length",
                  rim.high_point_radius - rim.bite[0]),
    )  # fmt: skip


def _depths(rim: Rim) -> list[Dimension]:
    found = [Dimension("bite_depth", "bite point behind the high point", "length", rim.bite[1])]
    if rim.cup_floor is not None and rim.source != "trace":  # a trace ends where the measuring ended
        depth = rim.cup_floor - rim.bite[1]
        found.append(Dimension("cup_depth", "cup as drawn, from the bite point", "length", depth))
    return found


def _wall_angle(rim: Rim) -> list[Dimension]:
    """Angle of the straight cup wall; none where the cup's last piece before the rim is no line."""
    wall = _wall(rim)
    if wall < 0 or rim.curve.is_arc[wall]:
        return []
    out, along = np.abs(rim.curve.end[wall] - rim.curve.start[wall])
    angle = degrees(np.arctan2(along, out))
    leg = float(rim.curve.chord[wall])
    return [Dimension("cup_wall_angle", "cup wall to the rim's plane", "angle", angle, wall, leg)]


def _wall(rim: Rim) -> int:
    return int(rim.curve.piece_at(rim.cup_end + ON_ONE_LEVEL_MM)[0]) - 1 if rim.cup_end > ON_ONE_LEVEL_MM else -1


def _radii(rim: Rim) -> list[Dimension]:
    curve = rim.curve
    names = _names_of_edges(rim) if rim.source == "dimensions" else {_bite_piece(rim): "bite_radius"}
    return [
        Dimension(names.get(k, f"radius_{k + 1}"), _words(curve, k, names.get(k, "")), "radius",
                  float(curve.radius[k]), k)
        for k in np.flatnonzero(curve.is_arc).tolist()
    ]


def _bite_piece(rim: Rim) -> int:
    """Piece at the bite point; of two that meet there, the one the rim's bite radius was read from."""
    where = float(rim.curve.nearest([rim.bite]).arc_length[0])
    near = {int(k) for k in rim.curve.piece_at([where - ON_ONE_LEVEL_MM, where + ON_ONE_LEVEL_MM])}
    return min(near, key=lambda k: abs(float(rim.curve.radius[k]) - rim.bite_radius))


def _names_of_edges(rim: Rim) -> dict[int, str]:
    """Name the arcs that dimensions draw: one inside the high point is the bite, one outside the shoulder."""
    arcs = np.flatnonzero(rim.curve.is_arc).tolist()
    inside = [k for k in arcs if rim.curve.apex[k, 0] < rim.high_point_radius]
    outside = [k for k in arcs if k not in inside]
    named = dict(zip(inside, ("bite_radius", "inner_crown_radius"), strict=False))
    return named | dict(zip(outside[::-1], ("shoulder_radius", "outer_crown_radius"), strict=False))


def _words(curve: Curve, k: int, name: str) -> str:
    shape = "" if curve.sweep[k] > 0 else ", hollow"
    return f"piece {k + 1}{shape}" + (f": {name.removesuffix('_radius').replace('_', ' ')}" if name else "")


def no_tolerance(dimension: Dimension) -> Band | None:
    """Give none."""
    return None


def same_for_lengths(upper_mm: float, lower_mm: float) -> Rule:
    """Give every length, diameter and radius one band; angles have none."""
    return lambda d: None if d.kind == "angle" else Band(upper_mm, lower_mm)


def iso_2768(name: str) -> Rule:
    """Give the general tolerances of ISO 2768-1, class ``"f"``, ``"m"`` or ``"c"``; the values are from memory."""
    def rule(d: Dimension) -> Band | None:
        kind, size = ISO_KINDS[d.kind], d.leg_mm if d.kind == "angle" else d.value
        allowed = general_deviation(name, kind, size)
        return None if allowed is None else Band(allowed, -allowed)

    return rule


def with_own(rule: Rule, own: Mapping[str, Band]) -> Rule:
    """Put the bands given for single dimensions, by key, before the rule."""
    return lambda d: own.get(d.key) or rule(d)

