r"""What stands around the lip: at its outer edge the tissue goes on, ends, or is held.

A lip has no edge there; it goes on into cheek and chin. What goes on resists: an endless elastic plate with a hole of
radius R, pressed outwards by q at the hole's wall, answers with

    sigma_r = -q R^2 / r^2,   sigma_hoop = q R^2 / r^2,   u_r(R) = q R / (2 G).

The two stresses add up to nothing at every radius, so no plate thickens, plane stress and plane strain agree, and
Poisson's ratio does not enter. The surroundings are therefore a spring without a parameter to choose, the radial
traction

    t_r = -(2 G / R) u_r

on the resting outer face, each layer with its own small-strain shear modulus G at rest (passive tissue goes on).
Source: Lame's thick cylinder with the outer radius to infinity (Timoshenko & Goodier, *Theory of Elasticity*, section
"Stress distribution symmetrical about an axis"; from memory). Each layer is taken to go on by itself, so shear between
layers further out is left out, and so is what the surroundings do to axial movement: a plate sheared out of its plane
yields without bound at the far side, and what holds it is the teeth behind.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats
from labrum.meshes.grids.grid import Grid
from labrum.simulate.problem import Lip


def outer_face(grid: Grid) -> NDArray[np.int64]:
    """(nodes_per_column,) nodes of the outer edge, from the back to the surface."""
    return np.arange(len(grid.nodes) - grid.nodes_per_column, len(grid.nodes))


def held_edge(lip: Lip, grid: Grid) -> NDArray[np.bool_]:
    """(n, 2) displacement components that a held edge keeps: the radial ones; it may still move along the axis."""
    held = np.zeros(grid.nodes.shape, bool)
    if lip.edge == "held":
        held[outer_face(grid), 0] = True
    return held


def edge_springs(lip: Lip, grid: Grid) -> Floats:
    """(n, 2) stiffness, N/mm, of the tissue that goes on, lumped to the outer face's nodes.

    Each node takes the integral of 2 pi R (2 G / R) = 4 pi G along the face by Simpson's weights: exact for a
    displacement that varies up to linearly over an element, and of fourth order beyond. R cancels.
    """
    springs = np.zeros(grid.nodes.shape)
    if lip.edge != "continuing":
        return springs
    share = np.array([layer.shear_modulus for layer in lip.layers])[grid.row_layer] * np.diff(grid.rows)
    weights = np.zeros(grid.nodes_per_column)
    for first, weight in ((0, 1 / 6), (1, 4 / 6), (2, 1 / 6)):
        weights[first : first + 2 * len(share) : 2] += weight * share
    springs[outer_face(grid), 0] = 4.0 * np.pi * weights
    return springs
