"""The numbers read off an equilibrium. Definitions: `labrum.simulate.outcome.Measures` and the docstrings here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.grids.quadratic import edge_polynomial
from labrum.meshes.rims.rim import Rim
from labrum.simulate.contact.supports import TRANSITION_MM
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.traction import Traction, peak
from labrum.simulate.load_path.adaptive_grid import surface_samples
from labrum.simulate.load_path.transfer import displacement_at
from labrum.simulate.problem import Lip
from labrum.simulate.readings.sections import past_plane

BETWEEN = 4  # points of a drawn profile a node


@dataclass(frozen=True)
class PressureReading:
    """What the contact pressure tells; MPa, mm, mm2. Integrals are over the area projected on the rim plane."""

    peak: float
    peak_raw: float
    peak_radius: float
    force: float
    square: float
    felt_radius: float
    inner_radius: float
    outer_radius: float
    area: float


@dataclass(frozen=True)
class CupReading:
    """What stands beyond the bite plane, inside the bite; mm, mm3; the last two are None where no cup is drawn."""

    height: float
    volume: float
    drawn_in: float
    touches: bool | None
    clearance: float | None


def on_rim(rim: Rim, contact: Traction) -> Bools:
    """(k,) nodes that touch the rim proper, not the cup's wall or floor."""
    return contact.active & (contact.foot >= rim.cup_end)


def pressure_reading(rim: Rim, contact: Traction) -> PressureReading:
    """Peak, integrals and extent of the contact pressure."""
    top, at = peak(contact.pressure, contact.active)
    axial = contact.reaction * -contact.normal[:, 1]
    force = float(axial.sum())
    rim_nodes = on_rim(rim, contact)
    inner, outer = _ends(contact, rim_nodes, rim)
    return PressureReading(
        peak=top,
        peak_raw=peak(contact.raw, contact.active)[0],
        peak_radius=float(np.interp(at, np.arange(len(contact.place)), contact.place[:, 0])),
        force=force,
        square=float(np.sum(contact.pressure * axial)),
        felt_radius=float(np.sum(contact.place[:, 0] * axial)) / force if force else 0.0,
        inner_radius=inner,
        outer_radius=outer,
        area=float(np.pi * (outer**2 - inner**2)),
    )


def cup_reading(model: Model, state: State, rim: Rim, contact: Traction) -> CupReading:
    """Tissue beyond the bite plane: how far, how much, how much of it was drawn in from under the rim."""
    bite, plane = rim.bite[0], rim.bite[1] - state.travel
    _, surface = surface_samples(model, state)
    inside = surface[surface[:, 0] < bite]
    height = max(0.0, float((inside[:, 1] - plane).max(initial=-np.inf)))
    start = float(model.elements.grid.columns[0])
    volume = past_plane(_boundary(model, state, start), bite, plane)
    drawn = past_plane(_boundary(model, state, bite), bite, plane) if bite > start else volume
    touches, clearance = _cup_contact(rim, contact, inside, state.travel)
    return CupReading(height, volume, drawn, touches, clearance)


def _cup_contact(rim: Rim, contact: Traction, inside: Floats, travel: float) -> tuple[bool | None, float | None]:
    """Does tissue touch the cup, and the way from its highest point inside the bite to the cup."""
    if rim.cup_floor is None:
        return None, None
    wall = np.nonzero(contact.active & (contact.foot < rim.cup_end))[0]
    # one node past the joint, next to contact with the rim: the contact ends at the joint, as near as the grid can tell
    at_joint = len(wall) == 1 and bool(on_rim(rim, contact)[wall[0] + 1 : wall[0] + 2].any())
    touches = len(wall) > 0 and not at_joint
    if touches or len(inside) == 0:
        return touches, 0.0 if touches else None
    crest = inside[[inside[:, 1].argmax()]] + np.array([0.0, travel])
    return False, float(rim.curve.nearest(crest).distance[0])


def _ends(contact: Traction, touching: Bools, rim: Rim) -> tuple[float, float]:
    """Radii where contact with the rim proper begins and ends."""
    where = np.nonzero(touching)[0]
    if len(where) == 0:
        return 0.0, 0.0
    first, last = int(where[0]), int(where[-1])
    if first > 0 and contact.active[first - 1]:  # contact goes on up the cup wall: the rim begins at its joint
        inner = float(rim.curve.at([rim.cup_end])[0, 0])
    else:
        inner = vanishing(contact, first, -1)
    return inner, vanishing(contact, last, +1)


