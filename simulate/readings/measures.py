"""The numbers read off an equilibrium. What each means stands in `labrum.simulate.measures.catalogue`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.rims.rim import Rim
from labrum.simulate.contact.supports import TRANSITION_MM
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.traction import Traction
from labrum.simulate.load_path.adaptive_grid import surface_samples
from labrum.simulate.load_path.transfer import displacement_at
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.problem import KPA_PER_MPA, Lip, Problem
from labrum.simulate.readings.aperture import aperture_stiffness
from labrum.simulate.readings.crest import crest_height, wall_reach
from labrum.simulate.readings.fields import skin_stretch
from labrum.simulate.readings.pressure import on_rim, pressure_reading
from labrum.simulate.readings.rim_edges import edge_to_crown
from labrum.simulate.readings.sections import past_plane


@dataclass(frozen=True)
class CupReading:
    """What stands beyond the bite plane, inside the bite; mm, mm3; the last two are None where no cup is drawn."""

    height: float
    volume: float
    drawn_in: float
    touches: bool | None
    clearance: float | None


def measures_of(problem: Problem, model: Model, state: State, contact: Traction) -> Measures:
    """Read off an equilibrium every measure that it tells by itself; the others are left at their defaults."""
    rim = problem.rim
    pressure, cup = pressure_reading(rim, contact), cup_reading(model, state, rim, contact)
    crest = crest_height(model, state, rim)
    return Measures(
        peak_pressure_kpa=KPA_PER_MPA * pressure.peak,
        peak_radius_mm=pressure.peak_radius,
        mean_pressure_kpa=KPA_PER_MPA * pressure.mean,
        contact_area_mm2=pressure.area,
        bearing_area_mm2=pressure.bearing_area,
        edge_to_crown_pressure=edge_to_crown(rim, contact),
        edge_concentration=pressure.peak / pressure.mean,
        skin_stretch_max=skin_stretch(model, state),
        felt_diameter_mm=2.0 * pressure.felt_radius,
        contact_inner_radius_mm=pressure.inner_radius,
        contact_outer_radius_mm=pressure.outer_radius,
        contact_width_mm=pressure.outer_radius - pressure.inner_radius,
        sink_mm=state.travel,
        past_bite=cup.height > 0.0,
        intrusion_height_mm=cup.height,
        intrusion_volume_mm3=cup.volume,
        drawn_in_volume_mm3=cup.drawn_in,
        height_past_high_point_mm=crest + state.travel if np.isfinite(crest) else None,
        touches_cup=cup.touches,
        cup_clearance_mm=cup.clearance,
        cup_wall_reach_mm=wall_reach(rim, contact),
        sticking_share=sticking_share(model, state, contact),
        lift_off_area_mm2=lift_off_area(model, state, problem.lip),
        aperture_stiffness_n_per_mm=aperture_stiffness(model, state),
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
    return False, crest_gap(rim, inside, travel)


def crest_gap(rim: Rim, inside: Floats, travel: float) -> float:
    """Way, mm, to the rim's curve from the crest of the surface ``inside`` the bite (k, 2).

    The crest is the vertex of the parabola through the highest sample and its neighbours: on a flat crest away from the
    axis the samples alone would tell it to a sample, and the way with it.
    """
    top = int(inside[:, 1].argmax())
    at = inside[top]
    if 0 < top < len(inside) - 1:
        bend, slope, height = np.polyfit(inside[top - 1 : top + 2, 0] - at[0], inside[top - 1 : top + 2, 1], 2)
        if bend < 0.0:
            shift = -0.5 * slope / bend
            at = np.array([at[0] + shift, height + 0.5 * slope * shift])
    return float(rim.curve.nearest(at[None] + np.array([0.0, travel])).distance[0])


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
    area, free = lifted_columns(model, state, lip)
    return float(area[free == 3].sum())


def lifted_columns(model: Model, state: State, lip: Lip) -> tuple[Floats, Ints]:
    """Area, mm2, of each column of the deformed back that rested on the teeth, and how many of its 3 nodes are free.

    Both (k,), outside the tooth gap and within what the jaw holds.
    """
    grid, free = model.elements.grid, ~state.pairs[1].active
    first = np.arange(0, grid.nodes_per_row - 2, 2)
    first = first[grid.node_columns[first] >= lip.tooth_gap_radius + TRANSITION_MM - 1e-9]
    first = first[~model.pattern.fixed[grid.back[first + 1], 1]]
    r = (grid.nodes + state.u)[grid.back, 0]
    area = np.pi * np.abs(r[first + 2] ** 2 - r[first] ** 2)
    return area, free[first].astype(int) + free[first + 1] + free[first + 2]
