"""Stiffer and thicker tissue of several waves: the residuals against differences of the energy in space."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.meshes.grids.quadratic import shape_functions
from labrum.simulate.off_axis.harmonic import Base
from labrum.simulate.off_axis.lips import stiffer, thicker
from labrum.simulate.off_axis.waves import gradient_map
from labrum.simulate.tissue.elements import POINTS, Q
from tests import bodies

PLACES = ((0, 0), (0, 2), (2, 0), (2, 2), (1, 1), (0, 1), (1, 0), (1, 2), (2, 1))  # rows r t z, columns R T Z


def energy(f, p, shear, second, bulk_inverse, active):
    j = np.linalg.det(f)
    x = j ** (-2.0 / 3.0) * np.sum(f * f) - 3.0
    fibre = active * (np.linalg.norm(f[:, 1]) - 1.0)
    return 0.5 * shear * x + second * x**2 + p * (j - 1.0) - 0.5 * p**2 * bulk_inverse + fibre


@pytest.mark.parametrize("order", [1, 2])
@pytest.mark.parametrize("what", ["stiffer", "thicker"])
def test_residuals_are_mixed_differences_of_the_energy(what, order):
    """d2/(d eps d amplitude) of the energy of one strained element, pulled back to the even lip, in Cartesian terms."""
    mesh = bodies.grid([1.0, 1.9], [-2.0, -0.8])
    values = {"shear": 0.03, "second": 0.008, "active": 0.02}
    model = bodies.body(mesh, bodies.tissue(1, poisson=0.45, **values), bodies.nothing_fixed(mesh))
    r, z = mesh.nodes.T
    u, p = np.column_stack([0.2 * r + 0.05 * r * z, 0.1 * z - 0.04 * r**2]), np.array([[0.013, 0.002, -0.003]])
    base = Base(model, replace(bodies.at_rest(model, bodies.FAR), u=u, p=p))
    cause = stiffer(base, order) if what == "stiffer" else thicker(base, order)
    rng = np.random.default_rng(3)
    nodal, push = rng.normal(size=(9, 3)), rng.normal(size=3)
    found = float(cause.force.ravel() @ nodal.ravel() + cause.volume.ravel() @ push)

    inverse_bulk = float(model.elements.tissue.inverse_bulk[0, 0])
    shapes = np.stack(shape_functions(POINTS))
    slopes = 2.0 / mesh.sizes[0]

    def whole(eps, amount):
        total = 0.0
        for g in range(9):
            radius = float(base.model.elements.radius[0, g])
            height = mesh.origins[0, 1] + 0.5 * mesh.sizes[0, 1] * POINTS[g, 1] - mesh.rows[0]
            kinds = [slopes[0] * shapes[1, g], slopes[1] * shapes[2, g], shapes[0, g] / radius]
            entries = gradient_map(order) @ (np.stack(kinds) @ nodal).T.ravel()
            for angle in 2.0 * np.pi * np.arange(8 * order) / (8 * order):
                c, s = np.cos(order * angle), np.sin(order * angle)
                f = np.zeros((3, 3))
                for which, place in enumerate(PLACES):
                    f[place] = (base.waves.f[0, g, which] if which < 5 else 0.0) + amount * entries[which] * (
                        c if which < 5 else s
                    )
                p = float(base.waves.p[0, g] + amount * c * Q[g] @ push)
                stretch, much = np.eye(3), 1.0 + eps * c
                if what == "thicker":
                    stretch[2, 2], stretch[2, 1] = much, -eps * order * height / radius * s
                    part = much * energy(f @ np.linalg.inv(stretch), p, 0.03, 0.008, inverse_bulk, 0.02)
                else:
                    part = energy(f, p, much * 0.03, much * 0.008, inverse_bulk / much, 0.02)
                total += float(base.model.elements.weight[0, g]) * part / (8 * order)
        return total

    h = 1e-4
    mixed = (whole(h, h) - whole(h, -h) - whole(-h, h) + whole(-h, -h)) / (4.0 * h**2)
    assert found == pytest.approx(mixed, rel=1e-5)
