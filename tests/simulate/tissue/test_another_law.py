"""The tissue law and the linear solver are values: others, defined here, do in their place.

Gent's law: Gent 1996, "A new constitutive relation for rubber", Rubber Chem. Technol. 69:59 (from memory): U = -mu/2 Jm
ln(1 - x/Jm), x = I - 3; an incompressible bar stretched by l has the Cauchy stress mu Jm / (Jm - x) (l^2 - 1/l).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import solve
from labrum.simulate.readings.fields import cauchy
from labrum.simulate.tissue.elements import Q
from labrum.simulate.tissue.known_laws import STANDARD_LAW
from labrum.simulate.tissue.law import FirstInvariantLaw
from tests import bodies


@dataclass(frozen=True)
class Gent(FirstInvariantLaw):
    """Limited in its stretch: x stays below ``limit``."""

    limit: float
    name: str = "Gent"

    def isochoric_energy(self, x, tissue):
        return -0.5 * tissue.shear * self.limit * np.log1p(-x / self.limit)

    def isochoric_slopes(self, x, tissue):
        left = 1.0 - x / self.limit
        return 0.5 * tissue.shear / left, 0.5 * tissue.shear / (self.limit * left**2)


@dataclass(frozen=True)
class HoopFibres:
    """Fung's exponential along the hoop on top of another law: k / (2 b) (exp(b (h^2 - 1)^2) - 1).

    It does not derive from any class of the project's: all a law needs is its three methods.
    """

    base: FirstInvariantLaw
    stiffness: float
    growth: float
    name: str = "hoop fibres"
    compiled: int | None = None

    def energy(self, f, p, tissue):
        return self.base.energy(f, p, tissue) + self._growth(f) * self.stiffness / (2.0 * self.growth)

    def stress(self, f, p, tissue):
        out = self.base.stress(f, p, tissue)
        out[..., 4] += self._slopes(f)[0]
        return out

    def stress_and_tangent(self, f, p, tissue):
        piola, tangent = self.base.stress_and_tangent(f, p, tissue)
        first, second = self._slopes(f)
        piola[..., 4] += first
        tangent[..., 4, 4] += second
        return piola, tangent

    def _growth(self, f):
        return np.expm1(self.growth * (f[..., 4] ** 2 - 1.0) ** 2)

    def _slopes(self, f):
        h = f[..., 4]
        x = h**2 - 1.0
        grown = self.stiffness * (self._growth(f) + 1.0)
        return 2.0 * grown * h * x, 2.0 * grown * (x + 2.0 * h**2 + 4.0 * self.growth * h**2 * x**2)


LAWS = [Gent(3.0), HoopFibres(STANDARD_LAW, 0.6, 1.4)]


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_its_stress_and_tangent_are_slopes(law):
    material = bodies.tissue(40, shear=1.3, poisson=0.45, second=0.4, active=0.7)
    f = np.array([1.0, 0.0, 0.0, 1.0, 1.0]) + 0.2 * np.random.default_rng(3).uniform(-1.0, 1.0, (40, 1, 5))
    p, step = np.full((40, 1), 0.3), 1e-6
    piola, tangent = law.stress_and_tangent(f, p, material)
    np.testing.assert_allclose(piola, law.stress(f, p, material), rtol=1e-13, atol=1e-13)
    for k in range(5):
        move = step * np.eye(5)[k]
        slope = (law.energy(f + move, p, material) - law.energy(f - move, p, material)) / (2 * step)
        np.testing.assert_allclose(piola[..., k], slope, atol=2e-8)
        bend = (law.stress(f + move, p, material) - law.stress(f - move, p, material)) / (2 * step)
        np.testing.assert_allclose(tangent[..., k], bend, atol=5e-8)


@pytest.mark.parametrize("stretch", [0.6, 1.8])
def test_a_bar_of_gents_material_has_gents_stress(stretch):
    mesh = bodies.grid([0.0, 1.0], [-1.0, 0.0])
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.back, 1] = fixed[mesh.surface, 1] = fixed[mesh.inner_edge, 0] = True
    model = bodies.body(mesh, bodies.tissue(1, 1.3, 0.5), fixed, law=Gent(3.0))
    moved = (mesh.nodes - (0.0, -1.0)) * (np.array([stretch**-0.5, stretch]) - 1.0)
    state = bodies.held(model, moved, steps=8).state
    f = model.elements.gradients(state.u)
    found = cauchy(f, model.elements.law.stress(f, state.p @ Q.T, model.elements.tissue))[0]
    x = stretch**2 + 2.0 / stretch - 3.0
    np.testing.assert_allclose(found[:, 1], 1.3 * 3.0 / (3.0 - x) * (stretch**2 - 1.0 / stretch), rtol=1e-7)
    np.testing.assert_allclose(found[:, [0, 2, 3]], 0.0, atol=1e-7)


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_newton_ends_quadratically_under_it(law):
    mesh = bodies.grid(np.linspace(0.0, 3.0, 13), np.linspace(-1.5, 0.0, 5))
    material = bodies.tissue(len(mesh.quads), 1.0, 0.5, 0.3)
    model = bodies.body(mesh, material, bodies.disc_fixed(mesh), bodies.torus(1.5, 0.5), law=law)
    found = bodies.settle(model, bodies.at_rest(model), travel=0.1, residual=1e-12)
    run = np.array(found.residuals[max(np.nonzero(found.changes)[0], default=-1) + 2 :])
    assert len(run) >= 2
    assert np.all(run[1:] < 15.0 * run[:-1] ** 2 + 1e-13)


def lip_of(law, stiffening):
    """A soft lip of one layer under a light rim: Gent's law, or the first three terms of its series in x."""
    layer = {"thickness_mm": 8.0, "shear_modulus_kpa": 30.0, "stiffening_kpa": stiffening, "poisson_ratio": 0.49}
    rim = {"inner_diameter_mm": 16.5, "width_mm": 5.2}
    lip = {"radius_mm": 20.0, "layer": [layer]}
    problem = case_from_table({"schema": 1, "rim": rim, "lip": lip, "load": {"force_n": 3.0}}).problem
    return replace(problem, lip=replace(problem.lip, law=law))


