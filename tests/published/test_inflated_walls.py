"""Check 2: inflation of thick incompressible walls at large strain; and muscle in such a wall.

Tube and sphere: Green & Zerna, Theoretical Elasticity, 1968 (from memory), in
``simulate/closed_forms/inflation.py``, checked there by quadrature. nu is 0.5 exactly. Small inflation: Lame's
tube, with the numbers of verification case V3.04.130 of an open finite-element code's manual (inner radius 0.1,
outer 0.2, 60 MPa inside, E = 2e5 MPa, nu = 0.5: hoop stress 100 and 40 MPa, radial displacement 6e-5 and 3e-5;
read in a stored copy of the manual; its table prints the inner hoop strain with the wrong sign).

The mesh is a tensor grid of rectangles, so a whole sphere cannot be meshed. A cylinder that lies on the axis
inside the sphere's wall can: its sides take the sphere's motion, its top the sphere's traction, and the axial
stress between its ends on the axis differs by the sphere's inflation pressure. Inner pressure on the tube is
read as the force on its inner face, which is moved, because air pushes on back faces only.
"""

from __future__ import annotations

import numpy as np
import pytest

from labrum.simulate.closed_forms import finite_strain as fs
from labrum.simulate.closed_forms import inflation as walls
from labrum.simulate.readings.fields import cauchy, section_of
from labrum.simulate.tissue.elements import Q
from tests import bodies

INNER, OUTER = 1.0, 2.0


def tube(count, tissue, held_inside):
    """A slice of a tube 0.5 mm long, its length held; the inner face held where it is moved to, if asked."""
    mesh = bodies.grid(np.linspace(INNER, OUTER, count + 1), [-0.5, 0.0])
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.surface, 1] = fixed[mesh.back, 1] = True
    if held_inside:
        fixed[mesh.inner_edge, 0] = True
    return bodies.body(mesh, tissue(count), fixed)


def inflated(count, inner, second=0.0):
    """Pressure, MPa, that holds the tube's inner face at ``inner``, and the largest miss of its displacement,
    mm.
    """
    model = tube(count, lambda n: bodies.tissue(n, 1.0, 0.5, second), True)
    mesh = model.elements.grid
    moved = np.zeros(mesh.nodes.shape)
    moved[:, 0] = (inner - INNER) * INNER / mesh.nodes[:, 0]
    state = bodies.held(model, moved, steps=6).state
    push = bodies.reactions(model, state)[mesh.inner_edge, 0].sum()
    exact = walls.tube_place(mesh.nodes[:, 0], INNER, inner)
    return push / (np.pi * inner), np.abs((mesh.nodes + state.u)[:, 0] - exact).max()


@pytest.mark.parametrize(("inner", "second"), [(0.6, 0.0), (1.5, 0.0), (3.0, 0.0), (1.5, 0.3)])
def test_tube(compare, rate, inner, second):
    form = walls.tube_pressure_of_law(inner, INNER, OUTER, fs.Law(1.0, second))
    if second == 0.0:
        assert form == pytest.approx(walls.tube_pressure(inner, INNER, OUTER, 1.0), rel=1e-9)
    runs = [inflated(count, inner, second) for count in (2, 4, 8)]
    orders = rate([run[0] - form for run in runs]), rate([run[1] for run in runs])
    assert orders[0] > 3.3
    assert orders[1] > 2.7
    name = f"tube to {inner:g} of its inner radius, c2 {second:g}: pressure MPa"
    compare(name, runs[-1][0], form, 0.01, f"rates: pressure {orders[0]:.1f}, displacement {orders[1]:.1f}")


def test_small_inflation_is_lames(compare):
    """Scaled to an inner radius of 1: displacement 6e-4 inside, 3e-4 outside."""
    shear = 2e5 / 3.0
    model = tube(8, lambda n: bodies.tissue(n, shear, 0.5), True)
    mesh = model.elements.grid
    moved = np.column_stack([6e-4 / mesh.nodes[:, 0], np.zeros(len(mesh.nodes))])
    state = bodies.held(model, moved, steps=1).state
    push = bodies.reactions(model, state)[mesh.inner_edge, 0].sum() / np.pi
    stress = section_of(model, state, ("wall",)).cauchy_kpa[:, 2] / 1e3
    compare("Lame's tube: pressure inside MPa", push, 60.0, 0.5)
    compare("Lame's tube: hoop stress inside MPa", stress[mesh.inner_edge].mean(), 100.0, 0.5)
    compare("Lame's tube: hoop stress outside MPa", stress[-mesh.nodes_per_column :].mean(), 40.0, 0.5)
    compare("Lame's tube: outer displacement over inner", state.u[-1, 0] / 6e-4, 0.5, 0.5)


