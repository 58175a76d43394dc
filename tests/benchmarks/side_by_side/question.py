"""Ours on the asking side: a case as the neutral description that every library reads."""

from __future__ import annotations

from typing import Any

import numpy as np

from labrum.meshes.curves.curve import Curve
from labrum.meshes.grids.grid import Grid
from labrum.simulate.problem import Layer, Problem
from labrum.simulate.tissue.law import bulk_modulus

SMOOTH_RAD = 1e-6


def description(problem: Problem, grid: Grid) -> dict[str, Any]:
    """The problem with the lines of a fitted grid, in mm, N and MPa.

    Raises
    ------
    ValueError
        Where the case has more in it than a frictionless press of a bonded, whole disc with a free edge.
    """
    lip, load = problem.lip, problem.load
    rest = (lip.backing, lip.edge, lip.opening_radius, lip.tooth_gap_radius, load.friction, load.mouth_pressure)
    if rest != ("bonded", "free", 0.0, 0.0, 0.0, 0.0) or load.muscle_activation != 0.0:
        raise ValueError("only a frictionless press of a bonded, free-edged, passive disc is compared")
    return {
        "title": problem.title,
        "force": load.force,
        "radius": lip.radius,
        "layers": [_layer(layer) for layer in lip.layers],
        "pieces": _pieces(problem.rim.curve),
        "columns": grid.columns.tolist(),
        "rows": grid.rows.tolist(),
    }


def _layer(layer: Layer) -> dict[str, Any]:
    second, third = layer.stiffening
    bulk = bulk_modulus(layer.shear_modulus, layer.poisson_ratio)
    if not np.isfinite(bulk):
        raise ValueError("the libraries' scripts need a finite bulk modulus")
    return {
        "name": layer.name, "thickness": layer.thickness, "shear": layer.shear_modulus, "second": second,
        "third": third, "bulk": bulk,
    }  # fmt: skip


def _pieces(curve: Curve) -> list[dict[str, Any]]:
    """The smooth, convex stretch of the rim that ends at its outside: from the cup's wall on, without the floor.

    There the signed distance is that of the piece in whose sector a point lies. In the demo the lip stays 6 mm
    away from the floor.
    """
    broken = np.nonzero(np.abs(curve.turns) > SMOOTH_RAD)[0] + 1
    hollow = np.nonzero(curve.sweep < 0.0)[0] + 1
    first = int(max([0, *broken, *hollow]))
    return [_piece(curve, number) for number in range(first, len(curve.bulge))]


def _piece(curve: Curve, number: int) -> dict[str, Any]:
    heading, arc = curve.heading[number], bool(curve.is_arc[number])
    return {
        "start": curve.start[number].tolist(),
        "end": curve.end[number].tolist(),
        "tangent": [float(np.cos(heading)), float(np.sin(heading))],
        "centre": curve.centre[number].tolist() if arc else None,
        "radius": float(curve.radius[number]) if arc else None,
    }
