"""The pressure as a curve along the contact: what is drawn of it, and what a profile tells between nodes.

The recovered pressure is right at the nodes to a percent and more only where elements are short: its error alternates,
too high at an edge's ends and too low at its middle, as that of every projection onto quadratics does, and is nought
near the two Gauss points of the edge (superconvergence: Barlow 1976, Int. J. Numer. Meth. Engng 10:243; Zienkiewicz and
Zhu 1992, the same journal 33:1331; from memory). So the curve goes through the values there. Its square is what is
interpolated: at an end of contact the pressure falls as the square root of the way left (Johnson, Contact Mechanics,
1985, section 4.2; from memory), so the square falls in a straight line. Where it ends, the force of the nodes tells.

On five presses tried the curve lies within 1 % of the peak of that on a grid of sixteen times the unknowns, but for
0.1 mm at its ends: these lie within 0.03 mm, and a curve that is upright there strays no further sideways. The nodes
themselves were off by up to 1.6 % under the shoulder, with a corner at each.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Bools, Floats, Ints
from labrum.meshes.grids.interpolation import monotone
from labrum.meshes.grids.quadratic import edge_functions, edge_polynomial, edge_rule

PER_NODE = 4  # points of a curve a node
AT_AN_END = 8  # points between an end and the first place where the pressure is known, closer towards the end
CURVE_PERCENT = 1.0  # of the peak: what a curve is good for away from its ends, where it was tried
BEYOND = 1.0  # nodes past the last one that touches, within which contact ends
End = Callable[[Floats, Floats, float, float, float], float]
"""Where contact ends: from the last two places where pressure is known, (2,), and its values there, (2,), the force per
mm carried beyond the last of them, the last place that touches, and the farthest where contact may end."""


@dataclass(frozen=True)
class PressureLine:
    """One unbroken stretch of contact, from the axis outwards.

    ``at`` (m,) where on the surface, as a fractional node number; ``place`` (m, 2) mm; ``pressure`` (m,) in the unit
    that came in, nought at both ends (but at the axis or the opening's margin, where contact may go on to the end).
    """

    at: Floats
    place: Floats
    pressure: Floats

    def nodal(self, values: Floats) -> Floats:
        """Nodal ``values`` (k,) or (k, d) on the points of the line, linear between nodes."""
        low = np.clip(self.at.astype(int), 0, len(values) - 2)
        share = (self.at - low).reshape(-1, *(1,) * (values.ndim - 1))
        return np.asarray((1.0 - share) * values[low] + share * values[low + 1])


def end_by_force(where: Floats, known: Floats, carried: float, touching: float, beyond: float) -> float:
    """The end from which on the root carries what the nodes do: 2/3 of the last value times the way.

    The force is right where single values are not, for the nodes' own reactions make it up; to draw the last two values
    on instead led 0.08 mm too far where they hardly fall.
    """
    way = 1.5 * carried / max(float(known[-1]), 1e-300)
    return _held(float(where[-1]) + (way if beyond >= where[-1] else -way), touching, beyond)


def end_by_fall(where: Floats, known: Floats, carried: float, touching: float, beyond: float) -> float:
    """Where the square of the last two values, drawn on, is nought: for pressures that are no nodes' own reactions."""
    squares = np.maximum(known, 0.0) ** 2
    fall = float(squares[0] - squares[-1]) if len(known) > 1 else 0.0
    reached = where[-1] + squares[-1] / fall * (where[-1] - where[0]) if fall > 0.0 else beyond
    return _held(float(reached), touching, beyond)


def _held(reached: float, touching: float, beyond: float) -> float:
    return float(np.clip(reached, min(touching, beyond), max(touching, beyond)))


def pressure_lines(
    place: Floats, pressure: Floats, touching: Bools, beyond: float = BEYOND, end: End = end_by_force
) -> list[PressureLine]:
    """The curves of pressure over every stretch of contact.

    Parameters
    ----------
    place
        (k, 2) places of the surface's nodes from the axis outwards, k odd, mm.
    pressure
        (k,) recovered pressure of the nodes, any unit.
    touching
        (k,) which nodes touch.
    beyond
        How many nodes past the last one that touches the curve may end.
    end
        How it is told where contact ends.
    """
    return [_line(place, pressure, first, last, beyond, end) for first, last in _runs(touching)]


def profile_of(lines: list[PressureLine]) -> Floats:
    """(m, 2) radius and pressure of the lines one after another, by ascending radius."""
    if not lines:
        return np.zeros((0, 2))
    rows = np.vstack([np.column_stack([line.place[:, 0], line.pressure]) for line in lines])
    return np.asarray(rows[np.argsort(rows[:, 0], kind="stable")])


def _runs(touching: Bools) -> Ints:
    """(n, 2) first and last node of every unbroken run."""
    change = np.flatnonzero(np.diff(np.concatenate([[False], touching, [False]]).astype(int)))
    return np.asarray(change.reshape(-1, 2) - np.array([0, 1]))


def _line(place: Floats, pressure: Floats, first: int, last: int, beyond: float, end: End) -> PressureLine:
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(place, axis=0).T))])
    at, known = _known(pressure, first, last)
    where = _between(along, at)
    carried = _carried(along, pressure)
    outermost = (along[max(first - int(beyond), 0)], along[min(last + int(beyond), len(along) - 1)])
    ends = [
        end(where[1::-1], known[1::-1], carried(outermost[0], where[0]), along[first], outermost[0]),
        end(where[-2:], known[-2:], carried(where[-1], outermost[1]), along[last], outermost[1]),
    ]
    closed = [first > 0, last < len(along) - 1]
    rims = [0.0 if shut else float(max(known[side], 0.0) ** 2) for shut, side in zip(closed, (0, -1), strict=True)]
    knots = np.concatenate([[ends[0]], where, [ends[1]]])
    squares = np.concatenate([[rims[0]], np.maximum(known, 0.0) ** 2, [rims[1]]])
    keep = np.concatenate([[True], np.diff(knots) > 1e-9])
    points = _points(along, knots[keep])
    fractional = np.interp(points, along, np.arange(len(along)))
    curve = np.sqrt(np.maximum(monotone(knots[keep], squares[keep], points), 0.0))
    return PressureLine(fractional, _quadratic(place, fractional), curve)


