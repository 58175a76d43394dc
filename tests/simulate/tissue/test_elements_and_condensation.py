"""Element forces and tangents against differences; elimination and assembly against the plain dense system."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.meshes.grids.quadratic import shape_functions
from labrum.simulate.contact.air import AirPressure
from labrum.simulate.equilibrium.linearised import linearise
from labrum.simulate.tissue.condensation import condense, regularised_bulk
from labrum.simulate.tissue.elements import Elements, Q
from tests import bodies


@pytest.fixture
def mesh():
    return bodies.grid([0.0, 0.7, 1.5, 2.0], [-1.5, -0.6, 0.0])


def shaken(mesh, size=0.05, seed=1):
    """A displacement and a pressure with nothing special about them; the axis stays."""
    random = np.random.default_rng(seed)
    u = size * random.uniform(-1.0, 1.0, mesh.nodes.shape)
    u[mesh.nodes[:, 0] == 0.0, 0] = 0.0
    return u, 0.3 * random.uniform(-1.0, 1.0, (len(mesh.quads), 3))


def differences(rule, place, step=1e-6):
    """Columns of the derivative of ``rule`` (m,) at ``place`` (k,)."""
    ways = step * np.eye(len(place))
    return np.column_stack([(rule(place + way) - rule(place - way)) / (2 * step) for way in ways])


@pytest.mark.parametrize("poisson", [0.3, 0.5])
def test_element_tangents_are_the_slopes_of_its_forces(mesh, poisson):
    elements = Elements(mesh, bodies.tissue(len(mesh.quads), 1.0, poisson, 0.3, 0.1, 0.5))
    u, p = shaken(mesh)
    matrices = elements.linearised(u, p)[1]
    for e in (0, 3):
        local = mesh.quads[e]

        def residual(entries, e=e, local=local):
            moved, squeezed = u.copy(), p.copy()
            moved[local], squeezed[e] = entries[:18].reshape(9, 2), entries[18:]
            forces = elements.forces(moved, squeezed)
            return np.concatenate([forces.force[e].ravel(), forces.volume[e]])

        slope = differences(residual, np.concatenate([u[local].ravel(), p[e]]))
        on_axis = np.repeat(mesh.nodes[local, 0] == 0.0, 2) & (np.arange(18) % 2 == 0)
        kept = np.append(~on_axis, [True] * 3)
        found = np.block(
            [
                [matrices.stiffness[e], matrices.coupling[e]],
                [matrices.coupling[e].T, -matrices.compliance[e]],
            ]
        )
        np.testing.assert_allclose(found[kept][:, kept], slope[kept][:, kept], atol=3e-8)


def test_forces_are_the_slope_of_the_stored_energy(mesh):
    elements = Elements(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.4, 0.3, 0.1, 0.5))
    u, p = shaken(mesh)

    def energy(moved):
        density = elements.law.energy(elements.gradients(moved), p @ Q.T, elements.tissue)
        return np.sum(elements.weight * density)

    way = shaken(mesh, seed=7)[0]
    slope = (energy(u + 1e-6 * way) - energy(u - 1e-6 * way)) / 2e-6
    forces = elements.forces(u, p)
    assert np.sum(forces.force * way[mesh.quads]) == pytest.approx(slope, rel=1e-8)


def test_weights_add_up_to_the_volume_of_the_disc(mesh):
    elements = Elements(mesh, bodies.tissue(len(mesh.quads)))
    assert elements.weight.sum() == pytest.approx(np.pi * 2.0**2 * 1.5, rel=1e-14)


def test_shape_functions_are_one_at_their_own_node_and_fit_biquadratics():
    own = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [0, -1], [1, 0], [0, 1], [-1, 0], [0, 0]], float)
    np.testing.assert_allclose(shape_functions(own)[0], np.eye(9), atol=1e-15)
    points = np.random.default_rng(2).uniform(-1, 1, (20, 2))
    x, y = points.T
    values, along, across = shape_functions(points)

    def rule(x, y):
        return (1 + x - 2 * x**2) * (2 - y + 3 * y**2)

    nodal = rule(*own.T)
    np.testing.assert_allclose(values @ nodal, rule(x, y), atol=1e-13)
    np.testing.assert_allclose(along @ nodal, (1 - 4 * x) * (2 - y + 3 * y**2), atol=1e-13)
    np.testing.assert_allclose(across @ nodal, (1 + x - 2 * x**2) * (6 * y - 1), atol=1e-13)


def condensed(elements, u, p):
    forces, matrices = elements.linearised(u, p)
    tissue = elements.tissue
    return condense(matrices, forces, regularised_bulk(elements.mass, tissue.inverse_bulk, tissue.shear))


def test_air_follows_the_face_and_its_tangent_is_the_slope(mesh):
    air = AirPressure.behind(mesh, 1.5, 0.4)
    elements = Elements(mesh, bodies.tissue(len(mesh.quads)))
    u, p = shaken(mesh)
    assert list(air.elements) == [0, 2]
    system = condensed(elements, u, p)
    system = replace(system, force=0.0 * system.force, stiffness=0.0 * system.stiffness)  # no rounding but the air's
    for e in air.elements:

        def push(entries, e=e):
            moved = u.copy()
            moved[mesh.quads[e]] = entries.reshape(9, 2)
            return (system.force - air.added(moved, system).force)[e]

        slope = differences(push, u[mesh.quads[e]].ravel())
        np.testing.assert_allclose((system.stiffness - air.added(u, system).stiffness)[e], slope[:, :16], atol=3e-9)
        np.testing.assert_allclose(slope[:, 16:], 0.0, atol=3e-9)  # the centre node, eliminated, feels no air


def test_air_on_a_moved_face_pushes_on_the_area_it_covers(mesh):
    """Axial force: pressure times the area projected on the rim plane, whatever the shape between."""
    air = AirPressure.behind(mesh, 1.5, 0.4)
    u = shaken(mesh, 0.2)[0]
    edge = (mesh.nodes + u)[mesh.back[2 * len(air.elements)]]
    assert air.nodal_forces(u)[:, 1].sum() == pytest.approx(0.4 * np.pi * edge[0] ** 2, rel=1e-12)


@pytest.mark.parametrize("poisson", [0.3, 0.499])
def test_condensed_step_is_that_of_the_whole_system(mesh, poisson):
    fixed = bodies.disc_fixed(mesh)
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, poisson, 0.3), fixed)
    state = bodies.at_rest(model, bodies.FAR)
    u, p = shaken(mesh)
    state = replace(state, u=np.where(fixed, 0.0, u), p=p)
    found = bodies.step_of(model, state)
    u, p = whole_step(model, state)
    np.testing.assert_allclose(found.u, u, atol=1e-10 * np.abs(u).max())
    np.testing.assert_allclose(found.p, p, atol=1e-9 * np.abs(p).max())


def test_incompressible_step_after_refinement_is_that_of_the_saddle_point_system(mesh):
    fixed = bodies.disc_fixed(mesh)
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.5, 0.3), fixed)
    u, p = shaken(mesh)
    state = replace(bodies.at_rest(model, bodies.FAR), u=np.where(fixed, 0.0, u), p=p)
    found = bodies.step_of(model, state)
    u, p = whole_step(model, state)
    np.testing.assert_allclose(found.u, u, atol=1e-8 * np.abs(u).max())
    np.testing.assert_allclose(found.p, p, atol=1e-7 * np.abs(p).max())


def whole_step(model, state):
    """Newton step of displacements and pressures from one dense system, nothing eliminated."""
    elements, mesh = model.elements, model.elements.grid
    forces, matrices = elements.linearised(state.u, state.p)
    n, m = mesh.nodes.size, state.p.size
    system, load = np.zeros((n + m, n + m)), np.zeros(n + m)
    for e, local in enumerate(mesh.quads):
        rows = np.concatenate([np.column_stack([2 * local, 2 * local + 1]).ravel(), n + 3 * e + np.arange(3)])
        block = np.block(
            [
                [matrices.stiffness[e], matrices.coupling[e]],
                [matrices.coupling[e].T, -matrices.compliance[e]],
            ]
        )
        system[np.ix_(rows, rows)] += block
        load[rows] += np.concatenate([forces.force[e].ravel(), forces.volume[e]])
    free = np.append(~model.pattern.fixed.ravel(), np.ones(m, bool))
    step = np.zeros(n + m)
    step[free] = np.linalg.solve(system[np.ix_(free, free)], -load[free])
    return step[:n].reshape(-1, 2), step[n:].reshape(-1, 3)


def test_pattern_puts_every_entry_where_dense_assembly_does(mesh):
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.4), bodies.disc_fixed(mesh))
    pattern = model.pattern
    blocks = np.random.default_rng(4).normal(size=(len(mesh.quads), 16, 16))
    forces = np.random.default_rng(5).normal(size=(len(mesh.quads), 16))
    dense, load = np.zeros((pattern.size, pattern.size)), np.zeros(pattern.size)
    for equations, block, force in zip(pattern.element_equations, blocks, forces, strict=True):
        has = np.nonzero(equations >= 0)[0]
        np.add.at(dense, np.ix_(equations[has], equations[has]), block[np.ix_(has, has)])
        np.add.at(load, equations[has], force[has])
    np.testing.assert_allclose(pattern.matrix(blocks).toarray(), dense, atol=1e-13)
    np.testing.assert_allclose(pattern.vector(forces), load, atol=1e-13)
    values = np.arange(1.0, pattern.size + 1)
    np.testing.assert_array_equal(pattern.gather(pattern.spread(values)), values)
    assert pattern.size == np.sum(~model.pattern.fixed) - 2 * len(mesh.quads)


def test_condensed_matrix_is_symmetric_and_positive_at_rest(mesh):
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.4), bodies.disc_fixed(mesh))
    state = bodies.at_rest(model, bodies.FAR)
    forces, matrices = model.elements.linearised(state.u, state.p)
    tissue = model.elements.tissue
    bulk = regularised_bulk(model.elements.mass, tissue.inverse_bulk, tissue.shear)
    matrix = model.pattern.matrix(condense(matrices, forces, bulk).stiffness).toarray()
    np.testing.assert_allclose(matrix, matrix.T, atol=1e-12)
    assert np.linalg.eigvalsh(matrix).min() > 0.0
    whole = linearise(model, state, bodies.frames(model, state)).system.matrix.toarray()
    np.testing.assert_allclose(whole, matrix, atol=1e-12)


def test_incompressible_equilibrium_keeps_its_volume_in_every_element():
    """Each element's volume, and its first moments, to 1e-9 of it: J = 1 as far as three pressures can see."""
    mesh = bodies.grid(np.linspace(0.0, 2.0, 7), np.linspace(-1.0, 0.0, 5))
    curve = bodies.torus(1.0, 0.5)
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.5, 0.3), bodies.disc_fixed(mesh), curve)
    state = bodies.at_rest(model)
    for travel in (0.05, 0.1, 0.15):
        state = bodies.settle(model, state, travel=travel).state
    missing = model.elements.forces(state.u, state.p).volume / model.elements.mass[:, 0, :1]
    assert np.abs(missing).max() < 1e-9
    moved = (mesh.nodes + state.u)[mesh.quads]
    assert np.abs(state.u).max() > 0.1
    assert moved.shape[1] == 9
