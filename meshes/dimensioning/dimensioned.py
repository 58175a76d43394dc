"""A measured or drawn profile said in dimensions: the nearest rim they draw, how far off it is, whether it will do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf, isfinite

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.dimensioning.box_coordinates import (
    BITE,
    DEPTH,
    FLATTEST_MM,
    INNER_BEND,
    INNER_RUN,
    KEYS,
    LIFT,
    OUTER_BEND,
    OUTER_RUN,
    WALL,
    into_box,
)
from labrum.meshes.dimensioning.fitting import BoxFit, fit_box
from labrum.meshes.faults import Fault, GeometryError
from labrum.meshes.gauges.readings import dimensions, edge_ends
from labrum.meshes.rims.rim import NO_LENGTH_MM, Rim, RimDimensions, rim_from_dimensions
from labrum.meshes.traces.trace import MeasuredRim

# Farther off anywhere between cup and outside wall, and a rim is not said by its dimensions: a machinist's 0.8 thou.
SAID_MM = 0.02
SPACING_MM, FEWEST_SAMPLED = 0.04, 400
# Where the whole is not said, this much of the cup's wall still counts, so that its angle is known.
WALL_MM = 1.0
# An arc that turns by less is no edge; a first piece nearer to level than this is the floor of a cup.
EDGE_TURN, LEVEL, FLOOR_MM = 0.15, 0.1, 0.2
USUAL_CUP_DEG, USUAL_DEPTH_MM = 60.0, 10.0
SOME_BEND, SHARP_MM = 0.3, 0.15
# The mean of so long a stretch of noisy points, and of no fewer, tells how far off a shape is.
MEAN_MM, FEWEST_IN_MEAN = 0.25, 4
FEWEST_POINTS = 20
DIGITS = 4
# Other places to start from where the first leads to no rim like it: bite radius times, high point.
OTHER_STARTS = ((0.4, 0.45), (2.0, 0.45), (1.0, 0.3), (1.0, 0.6))


@dataclass(frozen=True)
class Departure:
    """How far a profile stands off the rim that dimensions draw, mm, positive outside its metal, and where (r, s)."""

    distance: float
    r: float
    s: float

    @property
    def um(self) -> float:
        """Its size, micrometres."""
        return 1000.0 * abs(self.distance)

    def words(self) -> str:
        """Say it: ``12 um at r = 8.37, s = 0.41 mm``."""
        return f"{self.um:.{0 if self.um >= 10.0 else 1}f} um at r = {self.r:.2f}, s = {self.s:.2f} mm"


@dataclass(frozen=True)
class DimensionedRim:
    """The rim that dimensions draw nearest to a profile.

    Parameters
    ----------
    dimensions
        Rounded to a tenth of a micrometre (the high point to 1e-5 of the width), so that they can be written down.
    rim
        As they draw it.
    uncertainties
        Standard uncertainty of each key; infinite where the profile does not tell it.
    departure
        The largest between the cup and the outside wall: what a lip presses on.
    cup, outside
        The same on the cup and on the outside wall; None where the profile has none.
    scatter
        Standard deviation of the points about the outline, mm.
    noise
        Of the trace, mm; 0 for a drawn profile.
    notes
        What was not measured, or is not said.
    """

    dimensions: RimDimensions
    rim: Rim
    uncertainties: dict[str, float]
    departure: Departure
    cup: Departure | None
    outside: Departure | None
    scatter: float
    noise: float
    notes: tuple[str, ...]

    @property
    def limit(self) -> float:
        """How far off it may be to be said, mm: what noise hides counts for nothing."""
        return max(SAID_MM, self.noise)

    @property
    def is_said(self) -> bool:
        """Do the dimensions say this rim?"""
        return abs(self.departure.distance) <= self.limit

    def refusal(self) -> str:
        """Say why the dimensions do not do; empty where they do."""
        if self.is_said:
            return ""
        return (f"no dimensions say this rim: the nearest stand off it by up to {self.departure.words()}, "
                f"allowed {1000.0 * self.limit:.0f} um")


def dimensioned_trace(measured: MeasuredRim) -> DimensionedRim:
    """Say a measured rim in dimensions, by least squares on its points."""
    return dimensioned_points(measured.rim, measured.points, measured.fit.noise)


def dimensioned_outline(rim: Rim) -> DimensionedRim:
    """Say a drawn outline in dimensions, by least squares on points along it."""
    return dimensioned_points(rim, _along(rim.curve), 0.0)


def _along(curve: Curve) -> Floats:
    """(n, 2) points along an outline, even in length."""
    return curve.at(np.linspace(0.0, curve.length, max(int(curve.length / SPACING_MM), FEWEST_SAMPLED)))


@dataclass(frozen=True)
class _Try:
    """One fit; its largest departures on the rim, on the cup and outside; ``worst`` of those it was fitted to."""

    fit: BoxFit
    found: RimDimensions
    rim: Rim
    parts: tuple[Departure, Departure | None, Departure | None]
    worst: float


def dimensioned_points(rim: Rim, points: Floats, noise: float) -> DimensionedRim:
    """Say (n, 2) points in dimensions; ``rim`` is how they were read, ``noise`` their scatter, mm.

    Raises
    ------
    GeometryError
        If no dimensions draw anything like it.
    """
    limit = max(SAID_MM, noise)
    best = _best(_tries(rim, points, noise), limit)
    departure, cup, outside = best.parts
    told = best.fit.uncertainties()
    notes = tuple(_notes(rim, told, cup, outside, limit))
    return DimensionedRim(best.found, best.rim, told, departure, cup, outside, best.fit.scatter, noise, notes)


def _best(tries: Iterator[_Try], limit: float) -> _Try:
    """Take the first that is near wherever it was fitted, or else the one that is nearest on the rim."""
    found = []
    for one in tries:
        if one.worst <= limit:
            return one
        found.append(one)
    if not found:
        raise GeometryError((Fault("rim", "an outline that no dimensions draw", "a bite, a crown and a shoulder"),))
    return min(found, key=lambda one: abs(one.parts[0].distance))


def _tries(rim: Rim, points: Floats, noise: float) -> Iterator[_Try]:
    """Fit all points; then without the cup, without the outside wall, without both; then from other starts."""
    start, free = _start(rim)
    coordinate = np.arange(len(free))
    no_depth = free & (coordinate != DEPTH)
    round_crowns = no_depth | np.isin(coordinate, (INNER_RUN, INNER_BEND, OUTER_BEND))
    at = rim.curve.nearest(points).arc_length
    in_cup, outside = at < rim.cup_end - WALL_MM, at > _shoulder_end(rim)
    others = list(_other_starts(start))
    for x, still, with_cup, with_outside in (
        (start, free, True, True), (start, no_depth, False, True), (start, free, True, False),
        (start, no_depth, False, False), *((other, free | round_crowns, True, True) for other in others),
        *((other, round_crowns, False, False) for other in others),
    ):  # fmt: skip
        on = ~((in_cup & (not with_cup)) | (outside & (not with_outside)))
        if on.sum() >= FEWEST_POINTS:
            try:
                fit = fit_box(x, still, points[on])
                yield _tried(fit, points, outside, noise, (True, with_cup, with_outside))
            except (GeometryError, np.linalg.LinAlgError):
                continue


def _tried(fit: BoxFit, points: Floats, outside: Bools, noise: float, fitted: tuple[bool, bool, bool]) -> _Try:
    found = _rounded(fit.dimensions)
    drawn = rim_from_dimensions(found)
    parts = _departures(drawn, points, outside, float(fit.x[LIFT]), noise)
    worst = max(abs(part.distance) for part, on in zip(parts, fitted, strict=True) if on and part is not None)
    return _Try(fit, found, drawn, parts, worst)


def _start(rim: Rim) -> tuple[Floats, Bools]:
    """Box coordinates as gauged, and which of them the profile can set."""
    read, (high, inner, outer) = dimensions(rim), _crowns(rim)
    width = max(read["width_mm"], 0.5)
    x = into_box(RimDimensions(
        inner_diameter_mm=2.0 * rim.bite[0],
        width_mm=width,
        high_point=min(max((high - rim.bite[0]) / width, 0.05), 0.95),
        bite_radius_mm=max(rim.bite_radius, SHARP_MM),
        inner_crown_radius_mm=inner,
        outer_crown_radius_mm=outer,
        shoulder_radius_mm=_or(read["shoulder_radius_mm"], 0.3 * width),
        cup_wall_angle_deg=_or(read["cup_wall_angle_deg"], USUAL_CUP_DEG),
        cup_depth_mm=_or(read["cup_depth_mm"], USUAL_DEPTH_MM),
    ))  # fmt: skip
    free = np.ones(len(x), dtype=bool)
    free[INNER_BEND], free[OUTER_BEND] = isfinite(inner), isfinite(outer)
    free[INNER_RUN] = isfinite(inner) or isfinite(outer)
    free[WALL] = rim.cup_end > 0.0
    free[DEPTH] = rim.cup_end > 0.0 and _has_floor(rim)
    if not free[DEPTH]:  # a floor where measuring stopped would hold up a lip that the trace does not
        x[DEPTH] = max(x[DEPTH], USUAL_DEPTH_MM)
    return x, free


def _crowns(rim: Rim) -> tuple[float, float, float]:
    """Radius at which the crowns meet, and both crowns' radii, mm; infinite where no arc leads up to an edge.

    The high point of a level stretch is read in its middle, but where an arc follows on one side only, the crowns meet
    at that arc's end.
    """
    curve, top, first = rim.curve, _top(rim), edge_ends(rim)[1]
    arcs = [i for i in range(len(curve.bulge)) if curve.sweep[i] > 0.0 and curve.radius[i] < FLATTEST_MM]
    edges = [i for i in arcs if curve.offset[i + 1] > top]
    last = curve.offset[min(edges, key=lambda i: float(curve.radius[i]))] if edges else curve.length
    crown = [i for i in arcs if first - NO_LENGTH_MM <= curve.offset[i] and curve.offset[i + 1] <= last + NO_LENGTH_MM]
    inner = [i for i in crown if curve.offset[i] < top - NO_LENGTH_MM]
    outer = [i for i in crown if curve.offset[i + 1] > top + NO_LENGTH_MM]
    high = rim.high_point_radius
    if inner and not outer:
        high = float(curve.end[inner[-1], 0])
    if outer and not inner:
        high = float(curve.start[outer[0], 0])
    return high, _longest_radius(curve, inner), _longest_radius(curve, outer)


def _longest_radius(curve: Curve, pieces: list[int]) -> float:
    return float(curve.radius[max(pieces, key=lambda i: float(curve.piece_length[i]))]) if pieces else inf


def _top(rim: Rim) -> float:
    """Arc length of the high point."""
    return float(rim.curve.nearest(np.array([[rim.high_point_radius, 0.0]])).arc_length[0])


def _other_starts(start: Floats) -> Iterator[Floats]:
    width = float(start[INNER_RUN] + start[OUTER_RUN])
    for bite, high in OTHER_STARTS:
        x = start.copy()
        x[INNER_RUN], x[OUTER_RUN] = high * width, (1.0 - high) * width
        x[BITE] = min(bite * x[BITE], 0.9)
        x[INNER_BEND], x[OUTER_BEND] = max(x[INNER_BEND], SOME_BEND), max(x[OUTER_BEND], SOME_BEND)
        yield x


def _or(value: float, usual: float) -> float:
    return usual if np.isnan(value) else value


def _has_floor(rim: Rim) -> bool:
    """Is the deepest part of the cup a level stretch?"""
    first = rim.curve
    return bool(abs(first.heading[0]) < LEVEL and first.sweep[0] == 0.0 and first.piece_length[0] > FLOOR_MM)


def _shoulder_end(rim: Rim) -> float:
    """Arc length at which the last edge outside the high point ends."""
    curve, top = rim.curve, _top(rim)
    edges = [i for i in range(len(curve.bulge)) if curve.offset[i + 1] > top and curve.sweep[i] > EDGE_TURN]
    return float(curve.offset[edges[-1] + 1]) if edges else curve.length


def _rounded(d: RimDimensions) -> RimDimensions:
    """Dimensions as they are written; a crown flatter than any is flat, an edge never beyond what there is room for."""
    flat = {key: inf for key in KEYS if key.endswith("crown_radius_mm") and getattr(d, key) > FLATTEST_MM}
    round_to = {key: DIGITS + (key == "high_point") for key in KEYS if key not in flat}
    return replace(d, **flat, **{key: round(getattr(d, key), digits) for key, digits in round_to.items()
                                 if isfinite(getattr(d, key))})


def _departures(
    drawn: Rim, points: Floats, outside: Bools, lift: float, noise: float
) -> tuple[Departure, Departure | None, Departure | None]:
    """Find the largest distances of the points from the rim drawn, on the rim, on its cup and on its outside wall.

    Of noisy points the running mean counts, less twice its own doubt: it tells what the shape is off, whatever outline
    the points were read as. ``outside`` (n,) marks points beyond the last edge read: of an outside that leans, some are
    nearest to a shoulder that goes on until it is upright.
    """
    near = drawn.curve.nearest(points - (0.0, lift))
    order = np.argsort(near.arc_length)
    along, places, apart = near.arc_length[order], points[order], near.distance[order]
    if noise > 0.0:
        apart = _beyond_noise(apart, noise, len(points) * MEAN_MM / max(float(np.ptp(along)), MEAN_MM))
    inside, beyond = along < drawn.cup_end, (along > drawn.curve.offset[-2]) | outside[order]
    parts = [_largest(places[on], apart[on]) for on in (~inside & ~beyond, inside, beyond & ~inside)]
    assert parts[0] is not None
    return parts[0], parts[1], parts[2]


def _beyond_noise(apart: Floats, noise: float, wanted: float) -> Floats:
    """(n,) running means of distances over some ``wanted`` points, brought towards nought by twice their doubt."""
    count = min(max(round(wanted), FEWEST_IN_MEAN), len(apart))
    ones = np.ones(count)
    share = np.convolve(np.ones(len(apart)), ones, "same")
    mean = np.convolve(apart, ones, "same") / share
    return np.sign(mean) * np.maximum(np.abs(mean) - 2.0 * noise / np.sqrt(share), 0.0)


def _largest(places: Floats, apart: Floats) -> Departure | None:
    if not len(places):
        return None
    k = int(np.argmax(np.abs(apart)))
    return Departure(float(apart[k]), float(places[k, 0]), float(places[k, 1]))


def _notes(
    rim: Rim, told: dict[str, float], cup: Departure | None, outside: Departure | None, limit: float
) -> Iterator[str]:
    if rim.cup_end <= 0.0:
        yield f"no cup was measured: a wall of {USUAL_CUP_DEG:g} degrees, {USUAL_DEPTH_MM:g} mm deep, stands in for it"
    elif not isfinite(told["cup_depth_mm"]):
        yield "no flat floor of the cup was read: its depth is a stand-in"
    if cup is not None and abs(cup.distance) > limit:
        yield f"the cup is no straight wall with a flat floor (off by up to {cup.words()}): what touches it may differ"
    if outside is not None and abs(outside.distance) > limit:
        yield f"the outside is no upright wall (off by up to {outside.words()})"
    if not isfinite(told["high_point"]):
        yield "flat on both sides of its high point, which may lie anywhere there"