def _known(pressure: Floats, first: int, last: int) -> tuple[Floats, Floats]:
    """Where (fractional nodes) the pressure is known best, and what it is; the nodes where the run is too short.

    An edge whose outer node is the last that touches is left out: contact may end just past it, and then the pressure
    has fallen more steeply there than the edge can show.
    """
    start = np.arange(first + first % 2, last - 1, 2)
    inner = start[((start > first) | (first == 0)) & (start + 2 < last)]
    start = inner if len(inner) > 1 else start
    if len(start) < 2:
        nodes = np.arange(first, last + 1)
        return nodes.astype(float), pressure[nodes]
    spots, _ = edge_rule(2)
    middle, slope, bend = edge_polynomial(pressure[start[:, None] + np.arange(3)]).T[:, :, None]
    return (start[:, None] + 1.0 + spots).ravel(), (middle + slope * spots + bend * spots**2).ravel()


def _carried(along: Floats, pressure: Floats) -> Callable[[float, float], float]:
    """The integral of the recovered pressure over the way between two places, on the surface's own quadratics."""
    start = np.arange(0, len(pressure) - 2, 2)
    spots, weights = edge_rule(3)
    middle, slope, bend = edge_polynomial(pressure[start[:, None] + np.arange(3)]).T

    def between(first: float, last: float) -> float:
        low, high = (np.interp(place, along, np.arange(len(along))) for place in (first, last))
        a, b = np.clip(low - start - 1.0, -1.0, 1.0), np.clip(high - start - 1.0, -1.0, 1.0)
        x = 0.5 * (a + b)[:, None] + 0.5 * (b - a)[:, None] * spots
        length = 0.5 * (along[start + 2] - along[start])
        value = middle[:, None] + slope[:, None] * x + bend[:, None] * x**2
        return float(np.sum(0.5 * (b - a) * length * (value @ weights)))

    return between


def _points(along: Floats, knots: Floats) -> Floats:
    """Places of a smooth drawing: some to every node, and closer towards the ends, where the curve is steep."""
    fine = np.interp(np.arange((len(along) - 1) * PER_NODE + 1) / PER_NODE, np.arange(len(along)), along)
    steep = (np.arange(AT_AN_END + 1) / AT_AN_END) ** 2
    near = [knots[0] + steep * (knots[1] - knots[0]), knots[-1] - steep * (knots[-1] - knots[-2])]
    inside = fine[(fine > knots[0]) & (fine < knots[-1])]
    places = np.sort(np.concatenate([*near, knots, inside]))
    return places[np.diff(places, prepend=-np.inf) > 0.0]  # np.unique would load numpy.ma, for a tenth of a solve


def _between(values: Floats, at: Floats) -> Floats:
    return np.asarray(np.interp(at, np.arange(len(values)), values))


def _quadratic(values: Floats, at: Floats) -> Floats:
    """Nodal ``values`` (k, d) at fractional nodes (m,), on the surface's own quadratics."""
    start = np.minimum(2 * (at // 2).astype(int), len(values) - 3)
    return np.einsum("ma,mad->md", edge_functions(at - start - 1.0)[0], values[start[:, None] + np.arange(3)])