def vanishing(contact: Traction, end: int, towards: int, along: Floats | None = None) -> float:
    """Radius at which the pressure of the last two touching nodes, drawn on, reaches zero before the next node.

    ``along`` (k,) replaces the radius by another coordinate of the nodes, such as arc length on the curve.
    """
    r, p = contact.place[:, 0] if along is None else along, contact.pressure
    beyond, before = end + towards, end - towards
    if not 0 <= beyond < len(r):
        return float(r[end])
    fall = p[before] - p[end]
    share = p[end] / fall if fall > p[end] else 1.0
    reach = np.clip(share * abs(r[end] - r[before]), 0.0, abs(r[beyond] - r[end]))
    return float(r[end] + np.sign(r[beyond] - r[end]) * reach)


def _boundary(model: Model, state: State, start: float) -> Floats:
    """Closed polygon (k, 2), anticlockwise, around the deformed tissue that rests outside radius ``start``."""
    grid = model.elements.grid
    rest, surface = surface_samples(model, state)
    out = rest > start
    line = np.column_stack([np.full(400, start), np.linspace(grid.rows[0], 0.0, 400)])
    cut = line + displacement_at(grid, state.u, line)
    moved = grid.nodes + state.u
    back = moved[grid.back][grid.node_columns > start]
    edge = moved[-grid.nodes_per_column :]
    loop = np.vstack([cut, surface[out], edge[::-1][1:], back[::-1][1:]])
    return loop[::-1]


def sticking_share(model: Model, state: State, contact: Traction) -> float | None:
    """Share of the rim's normal load that rests on sticking nodes; None without friction."""
    if model.pairs[0].friction == 0.0:
        return None
    whole = float(contact.reaction.sum())
    return float(contact.reaction[state.pairs[0].stuck].sum()) / whole if whole else 0.0


def lift_off_area(model: Model, state: State, lip: Lip) -> float | None:
    """Area, mm2, of the deformed back face that rested on the teeth and has left them; None where it is bonded.

    What the jaw holds beyond the fold has not left it, whether or not contact is counted there.
    """
    if lip.backing == "bonded":
        return None
    grid, free = model.elements.grid, ~state.pairs[1].active
    first = np.arange(0, grid.nodes_per_row - 2, 2)
    lifted = free[first] & free[first + 1] & free[first + 2]
    lifted &= grid.node_columns[first] >= lip.tooth_gap_radius + TRANSITION_MM - 1e-9
    lifted &= ~model.pattern.fixed[grid.back[first + 1], 1]
    r = (grid.nodes + state.u)[grid.back, 0]
    return float(np.pi * np.sum(np.abs(r[first + 2] ** 2 - r[first] ** 2)[lifted]))


def between_nodes(values: Floats, first: int, last: int) -> Floats:
    """Nodal ``values`` (k,) from node ``first`` to ``last`` and between them: quadratic on whole edges, else linear."""
    at = np.linspace(first, last, BETWEEN * (last - first) + 1)
    start = np.minimum(2 * (at // 2).astype(int), len(values) - 3)
    middle, slope, bend = edge_polynomial(values[start[:, None] + np.arange(3)]).T
    x = at - start - 1.0
    curved = middle + slope * x + bend * x**2
    whole = (start >= first) & (start + 2 <= last)
    return np.where(whole, curved, np.interp(at, np.arange(len(values)), values))


def profile(contact: Traction) -> Floats:
    """(m, 2) deformed radius mm, ascending, and pressure kPa from the first to the last touching node, between
    nodes too, as the surface's own quadratics have it; zero at the ends.
    """
    where = np.nonzero(contact.active)[0]
    if len(where) == 0:
        return np.zeros((0, 2))
    first, last = int(where[0]), int(where[-1])
    inner, outer = vanishing(contact, first, -1), vanishing(contact, last, +1)
    radius, pressure = (between_nodes(k, first, last) for k in (contact.place[:, 0], contact.pressure))
    rows = np.column_stack([radius, 1e3 * np.maximum(pressure, 0.0)])
    rows = rows[np.argsort(rows[:, 0], kind="stable")]
    if first == 0:  # contact over the axis: no inner end
        return np.vstack([rows, [outer, 0.0]])
    return np.vstack([[inner, 0.0], rows, [outer, 0.0]])