def sphere_traction(inner, rest, outside):
    """Nominal traction (k, 2), MPa, that an inflated sphere's wall exerts on the plane z = ``outside`` at rest."""

    def pull(radii):
        place = np.column_stack([radii, np.full_like(radii, outside)])
        away = np.hypot(*place.T)
        normal = place / away[:, None]
        across = normal[:, ::-1] * [1.0, -1.0]
        q = walls.sphere_place(away, rest, inner) / away
        radial, hoop = walls.sphere_stress(away, inner, rest, outside, 1.0)
        return (radial * q**2 * normal[:, 1])[:, None] * normal + (hoop / q * across[:, 1])[:, None] * across

    return pull


def sphere_pressure(count, inner, rest=2.0, outside=3.0):
    """Inflation pressure, MPa, read off a cylinder in the wall, and the largest miss of its displacement, mm."""
    mesh = bodies.grid(np.linspace(0.0, 0.8, count + 1), np.linspace(rest, outside, count + 1))
    away = np.hypot(*mesh.nodes.T)
    exact = (walls.sphere_place(away, rest, inner) / away - 1.0)[:, None] * mesh.nodes
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.back] = fixed[-mesh.nodes_per_column :] = True
    fixed[mesh.inner_edge, 0] = True
    load = bodies.DeadLoad.on_top(mesh, sphere_traction(inner, rest, outside))
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads)), fixed, air=load)
    state = bodies.held(model, exact, steps=1).state
    axial = section_of(model, state, ("wall",)).cauchy_kpa[mesh.inner_edge, 1] / 1e3
    return axial[-1] - axial[0], np.abs(state.u - exact).max()


@pytest.mark.parametrize("inner", [2.5, 3.0, 4.0])
def test_sphere(compare, rate, inner):
    form = walls.inflated_sphere_pressure(inner, 2.0, 3.0, 1.0)
    runs = [sphere_pressure(count, inner) for count in (4, 8, 16)]
    order = rate([run[1] for run in runs])
    assert order > 2.5
    assert abs(runs[2][0] - form) < abs(runs[0][0] - form)
    name = f"sphere's wall, inner radius 2 to {inner:g}: pressure MPa"
    compare(name, runs[-1][0], form, 0.5, f"rate of displacement {order:.1f}")


@pytest.mark.parametrize("active", [0.3, 1.0])
def test_ring_muscle_closes_a_tube(compare, rate, active):
    """Free contraction of a thick tube whose hoop fibres pull with a nominal stress, against quadrature."""
    form = walls.muscle_tube_inner_radius(0.0, INNER, OUTER, fs.Law(1.0, 0.2), active, 1)
    found = []
    for count in (2, 4, 8):
        state = None
        for share in (0.25, 0.5, 0.75, 1.0):
            model = tube(count, lambda n, s=share: bodies.tissue(n, 1.0, 0.5, 0.2, 0.0, active * s), False)
            state = bodies.settle(model, state or bodies.at_rest(model, bodies.FAR)).state
        found.append(INNER + state.u[model.elements.grid.inner_edge, 0].mean())
    order = rate(np.array(found) - form)
    if active == 1.0:  # the weaker one is right to 1e-7 at once
        assert order > 2.7
    compare(f"ring muscle, active {active:g} mu: inner radius mm", found[-1], form, 0.01, f"rate {order:.1f}")
    f = model.elements.gradients(state.u)
    own = cauchy(f, model.elements.law.stress(f, state.p @ Q.T, model.elements.tissue))[..., 0]
    assert np.abs(own[-1, -3:]).max() < 0.02 * active  # the outer face is free
