"""The fast kernels against the weak form as scikit-fem assembles it, on random states, to rounding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from skfem import BilinearForm, ElementQuad2, FacetBasis

from labrum.meshes.grids.quadratic import quad_rule
from labrum.simulate.compiled import library
from labrum.simulate.contact.air import AirPressure
from labrum.simulate.equilibrium.traction import surface_mass
from labrum.simulate.tissue.condensation import condense, condensed_system, regularised_bulk
from labrum.simulate.tissue.elements import Elements
from labrum.simulate.tissue.law import Tissue
from labrum.simulate.weak_form import WeakForm
from tests import bodies

ROUNDING = 1e-12
TISSUES = {
    "compressible": {"poisson": 0.3},
    "incompressible": {"poisson": 0.5},
    "stiffening": {"poisson": 0.495, "second": 0.4, "third": 0.2},
    "active": {"poisson": 0.495, "active": 0.7},
    "all at once": {"poisson": 0.5, "second": 0.4, "third": 0.2, "active": 0.7},
}


@pytest.fixture(params=[0.0, 0.8], ids=["on the axis", "with an opening"])
def mesh(request):
    start = request.param
    return bodies.grid([start, start + 0.7, start + 1.5, start + 2.0], [-1.5, -0.8, -0.4, 0.0], [1, 1, 0])


@pytest.fixture(params=TISSUES.values(), ids=TISSUES.keys())
def elements(request, mesh):
    """Two layers, the upper one three times as stiff and never active; the activity fades from point to point."""
    lower = bodies.tissue(len(mesh.quads), **request.param)
    upper = mesh.layer[:, None] == 0
    factors = {"shear": 3.0, "second": 3.0, "third": 3.0, "inverse_bulk": 1.0 / 3.0, "active": 0.0}
    constants = {name: np.where(upper, k * getattr(lower, name), getattr(lower, name)) for name, k in factors.items()}
    constants["active"] = constants["active"] * np.linspace(1.0, 0.2, 9)
    return Elements(mesh, Tissue(**constants))


def by_every_path(elements):
    """The same elements worked out by numpy, and by the compiled kernels where they were built."""
    return [replace(elements, library=own) for own in {None, library()}]


def states(mesh, count=2):
    """Large random displacements, the axis kept, and random pressures."""
    for seed in range(count):
        random = np.random.default_rng(seed)
        u = 0.04 * random.uniform(-1.0, 1.0, mesh.nodes.shape) + [0.15, -0.1] * mesh.nodes
        u[mesh.nodes[:, 0] == 0.0, 0] = 0.0
        yield u, 0.3 * random.uniform(-1.0, 1.0, (len(mesh.quads), 3))


def agree(found, expected):
    """To rounding, relative to the largest entry of each element's array."""
    size = np.abs(expected).reshape(len(expected), -1).max(axis=1).reshape(-1, *(1,) * (expected.ndim - 1))
    assert found.shape == expected.shape
    assert np.all(np.abs(found - expected) <= ROUNDING * size)


def test_grid_and_mesh_are_the_same(mesh):
    whole = mesh.mesh
    np.testing.assert_allclose(whole.doflocs.T, mesh.nodes[mesh.dof_nodes], atol=1e-15)
    np.testing.assert_array_equal(np.sort(mesh.dof_nodes), np.arange(len(mesh.nodes)))
    np.testing.assert_array_equal(mesh.dof_nodes[whole.t.T], mesh.quads[:, :4])


def test_points_of_integration_are_the_same(elements):
    form = WeakForm(elements.grid, elements.tissue)
    np.testing.assert_allclose(2.0 * form.moving.X.T - 1.0, quad_rule(3)[0], atol=1e-15)
    np.testing.assert_allclose(form.moving.global_coordinates()[0], elements.radius, rtol=1e-14)
    agree(elements.weight, form.moving.dx * 2.0 * np.pi * np.asarray(form.moving.global_coordinates()[0]))


def test_element_forces_are_the_residuals(elements):
    form = WeakForm(elements.grid, elements.tissue)
    for u, p in states(elements.grid):
        force, volume = form.element_residuals(u, p)
        for own in by_every_path(elements):
            found = own.forces(u, p)
            agree(found.force.reshape(-1, 18), force)
            agree(found.volume, volume)
        again = elements.linearised(u, p)[0]
        agree(again.force.reshape(-1, 18), force)
        agree(again.volume, volume)


