"""Quadratic edges and biquadratic quadrilaterals: order of nodes, shape functions, integration rules.

The one place that evaluates them: Lagrange's polynomials through -1, 0 and 1, their products, and Gauss-Legendre's rule
(numpy's). A local coordinate runs from -1 to 1; nodes stand in the order of `labrum.meshes.grids.grid.Grid.quads`. They
are those of scikit-fem, which a test compares; written out because to load that library takes longer than a solve.
"""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats, Ints

EDGES = np.array([[0, 4, 1], [1, 5, 2], [2, 6, 3], [3, 7, 0]])
"""Start, middle and end of a quadrilateral's edges, anticlockwise: bottom, right, top, left."""

ACROSS, UP = np.array([[0, 2, 2, 0, 1, 2, 1, 0, 1], [0, 0, 2, 2, 0, 1, 2, 1, 1]])
"""Place of a quadrilateral's nine nodes in either direction: at the start, in the middle, at the end."""


def edge_functions(places: Floats) -> tuple[Floats, Floats]:
    """Values and derivatives, each (k, 3), of an edge's shape functions (start, middle, end) at places (k,)."""
    x = np.asarray(places)
    values = np.column_stack([0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0)])
    return values, np.column_stack([x - 0.5, -2.0 * x, x + 0.5])


def shape_functions(local: Floats) -> tuple[Floats, Floats, Floats]:
    """Values and the two local derivatives, each (k, 9), of a quadrilateral's shape functions at points (k, 2)."""
    (x, dx), (y, dy) = edge_functions(local[:, 0]), edge_functions(local[:, 1])
    x, dx, y, dy = x[:, ACROSS], dx[:, ACROSS], y[:, UP], dy[:, UP]
    return x * y, dx * y, x * dy


def pressure_functions(local: Floats) -> Floats:
    """A quadrilateral's three discontinuous linear functions 1, xi, eta at points (k, 2): (k, 3)."""
    return np.column_stack([np.ones(len(local)), local])


def edge_rule(points: int) -> tuple[Floats, Floats]:
    """Gauss-Legendre places and weights, each (points,), on -1 to 1; exact to degree 2 points - 1."""
    places, weights = np.polynomial.legendre.leggauss(points)
    return places, weights


def quad_rule(points: int) -> tuple[Floats, Floats]:
    """Points (points**2, 2) and weights (points**2,) of the product of two such rules; the first coordinate is slow."""
    places, weights = edge_rule(points)
    slow, fast = np.repeat(places, points), np.tile(places, points)
    return np.column_stack([slow, fast]), np.outer(weights, weights).ravel()


def edge_polynomial(nodal: Floats) -> Floats:
    """Coefficients (..., 3) of 1, x and x squared, x from -1 to 1, of values (..., 3) at start, middle and end."""
    start, middle, end = np.moveaxis(nodal, -1, 0)
    return np.stack([middle, 0.5 * (end - start), 0.5 * (start + end) - middle], axis=-1)


def edges_along(count: int) -> Ints:
    """Start, middle and end (m, 3) of the m edges that ``count`` = 2 m + 1 nodes in a row make."""
    return np.arange(0, count - 2, 2)[:, None] + np.arange(3)
