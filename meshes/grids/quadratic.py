"""Quadratic edges and biquadratic quadrilaterals: order of nodes, shape functions, integration rules.

The one place that evaluates them. The functions and the rules are scikit-fem's (`ElementLineP2`, `ElementQuad2`,
Gauss-Legendre), whose nine nodes stand in the order of `labrum.meshes.grids.grid.Grid.quads`; only the coordinates
differ: here a local coordinate runs from -1 to 1, there from 0 to 1.
"""

from __future__ import annotations

import numpy as np
from skfem import ElementLineP2, ElementQuad2
from skfem.element import Element
from skfem.quadrature import get_quadrature
from skfem.refdom import RefLine, RefQuad

from labrum.meshes.arrays import Floats, Ints

EDGES = np.array([[0, 4, 1], [1, 5, 2], [2, 6, 3], [3, 7, 0]])
"""Start, middle and end of a quadrilateral's edges, anticlockwise: bottom, right, top, left."""

LINE, QUAD = ElementLineP2(), ElementQuad2()
LINE_ORDER = (0, 2, 1)  # scikit-fem counts the middle of a line last


def edge_functions(places: Floats) -> tuple[Floats, Floats]:
    """Values and derivatives, each (k, 3), of an edge's shape functions (start, middle, end) at places (k,)."""
    values, (slopes,) = _evaluated(LINE, np.atleast_2d(places), LINE_ORDER)
    return values, slopes


def shape_functions(local: Floats) -> tuple[Floats, Floats, Floats]:
    """Values and the two local derivatives, each (k, 9), of a quadrilateral's shape functions at points (k, 2)."""
    values, (across, up) = _evaluated(QUAD, local.T, range(9))
    return values, across, up


def pressure_functions(local: Floats) -> Floats:
    """A quadrilateral's three discontinuous linear functions 1, xi, eta at points (k, 2): (k, 3)."""
    return np.column_stack([np.ones(len(local)), local])


def edge_rule(points: int) -> tuple[Floats, Floats]:
    """Gauss-Legendre places and weights, each (points,), on -1 to 1; exact to degree 2 points - 1."""
    places, weights = get_quadrature(RefLine, 2 * points - 1)
    return 2.0 * places[0] - 1.0, 2.0 * weights


def quad_rule(points: int) -> tuple[Floats, Floats]:
    """Points (points**2, 2) and weights (points**2,) of the product of two such rules; the first coordinate is slow."""
    places, weights = get_quadrature(RefQuad, 2 * points - 1)
    return np.ascontiguousarray(2.0 * places.T - 1.0), 4.0 * weights


def edge_polynomial(nodal: Floats) -> Floats:
    """Coefficients (..., 3) of 1, x and x squared, x from -1 to 1, of values (..., 3) at start, middle and end."""
    start, middle, end = np.moveaxis(nodal, -1, 0)
    return np.stack([middle, 0.5 * (end - start), 0.5 * (start + end) - middle], axis=-1)


def edges_along(count: int) -> Ints:
    """Start, middle and end (m, 3) of the m edges that ``count`` = 2 m + 1 nodes in a row make."""
    return np.arange(0, count - 2, 2)[:, None] + np.arange(3)


def _evaluated(element: Element, local: Floats, order: tuple[int, ...] | range) -> tuple[Floats, list[Floats]]:
    """Values (k, nodes) and each local derivative (k, nodes) at points (d, k) between -1 and 1."""
    found = [element.lbasis(0.5 * (local + 1.0), node) for node in order]
    slopes = 0.5 * np.stack([slope for _, slope in found], axis=-1)
    return np.stack([value for value, _ in found], axis=-1), list(slopes)
