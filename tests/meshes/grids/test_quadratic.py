"""Shape functions and integration rules against scikit-fem's (`ElementLineP2`, `ElementQuad2`, Gauss-Legendre)."""

from __future__ import annotations

import numpy as np
import pytest
from skfem import ElementLineP2, ElementQuad2
from skfem.element import Element
from skfem.quadrature import get_quadrature
from skfem.refdom import RefLine, RefQuad

from labrum.meshes.grids.quadratic import edge_functions, edge_rule, quad_rule, shape_functions

LINE_ORDER = (0, 2, 1)  # scikit-fem counts the middle of a line last


def evaluated(element: Element, local: np.ndarray, order: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Values (k, nodes) and local derivatives (d, k, nodes) at points (d, k); its coordinates run from 0 to 1."""
    found = [element.lbasis(0.5 * (local + 1.0), node) for node in order]
    return np.stack([value for value, _ in found], axis=-1), 0.5 * np.stack([slope for _, slope in found], axis=-1)


def test_edge_functions_are_those_of_scikit_fem() -> None:
    places = np.random.default_rng(3).uniform(-1.0, 1.0, 20)
    values, (slopes,) = evaluated(ElementLineP2(), places[None], LINE_ORDER)
    for found, right in zip(edge_functions(places), (values, slopes), strict=True):
        np.testing.assert_allclose(found, right, atol=1e-14)


def test_shape_functions_are_those_of_scikit_fem() -> None:
    local = np.random.default_rng(4).uniform(-1.0, 1.0, (20, 2))
    values, (across, up) = evaluated(ElementQuad2(), local.T, tuple(range(9)))
    for found, right in zip(shape_functions(local), (values, across, up), strict=True):
        np.testing.assert_allclose(found, right, atol=1e-14)


@pytest.mark.parametrize("points", [2, 3, 4])
def test_rules_are_those_of_scikit_fem(points: int) -> None:
    places, weights = get_quadrature(RefLine, 2 * points - 1)
    np.testing.assert_allclose(edge_rule(points), (2.0 * places[0] - 1.0, 2.0 * weights), atol=1e-14)
    places, weights = get_quadrature(RefQuad, 2 * points - 1)
    found = quad_rule(points)
    np.testing.assert_allclose(found[0], 2.0 * places.T - 1.0, atol=1e-14)
    np.testing.assert_allclose(found[1], 4.0 * weights, atol=1e-14)
