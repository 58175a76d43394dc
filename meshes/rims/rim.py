"""Rim profiles: the curve the lip meets, with the places a maker names on it, and how dimensions draw one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from itertools import pairwise
from math import asin, ceil, cos, floor, hypot, inf, isinf, pi, radians, sin, sqrt, tan

from labrum.meshes.curves.curve import Curve
from labrum.meshes.faults import Fault, GeometryError

# A convex edge sharper than this presses without bound, and no machinist leaves one on a rim.
SMALLEST_RADIUS_MM = 0.02
SQRT2 = sqrt(2.0)
NO_LENGTH_MM = 1e-9
ROUNDING = 1e-12


@dataclass(frozen=True)
class RimDimensions:
    """The numbers that draw a rim, as in the case file's ``[rim]``.

    Parameters
    ----------
    inner_diameter_mm
        At the bite point, where the inner edge's tangent stands at 45 degrees to the axis.
    width_mm
        From the bite point to the outside, in radius.
    high_point
        Where the rim comes nearest the teeth: fraction of the width from the bite point.
    bite_radius_mm
        Of the inner edge.
    inner_crown_radius_mm, outer_crown_radius_mm
        Contour inside and outside the high point; ``math.inf`` is flat.
    shoulder_radius_mm
        Of the outer edge, which ends upright.
    cup_wall_angle_deg
        Of the straight cup wall, from the rim plane.
    cup_depth_mm
        From the bite plane to the flat floor of the cup. A wall that reaches the axis before ends there in a
        point.
    """

    inner_diameter_mm: float
    width_mm: float
    high_point: float
    bite_radius_mm: float
    inner_crown_radius_mm: float
    outer_crown_radius_mm: float
    shoulder_radius_mm: float
    cup_wall_angle_deg: float
    cup_depth_mm: float


@dataclass(frozen=True)
class Rim:
    """A rim's profile in its own frame: s grows away from the lip and is 0 at the high point.

    Parameters
    ----------
    curve
        From the cup outwards, in (r, s), mm.
    bite
        (r, s) of the bite point, where the inner edge's tangent stands at 45 degrees to the axis.
    high_point_radius
        r where s = 0; the middle of it where the rim is flat there.
    outer_radius
        Largest r of the profile, mm.
    bite_radius
        Radius of the piece that holds the bite point, mm.
    cup_end
        Arc length on the curve at which the cup ends and the rim proper begins; smaller arc lengths are cup
        wall or floor.
    cup_floor
        Largest s of the cup as drawn; ``None`` where no cup is drawn.
    source
        ``"dimensions"``, ``"outline"`` or ``"trace"``.
    """

    curve: Curve
    bite: tuple[float, float]
    high_point_radius: float
    outer_radius: float
    bite_radius: float
    cup_end: float
    cup_floor: float | None
    source: str


def rim_from_dimensions(d: RimDimensions) -> Rim:
    """Draw a rim: cup floor and wall, bite, inner and outer crown, shoulder, outside wall.

    From the cup wall on, each piece is tangent to the next, and every circle touches the next from inside.
    With the high point at (h, 0) and the bite point at r = b, the bite's centre lies at c = b + bite /
    sqrt(2), and the crown meets the bite's arc where it has left the horizontal by the angle whose sine is (h
    - c) / (crown - bite). Outside, with the shoulder's centre at outer radius - shoulder, it is the same.

    Raises
    ------
    GeometryError
        With every fault found, if no such rim exists.
    """
    found = _range_faults(d)
    found += _shape_faults(d, {f.key.removeprefix("rim.") for f in found})
    if found:
        raise GeometryError(tuple(found))
    return _draw(d)


def _draw(d: RimDimensions) -> Rim:
    bite_r = 0.5 * d.inner_diameter_mm
    high = bite_r + d.high_point * d.width_mm
    outer = bite_r + d.width_mm
    bite, shoulder = d.bite_radius_mm, d.shoulder_radius_mm
    inner = _Edge.of(high - bite_r - bite / SQRT2, d.inner_crown_radius_mm, bite, pi / 4)
    outside = _Edge.of(outer - shoulder - high, d.outer_crown_radius_mm, shoulder, pi / 2)
    bite_s = inner.centre - bite / SQRT2
    wall = radians(d.cup_wall_angle_deg)
    wall_end = (bite_r + bite / SQRT2 - bite * sin(wall), inner.centre - bite * cos(wall))
    cup = _cup(wall_end, wall, bite_s + d.cup_depth_mm)
    vertices = _joined([
        *((r, s, 0.0) for r, s in cup),
        (*wall_end, tan((wall - inner.angle) / 4)),
        (bite_r + bite / SQRT2 - bite * sin(inner.angle), inner.meets, tan(inner.angle / 4)),
        (high, 0.0, tan(outside.angle / 4)),
        (outer - shoulder + shoulder * sin(outside.angle), outside.meets, tan((pi / 2 - outside.angle) / 4)),
        (outer, outside.centre, 0.0),
        (outer, outside.centre + d.cup_depth_mm, 0.0),
    ])
    curve = Curve.from_vertices(vertices)
    return Rim(
        curve=curve, bite=(bite_r, bite_s), high_point_radius=high, outer_radius=outer, bite_radius=bite,
        cup_end=float(curve.offset[len(cup)]), cup_floor=cup[0][1], source="dimensions",
    )


@dataclass(frozen=True)
class _Edge:
    """How an edge's circle meets the crown: the centre's s, the joint's s, and the crown's angle there."""

    centre: float
    meets: float
    angle: float

    @classmethod
    def of(cls, run: float, crown: float, edge: float, widest: float) -> _Edge:
        """Place an edge of radius ``edge`` whose centre stands ``run`` mm away from the high point in r.

        The ``widest`` angle is the one that leaves the edge no arc of its own; only rounding can exceed it.
        """
        slack = crown - edge
        one_arc = slack < NO_LENGTH_MM or run <= 0.0
        angle = 0.0 if isinf(crown) or one_arc else min(widest, asin(min(1.0, run / slack)))
        centre = edge + run * tan(0.5 * angle)
        return cls(centre, centre - edge * cos(angle), angle)


def _cup(wall_end: tuple[float, float], wall: float, floor: float) -> list[tuple[float, float]]:
    """Cup from the axis to the end of its wall, that end left out: flat floor and wall, or a point."""
    r, s = wall_end
    foot = r - (floor - s) / tan(wall)
    if foot <= NO_LENGTH_MM:
        return [(0.0, s + r * tan(wall))]
    return [(0.0, floor), (foot, floor)]


def _joined(vertices: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """Leave out pieces without length: a fully round edge, for one, has no crown."""
    kept = [v for v, w in pairwise(vertices) if hypot(v[0] - w[0], v[1] - w[1]) > NO_LENGTH_MM]
    return [*kept, vertices[-1]]


_INNER = ("bite_radius_mm", "inner_crown_radius_mm")
_OUTER = ("shoulder_radius_mm", "outer_crown_radius_mm")
_POSITIVE = "more than 0 mm"
_RANGES: dict[str, tuple[Callable[[float], bool], str]] = {
    "inner_diameter_mm": (lambda v: 0 < v < inf, _POSITIVE),
    "width_mm": (lambda v: 0 < v < inf, _POSITIVE),
    "high_point": (lambda v: 0 < v < 1, "between 0 and 1, as a fraction of the width"),
    "bite_radius_mm": (lambda v: SMALLEST_RADIUS_MM <= v < inf, f"at least {SMALLEST_RADIUS_MM} mm"),
    "inner_crown_radius_mm": (lambda v: v > 0, 'more than 0 mm, or "flat"'),
    "outer_crown_radius_mm": (lambda v: v > 0, 'more than 0 mm, or "flat"'),
    "shoulder_radius_mm": (lambda v: SMALLEST_RADIUS_MM <= v < inf, f"at least {SMALLEST_RADIUS_MM} mm"),
    "cup_wall_angle_deg": (lambda v: 45 < v <= 90, "more than 45 and at most 90 degrees"),
    "cup_depth_mm": (lambda v: 0 < v < inf, _POSITIVE),
}


def _range_faults(d: RimDimensions) -> list[Fault]:
    """Values that are wrong by themselves."""
    values = {f.name: float(getattr(d, f.name)) for f in fields(d)}
    return [
        Fault(f"rim.{name}", f"{values[name]:g}", allowed)
        for name, (is_fine, allowed) in _RANGES.items() if not is_fine(values[name])
    ]


def _shape_faults(d: RimDimensions, wrong: set[str]) -> list[Fault]:
    """Values that do not go together; those already found wrong by themselves are left out."""
    found = _cup_faults(d, wrong)
    if not wrong & {"width_mm", "high_point"}:
        share = d.high_point * d.width_mm
        found += _edge_faults(d, _INNER, wrong, SQRT2 * share, "outwards")
        found += _edge_faults(d, _OUTER, wrong, d.width_mm - share, "inwards")
    return found


def _edge_faults(
    d: RimDimensions, keys: tuple[str, str], wrong: set[str], limit: float, way: str
) -> list[Fault]:
    """Faults of an edge and its crown: the limit is the radius with which a single arc does for both."""
    edge, crown = keys
    found = []
    if edge not in wrong and getattr(d, edge) > limit * (1 + ROUNDING):
        found.append(Fault(
            f"rim.{edge}", f"{getattr(d, edge):g}",
            f"at most {_down(limit)} mm for this width and high point",
            f"move the high point {way} or widen the rim"))
    if crown not in wrong and getattr(d, crown) < limit * (1 - ROUNDING):
        found.append(Fault(
            f"rim.{crown}", f"{getattr(d, crown):g}",
            f'at least {_up(limit)} mm for this width and high point, or "flat"',
            "make the crown flatter or the rim narrower"))
    return found


def _cup_faults(d: RimDimensions, wrong: set[str]) -> list[Fault]:
    """Faults of the cup: the bite's arc must end before the axis and before the floor."""
    if wrong & {"bite_radius_mm", "cup_wall_angle_deg"}:
        return []
    found = []
    wall = radians(d.cup_wall_angle_deg)
    inward = 2 * d.bite_radius_mm * (sin(wall) - 1 / SQRT2)
    rise = d.bite_radius_mm * (1 / SQRT2 - cos(wall))
    if "inner_diameter_mm" not in wrong and d.inner_diameter_mm < inward + NO_LENGTH_MM:
        found.append(Fault(
            "rim.inner_diameter_mm", f"{d.inner_diameter_mm:g}",
            f"more than {_up(inward)} mm for this bite radius and cup wall", "make the bite radius smaller"))
    if "cup_depth_mm" not in wrong and d.cup_depth_mm < rise + NO_LENGTH_MM:
        found.append(Fault(
            "rim.cup_depth_mm", f"{d.cup_depth_mm:g}",
            f"more than {_up(rise)} mm for this bite radius and cup wall", "make the cup deeper"))
    return found


def _down(value: float) -> str:
    """Text of a limit that may be typed in as it stands."""
    return f"{floor(1000 * value) / 1000:g}"


def _up(value: float) -> str:
    return f"{ceil(1000 * value) / 1000:g}"