def test_element_matrices_are_the_tangents(elements):
    form = WeakForm(elements.grid, elements.tissue)
    for u, p in states(elements.grid):
        stiffness, coupling, compliance = form.element_tangents(u, p)
        found = elements.linearised(u, p)[1]
        agree(found.stiffness, stiffness)
        agree(found.coupling, coupling)
        agree(found.compliance, compliance)


def eliminated(matrix, load, kept=16):
    """Schur complement of a dense system in the unknowns before ``kept``."""
    lift = np.linalg.solve(matrix[kept:, kept:].T, matrix[:kept, kept:].T).T
    return matrix[:kept, :kept] - lift @ matrix[kept:, :kept], load[:kept] - lift @ load[kept:]


def test_condensed_elements_are_the_eliminated_form(elements):
    """Pressures and centre node leave; where nothing is compressible the elimination has the small compliance."""
    tissue = elements.tissue
    bulk = regularised_bulk(elements.mass, tissue.inverse_bulk, tissue.shear)
    form = WeakForm(elements.grid, tissue)
    for u, p in states(elements.grid):
        (force, volume), (stiffness, coupling, _) = form.element_residuals(u, p), form.element_tangents(u, p)
        pressing = np.linalg.inv(bulk)
        matrices = np.block([[stiffness, coupling], [coupling.swapaxes(1, 2), -pressing]])
        loads = np.concatenate([force, volume], axis=1)
        left, load = (np.array(k) for k in zip(*map(eliminated, matrices, loads), strict=True))
        for own in by_every_path(elements):
            found = condensed_system(own, u, p, bulk)[1]
            agree(found.stiffness, left)
            agree(found.force, load)


def test_the_whole_tangent_is_the_slope_of_the_whole_residual(elements):
    """The form against itself, along a random way: its own check, independent of the kernels."""
    form = WeakForm(elements.grid, elements.tissue)
    (u, p), (du, dp) = list(states(elements.grid, 2))
    step = 1e-6
    slope = (form.residual(u + step * du, p + step * dp) - form.residual(u - step * du, p - step * dp)) / (2 * step)
    along = form.tangent(u, p) @ np.concatenate([form.dofs_of(du), dp.ravel()])
    np.testing.assert_allclose(along, slope, atol=1e-7 * np.abs(slope).max())


def test_air_on_the_back_is_the_follower_load(elements):
    grid = elements.grid
    reach = grid.columns[2]
    air, form = AirPressure.behind(grid, reach, 0.4), WeakForm(grid, elements.tissue)
    face = form.back_within(reach)
    assert len(face.find) == 2
    for u, p in states(grid):
        load, slope = form.air_on(face, u, 0.4)
        agree(air.nodal_forces(u)[None], -load[form.numbers][None])
        forces, matrices = elements.linearised(u, p)
        none = condense(matrices, forces, regularised_bulk(elements.mass, 1.0, elements.tissue.shear))
        none = replace(none, force=0.0 * none.force, stiffness=0.0 * none.stiffness)
        dense, found = slope.toarray(), np.zeros(slope.shape)
        for nodes, block in zip(grid.quads[:, :8], air.added(u, none).stiffness, strict=True):
            rows = form.numbers[nodes].ravel()
            found[np.ix_(rows, rows)] += block
        agree(found[None], dense[None])


@BilinearForm
def mass(p, q, w):
    return 2.0 * np.pi * w.x[0] * p * q


def test_surface_mass_is_that_of_the_deformed_mesh(mesh):
    """What pressures are recovered with: int p q dA over the lip's surface where it stands."""
    for u, _ in states(mesh):
        deformed = replace(mesh.mesh, doflocs=(mesh.nodes + u)[mesh.dof_nodes].T)
        top = mesh.mesh.facets_satisfying(lambda x: np.isclose(x[1], 0.0))
        whole = mass.assemble(FacetBasis(deformed, ElementQuad2(), facets=top, intorder=7)).toarray()
        dofs = np.argsort(mesh.dof_nodes)[mesh.surface]
        agree(surface_mass((mesh.nodes + u)[mesh.surface])[None], whole[np.ix_(dofs, dofs)][None])
