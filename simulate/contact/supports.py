"""What stands behind the lip: a bonded or a sliding back face, and the gap between the teeth.

A support that ended abruptly would put a singular corner into the solution, and the peak would drift with the
mesh. So a bonded support stiffens from nothing to rigid over `TRANSITION_MM` outside the gap, and a sliding one
is a rigid curve whose edge has that radius: a tooth's edge is round too (about 1 mm: common practice, no
source).

Where the lip goes on (``edge = "continuing"``) it does so over the jaw, and is grown to it beyond the fold where its
lining goes over to the gum, by default about as far out as the ring muscle reaches (from memory; a judgement). There a
sliding back cannot lift off, which is what keeps the breath between lip and gums from blowing the whole lip off the
teeth. This hold, too, grows from nothing, over the muscle's `FADE_MM`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.grids.grid import Grid, with_midpoints
from labrum.simulate.problem import Lip
from labrum.simulate.tissue.fading import FADE_MM

TRANSITION_MM = 1.0


def teeth_curve(lip: Lip) -> Curve:
    """The teeth as a rigid curve below the lip, from the outside inwards (metal's side, here enamel's, on the
    left).
    """
    far, level, gap = lip.radius * 1.5, -lip.thickness, lip.tooth_gap_radius
    if gap == 0.0:
        return Curve.from_vertices([(far, level, 0.0), (-1.0, level, 0.0)])
    edge, deep = TRANSITION_MM, level - 2.0 * lip.thickness
    bulge = math.tan(math.pi / 8.0)
    return Curve.from_vertices(
        [(far, level, 0.0), (gap + edge, level, bulge), (gap, level - edge, 0.0), (gap, deep, 0.0)]
    )


def held_back(lip: Lip, grid: Grid) -> NDArray[np.bool_]:
    """(n, 2) displacement components that a bonded back face holds."""
    held = np.zeros(grid.nodes.shape, bool)
    if lip.backing == "bonded":
        gap = lip.tooth_gap_radius
        start = gap + TRANSITION_MM if gap > 0.0 else 0.0
        held[grid.back[grid.node_columns >= start - 1e-9]] = True
    return held


def kept_on_teeth(lip: Lip, grid: Grid) -> tuple[NDArray[np.bool_], Floats]:
    """Components (n, 2) and springs (n, 2), N/mm, by which a sliding back is kept on the teeth where no rim presses it.

    Along the axis only; rigid where the teeth are flat, and growing from nothing along their round edge.
    """
    held, springs = np.zeros(grid.nodes.shape, bool), np.zeros(grid.nodes.shape)
    if lip.backing == "sliding":
        gap = lip.tooth_gap_radius
        way = (grid.node_columns - gap) / TRANSITION_MM if gap > 0.0 else np.ones(grid.nodes_per_row)
        held[grid.back[way >= 1.0 - 1e-9], 1] = True
        springs[grid.back, 1] = np.where(way < 1.0 - 1e-9, _hold(lip, way), 0.0) * _node_areas(grid)
    return held, springs


def transition_springs(lip: Lip, grid: Grid) -> Floats:
    """(n, 2) stiffness, N/mm, of the springs that let a bonded support grow from the gap's edge outwards."""
    springs = np.zeros(grid.nodes.shape)
    gap = lip.tooth_gap_radius
    if lip.backing != "bonded" or gap == 0.0:
        return springs
    per_area = _hold(lip, (grid.node_columns - gap) / TRANSITION_MM)
    springs[grid.back] = (per_area * _node_areas(grid))[:, None]
    return springs


def grown_to_the_jaw(lip: Lip, grid: Grid) -> NDArray[np.bool_]:
    """(n, 2) components that the jaw keeps beyond the fold: a back that goes on there cannot lift off, only slide."""
    held = np.zeros(grid.nodes.shape, bool)
    if lip.backing == "sliding" and lip.edge == "continuing":
        held[grid.back[grid.node_columns >= reach_of_fold(lip) + FADE_MM - 1e-9], 1] = True
    return held


def fold_springs(lip: Lip, grid: Grid) -> Floats:
    """(n, 2) stiffness, N/mm, along the axis, by which the hold of the jaw grows from nothing beyond the fold."""
    springs = np.zeros(grid.nodes.shape)
    if lip.backing == "sliding" and lip.edge == "continuing":
        way = (grid.node_columns - reach_of_fold(lip)) / FADE_MM
        springs[grid.back, 1] = np.where(way < 1.0, _hold(lip, way), 0.0) * _node_areas(grid)
    return springs


def reach_of_fold(lip: Lip) -> float:
    """Radius, mm, of the fold; beyond the gap between the teeth, however wide that is."""
    return max(lip.fold_radius, lip.tooth_gap_radius + TRANSITION_MM)


def _hold(lip: Lip, way: Floats) -> Floats:
    """Stiffness per area, MPa/mm, that grows from nothing at ``way`` 0 to all but rigid at 1."""
    share = np.clip(way, 0.0, 1.0 - 1e-3)
    return np.asarray(lip.layers[-1].shear_modulus / lip.layers[-1].thickness * (share / (1.0 - share)) ** 2)


def _node_areas(grid: Grid) -> Floats:
    """(nodes_per_row,) share of the back face each node stands for over the full circle, mm2 (Simpson weights)."""
    widths = np.diff(grid.columns)
    weights = np.zeros(grid.nodes_per_row)
    weights[0:-2:2] += widths / 6.0
    weights[1:-1:2] += widths * 4.0 / 6.0
    weights[2::2] += widths / 6.0
    return 2.0 * np.pi * with_midpoints(grid.columns) * weights
