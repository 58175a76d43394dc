"""An incompressible neo-Hookean solver at large strain built on scikit-fem, sharing nothing with the package it
checks.

A bonded disc has its whole top moved straight down, as by a rough die of a given shape. Displacement and
pressure are both unknown (Q2 / Q1, Taylor and Hood, a continuous pressure); W = mu/2 (F:F - 3) + c2 (F:F - 3)^2
with J = 1, so the deformation is that of any law that agrees with it there. Lengths mm, moduli MPa, forces N,
full circle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import bmat
from skfem import Basis, BilinearForm, ElementQuad1, ElementQuad2, ElementVector, LinearForm, MeshQuad, condense, solve


@dataclass(frozen=True)
class Pressed:
    """``force`` N on the top, full circle; rest ``heights`` (n,) of the outer edge and its place ``r``, ``z``,
    mm.
    """

    force: float
    heights: np.ndarray
    r: np.ndarray
    z: np.ndarray


def rough_die(
    radii: np.ndarray,
    heights: np.ndarray,
    depth: Callable[[np.ndarray], np.ndarray],
    shear: float,
    second: float,
    steps: int,
) -> Pressed:
    """Move the top down by ``depth(r)`` on the tensor grid of ``radii`` and ``heights`` (base first, top at 0)."""
    mesh = MeshQuad.init_tensor(radii, heights)
    moving = Basis(mesh, ElementVector(ElementQuad2()), intorder=6)
    squeezed = Basis(mesh, ElementQuad1(), intorder=6)
    top = [_on(moving, mesh, lambda x: np.abs(x[1]) < 1e-9, k) for k in (1, 2)]
    base = [_on(moving, mesh, lambda x: np.abs(x[1] - heights[0]) < 1e-9, k) for k in (1, 2)]
    held = np.unique(np.concatenate([*top, *base, _on(moving, mesh, lambda x: np.abs(x[0]) < 1e-9, 1)]))
    state = np.zeros(moving.N + squeezed.N)
    for share in np.linspace(0.0, 1.0, steps + 1)[1:]:
        jump = np.zeros_like(state)
        jump[top[1]] = -share * depth(moving.doflocs[0, top[1]]) - state[top[1]]
        state = _settled(moving, squeezed, state, jump, held, shear, second)
    force = -float(_linearised(moving, squeezed, state, shear, second)[1][top[1]].sum())
    edge = [_on(moving, mesh, lambda x: np.abs(x[0] - radii[-1]) < 1e-9, k) for k in (1, 2)]
    edge = [own[np.argsort(moving.doflocs[1, own])] for own in edge]
    own = moving.doflocs[1, edge[0]]
    return Pressed(force, own, radii[-1] + state[edge[0]], own + state[edge[1]])


def _on(moving, mesh, where, component):
    return moving.get_dofs(mesh.facets_satisfying(where)).all(f"u^{component}")


def _settled(moving, squeezed, state, jump, held, shear, second):
    for _ in range(12):
        matrix, load = _linearised(moving, squeezed, state, shear, second)
        step = solve(*condense(matrix, -load, x=jump, D=held))
        state, jump = state + step, np.zeros_like(state)
        if np.abs(step).max() < 1e-10:
            return state
    raise RuntimeError("the reference did not converge")


def _linearised(moving, squeezed, state, shear, second):
    u, p = moving.interpolate(state[: moving.N]), squeezed.interpolate(state[moving.N :])
    data = {"u": u, "p": p, "shear": shear, "second": second}
    stiff = _stiffness.assemble(moving, **data)
    coupled = _coupling.assemble(squeezed, moving, **data)
    matrix = bmat([[stiff, coupled], [coupled.T, None]], format="csr")
    load = np.concatenate([_force.assemble(moving, **data), _volume.assemble(squeezed, **data)])
    return matrix, load


def _entries(u, r):
    """The five entries dr/dR, dr/dZ, dz/dR, dz/dZ, r/R of a displacement's gradient (without the identity)."""
    return np.stack([u.grad[0, 0], u.grad[0, 1], u.grad[1, 0], u.grad[1, 1], u[0] / r])


def _gradient(w):
    return _entries(w["u"], w.x[0]) + np.array([1.0, 0.0, 0.0, 1.0, 1.0])[:, None, None]


def _cofactor(f):
    a, b, c, d, h = f
    return np.stack([d * h, -c * h, -b * h, a * h, a * d - b * c])


def _slope(f, w):
    """dW/d(F:F) and its own derivative."""
    excess = np.sum(f * f, axis=0) - 3.0
    return 0.5 * w["shear"] + 2.0 * w["second"] * excess, 2.0 * w["second"]


@LinearForm
def _force(v, w):
    f = _gradient(w)
    piola = 2.0 * _slope(f, w)[0] * f + w["p"] * _cofactor(f)
    return 2.0 * np.pi * w.x[0] * np.sum(piola * _entries(v, w.x[0]), axis=0)


@LinearForm
def _volume(q, w):
    a, b, c, d, h = _gradient(w)
    return 2.0 * np.pi * w.x[0] * q * ((a * d - b * c) * h - 1.0)


@BilinearForm
def _coupling(p, v, w):
    return 2.0 * np.pi * w.x[0] * p * np.sum(_cofactor(_gradient(w)) * _entries(v, w.x[0]), axis=0)


@BilinearForm
def _stiffness(u, v, w):
    f, du, dv = _gradient(w), _entries(u, w.x[0]), _entries(v, w.x[0])
    first, bend = _slope(f, w)
    out = 2.0 * first * np.sum(du * dv, axis=0)
    out = out + 4.0 * bend * np.sum(f * du, axis=0) * np.sum(f * dv, axis=0)
    a, b, c, d, h = f
    # Second derivative of J along du and dv.
    turned = h * (du[0] * dv[3] + du[3] * dv[0] - du[1] * dv[2] - du[2] * dv[1])
    turned = turned + du[4] * (d * dv[0] + a * dv[3] - c * dv[1] - b * dv[2])
    turned = turned + dv[4] * (d * du[0] + a * du[3] - c * du[1] - b * du[2])
    return 2.0 * np.pi * w.x[0] * (out + w["p"] * turned)
