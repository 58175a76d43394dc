"""How near two problems are: what a quick estimate, or a start from a solved neighbour, is chosen by."""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.rims.rim import Rim
from labrum.simulate.problem import Lip, Problem

FACE_SHARES = np.array([0.1, 0.3, 0.6, 0.85])
"""Where, as shares of the width from the bite, the rim's face is sampled."""


def features(problem: Problem) -> Floats:
    """Put a problem into one row of numbers, each scaled so that a step of 1 changes the answer about as much.

    The scales are judgement: how far one would turn each value to feel a difference. A rim counts by its drawn
    shape, so that dimensions, outlines and traces can be compared.
    """
    load = problem.load
    rest = [8.0 * np.log(load.force), load.mouth_pressure / 5e-3, load.friction / 0.2, load.muscle_activation / 0.2]
    return np.concatenate([_rim(problem.rim), _lip(problem.lip), rest])


def _rim(rim: Rim) -> Floats:
    bite, width = rim.bite[0], rim.outer_radius - rim.bite[0]
    line = rim.curve.sample(0.02)
    face = line[np.argmax(line[:, 1] <= rim.bite[1] + 1e-9) :]
    heights = np.interp(bite + FACE_SHARES * width, face[:, 0], face[:, 1])
    depth = 20.0 if rim.cup_floor is None else min(rim.cup_floor, 20.0)
    place = (rim.high_point_radius - bite) / width
    shape = [2 * bite / 0.5, width / 0.5, place / 0.08, 2.5 * np.log(rim.bite_radius), depth / 6.0]
    return np.concatenate([shape, heights / 0.15])


def _lip(lip: Lip) -> Floats:
    compliance = sum(layer.thickness / layer.shear_modulus for layer in lip.layers)
    values = [
        lip.thickness / 1.0,
        6.0 * np.log(compliance / lip.thickness),
        2.0 * np.log(lip.layers[0].shear_modulus),
        lip.radius / 8.0,
        lip.opening_radius / 0.7,
        lip.tooth_gap_radius / 1.5,
        lip.fold_radius / 4.0,
        3.0 * (lip.backing == "sliding"),
    ]
    return np.array(values)
