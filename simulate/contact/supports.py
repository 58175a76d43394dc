"""What stands behind the lip: a bonded or a sliding back face, and the gap between the teeth.

A support that ended abruptly would put a singular corner into the solution, and the peak would drift with the
mesh. So a bonded support stiffens from nothing to rigid over `TRANSITION_MM` outside the gap, and a sliding one
is a rigid curve whose edge has that radius: a tooth's edge is round too (about 1 mm: common practice, no
source).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.grids.grid import Grid, with_midpoints
from labrum.simulate.problem import Lip

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


def transition_springs(lip: Lip, grid: Grid) -> Floats:
    """(n, 2) stiffness, N/mm, of the springs that let a bonded support grow from the gap's edge outwards."""
    springs = np.zeros(grid.nodes.shape)
    gap = lip.tooth_gap_radius
    if lip.backing != "bonded" or gap == 0.0:
        return springs
    share = np.clip((grid.node_columns - gap) / TRANSITION_MM, 0.0, 1.0 - 1e-3)
    modulus = lip.layers[-1].shear_modulus / lip.layers[-1].thickness
    per_area = modulus * (share / (1.0 - share)) ** 2
    springs[grid.back] = (per_area * _node_areas(grid))[:, None]
    return springs


def _node_areas(grid: Grid) -> Floats:
    """(nodes_per_row,) share of the back face each node stands for over the full circle, mm2 (Simpson weights)."""
    widths = np.diff(grid.columns)
    weights = np.zeros(grid.nodes_per_row)
    weights[0:-2:2] += widths / 6.0
    weights[1:-1:2] += widths * 4.0 / 6.0
    weights[2::2] += widths / 6.0
    return 2.0 * np.pi * with_midpoints(grid.columns) * weights
