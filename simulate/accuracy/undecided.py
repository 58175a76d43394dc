"""What one grid leaves undecided, and how far a measure would move if it went the other way.

Most measures move little from grid to grid. Some jump: where the peak is, when two humps press alike; the way from the
crest to the cup, when the lip may or may not touch its wall; the area that has left the teeth, which is counted in
whole columns. No floor bounds a jump, but an equilibrium tells how near it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.rims.rim import Rim
from labrum.simulate.equilibrium.traction import Traction, traction
from labrum.simulate.load_path.adaptive_grid import surface_samples
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.problem import Problem
from labrum.simulate.readings.crest import wall_reach
from labrum.simulate.readings.measures import crest_gap, lifted_columns
from labrum.simulate.readings.pressure import between_nodes, on_rim, vanishing

if TYPE_CHECKING:
    from labrum.simulate.postures.found import OffAxis

Errors = Mapping[str, float | None]


def undecided(
    problem: Problem, pressed: Pressed, measures: Measures, others: Sequence[Measures], errors: Errors,
    off_axis: OffAxis | None = None,
) -> dict[str, float]:  # fmt: skip
    """By how much each measure that jumps may do so, in its own unit.

    ``measures`` are the answer's, ``others`` those of other grids and ways, ``errors`` those estimated by movement.
    """
    model, state = pressed.model, pressed.equilibrium.state
    contact = traction(model, state)
    found = {"peak_radius_mm": other_hump(contact, measures.peak_pressure_error_percent)}
    if off_axis is not None and off_axis.leaning is not None:
        leaning, percent = off_axis.leaning, 100.0 * (errors["tilted_peak_kpa"] or 0.0) / off_axis.leaning.peak_kpa
        tilted = leaning.wave.pressure(leaning.amount, 1.0)
        found["tilted_peak_radius_mm"] = way_to_other_hump(leaning.wave.radius, tilted, leaning.wave.active, percent)
    if measures.cup_clearance_mm is not None:
        found["cup_clearance_mm"] = _clearance(problem.rim, pressed, contact, measures, others, errors)
    if measures.lift_off_area_mm2 is not None:
        area, free = lifted_columns(model, state, problem.lip)
        found["lift_off_area_mm2"] = float(area[(free > 0) & (free < 3)].sum())
    return found


def other_hump(contact: Traction, percent: float) -> float:
    """Way, mm in radius, from the contact's peak to another hump, as `way_to_other_hump` tells."""
    return way_to_other_hump(contact.place[:, 0], contact.pressure, contact.active, percent)


def way_to_other_hump(radius: Floats, pressure: Floats, active: Bools, percent: float) -> float:
    """Way, mm in radius, from the peak to the furthest hump that comes within its error, ``percent``.

    The error is doubled because both humps have it. ``radius``, ``pressure`` (k,) at nodes of which some touch.
    """
    touching = np.nonzero(active)[0]
    if len(touching) < 3:
        return 0.0
    first, last = int(touching[0]), int(touching[-1])
    radius, pressure = (between_nodes(k, first, last) for k in (radius, pressure))
    inner = pressure[1:-1]
    humps = 1 + np.nonzero((inner >= pressure[:-2]) & (inner >= pressure[2:]))[0]
    alike = humps[pressure[humps] >= pressure.max() * (1.0 - 0.02 * percent)]
    return float(np.abs(radius[alike] - radius[pressure.argmax()]).max(initial=0.0))


def touching_in_doubt(rim: Rim, contact: Traction, touches: bool, reach_error: float) -> bool:
    """Whether a little more or less would decide if the lip touches the cup's wall.

    It touches a stretch no longer than ``reach_error`` mm; or it is not held to touch, and reaches past the joint by a
    node or by its pressure on the rim, drawn on.
    """
    reach = wall_reach(rim, contact) or 0.0
    if reach > 0.0:
        return not touches or reach < reach_error
    touching = np.nonzero(on_rim(rim, contact))[0]
    if len(touching) == 0 or touching[0] == 0:
        return False
    return vanishing(contact, int(touching[0]), -1, contact.foot) < rim.cup_end


def _clearance(
    rim: Rim, pressed: Pressed, contact: Traction, measures: Measures, others: Sequence[Measures], errors: Errors
) -> float:
    """The whole way from crest to cup where touching is in doubt or grids or ways disagree on it, else nought."""
    state = pressed.equilibrium.state
    _, surface = surface_samples(pressed.model, state)
    inside = surface[surface[:, 0] < rim.bite[0]]
    doubt = touching_in_doubt(rim, contact, bool(measures.touches_cup), errors["cup_wall_reach_mm"] or 0.0)
    doubt |= any(other.touches_cup != measures.touches_cup for other in others)
    return crest_gap(rim, inside, state.travel) if doubt and len(inside) else 0.0
