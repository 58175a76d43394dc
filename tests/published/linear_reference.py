"""A small-strain axisymmetric solver built on scikit-fem, sharing nothing with the package it checks.

Stacked elastic layers, bonded together and to a rigid base, have a given displacement pressed into a given
ring of their top, without friction. Displacement and pressure are both unknown (Q2 / Q1, Taylor and Hood), so
Poisson's ratio goes up to 0.5 exactly; integrals run over the full circle. Lengths mm, moduli MPa, forces N.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import bmat
from skfem import (
    Basis,
    BilinearForm,
    ElementQuad1,
    ElementQuad2,
    ElementVector,
    MeshQuad,
    condense,
    solve,
)
from skfem.helpers import ddot, div, sym_grad


@dataclass(frozen=True)
class Layer:
    """One layer: ``thickness`` mm, ``shear_modulus`` MPa, ``poisson_ratio`` above 0 and up to 0.5."""

    thickness: float
    shear_modulus: float
    poisson_ratio: float


@dataclass(frozen=True)
class Indentation:
    """Full-circle ``force`` N; the top's ``radii`` (n,) and downward ``surface`` displacement (n,), mm."""

    force: float
    radii: np.ndarray
    surface: np.ndarray


def indent(
    layers: list[Layer],
    inner: float,
    outer: float,
    depth: Callable[[np.ndarray], np.ndarray],
    radius: float,
    finest: float = 0.002,
) -> Indentation:
    """Press ``depth(r)`` mm into the top between the radii ``inner`` and ``outer``.

    The stack ends, free, at ``radius``. ``finest`` is the first cell at the contact's edges as a share of its
    width; cells grow by a quarter from there.
    """
    mesh = _mesh(layers, inner, outer, radius, finest * (outer - inner))
    moving = Basis(mesh, ElementVector(ElementQuad2()), intorder=5)
    squeezed = Basis(mesh, ElementQuad1(), intorder=5)
    places = moving.global_coordinates()[1]
    shear, give = _materials(layers, places)
    stiff = _stretching.assemble(moving, shear=shear)
    coupled = _swelling.assemble(squeezed, moving)
    soft = _softness.assemble(squeezed, give=give)
    matrix = bmat([[stiff, coupled], [coupled.T, -soft]], format="csr")

    top, touched, held = _fixed(mesh, moving, inner, outer, sum(layer.thickness for layer in layers))
    prescribed = np.zeros(matrix.shape[0])
    prescribed[touched] = -depth(moving.doflocs[0, touched])
    state = solve(*condense(matrix, np.zeros_like(prescribed), x=prescribed, D=np.append(held, touched)))
    force = -float((matrix @ state)[touched].sum())
    order = np.argsort(moving.doflocs[0, top])
    return Indentation(force, moving.doflocs[0, top][order], -state[top][order])


def _mesh(layers: list[Layer], inner: float, outer: float, radius: float, first: float) -> MeshQuad:
    """Tensor mesh crowded towards the contact's edges, the top and the interfaces."""
    ends = [r for r in (inner, outer) if r > 0.0]
    across = [_graded(ends[-1], radius, first), _graded(ends[0], 0.0, first)]
    if inner > 0.0:
        middle = 0.5 * (inner + outer)
        across += [_graded(inner, middle, first), _graded(outer, middle, first)]
    seams = -np.cumsum([0.0] + [layer.thickness for layer in layers])
    levels = []
    for above, below in itertools.pairwise(seams):
        middle = 0.5 * (above + below)
        levels += [_graded(above, middle, first), _graded(below, middle, 10.0 * first)]
    return MeshQuad.init_tensor(np.unique(np.concatenate(across)), np.unique(np.concatenate(levels)))


def _graded(start: float, end: float, first: float, growth: float = 1.25) -> np.ndarray:
    """Points from ``start`` to ``end`` whose gaps grow geometrically from about ``first``."""
    length = abs(end - start)
    count = max(2, int(np.ceil(np.log1p(length * (growth - 1.0) / first) / np.log(growth))))
    share = (growth ** np.arange(count + 1) - 1.0) / (growth**count - 1.0)
    # Both ends are copied, so that pieces of a line meet exactly.
    return np.concatenate([[start], start + (end - start) * share[1:-1], [end]])


def _materials(layers: list[Layer], heights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Shear modulus and inverse of Lame's lambda at heights z <= 0."""
    bottoms = -np.cumsum([layer.thickness for layer in layers])
    here = np.minimum(np.sum(heights[..., None] < bottoms, axis=-1), len(layers) - 1)
    shear = np.array([layer.shear_modulus for layer in layers])
    poisson = np.array([layer.poisson_ratio for layer in layers])
    return shear[here], ((1.0 - 2.0 * poisson) / (2.0 * shear * poisson))[here]


def _fixed(
    mesh: MeshQuad, moving: Basis, inner: float, outer: float, depth: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Unknowns u_z on the top, those of them that are touched, and those held (base and axis)."""
    near = 1e-9 * depth
    top = moving.get_dofs(mesh.facets_satisfying(lambda x: np.abs(x[1]) < near)).all("u^2")
    place = moving.doflocs[0, top]
    touched = top[(place > inner - near) & (place < outer + near)]
    base = moving.get_dofs(mesh.facets_satisfying(lambda x: np.abs(x[1] + depth) < near)).all()
    axis = moving.get_dofs(mesh.facets_satisfying(lambda x: np.abs(x[0]) < near)).all("u^1")
    return top, touched, np.union1d(base, axis)


@BilinearForm
def _stretching(u, v, w):
    r = w.x[0]
    hoop = u[0] * v[0] / r**2
    return 4.0 * np.pi * r * w["shear"] * (ddot(sym_grad(u), sym_grad(v)) + hoop)


@BilinearForm
def _swelling(p, v, w):
    r = w.x[0]
    return -2.0 * np.pi * r * p * (div(v) + v[0] / r)


@BilinearForm
def _softness(p, q, w):
    return 2.0 * np.pi * w.x[0] * w["give"] * p * q