def test_a_whole_solve_goes_by_the_lips_law():
    """-ln(1 - x/Jm) Jm = x + x^2/(2 Jm) + x^3/(3 Jm^2) + ...; what is left out weighs little here."""
    limit = 5.0
    gent = solve(lip_of(Gent(limit), [0.0, 0.0]))
    series = solve(lip_of(STANDARD_LAW, [30.0 / (4.0 * limit), 30.0 / (6.0 * limit**2)]))
    plain = solve(lip_of(STANDARD_LAW, [0.0, 0.0]))
    without = plain.measures.sink_mm - gent.measures.sink_mm
    assert without > 1e-3 * gent.measures.sink_mm  # more than grids of that fineness scatter by
    assert abs(series.measures.sink_mm - gent.measures.sink_mm) < 0.05 * without


class Dense:
    """A solver of the reader's own: the whole matrix, by LAPACK."""

    name = "dense"

    def __init__(self):
        self.asked = []

    def suits(self, system):
        return True

    def factorise(self, system):
        matrix, pattern = system.matrix.toarray(), system.pattern
        self.asked.append(matrix.shape)

        def solve_dense(wanted):
            return np.stack([pattern.spread(np.linalg.solve(matrix, pattern.gather(side))) for side in wanted])

        return solve_dense


def test_another_linear_solver_takes_the_same_step():
    mesh = bodies.grid([0.0, 0.7, 1.5, 2.0], [-1.5, -0.6, 0.0])
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.5, 0.3), bodies.disc_fixed(mesh))
    state = bodies.at_rest(model, bodies.FAR)
    u = np.where(model.pattern.fixed, 0.0, 0.05 * np.random.default_rng(1).uniform(-1.0, 1.0, mesh.nodes.shape))
    state, dense = replace(state, u=u), Dense()
    found, expected = bodies.step_of(replace(model, solvers=(dense,)), state), bodies.step_of(model, state)
    assert dense.asked == [(model.pattern.size, model.pattern.size)]
    np.testing.assert_allclose(found.u, expected.u, atol=1e-10 * np.abs(expected.u).max())
    np.testing.assert_allclose(found.p, expected.p, atol=1e-9 * np.abs(expected.p).max())
