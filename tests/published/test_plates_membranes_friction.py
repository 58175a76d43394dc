"""A living lip's parts against closed forms: breath behind a clamped disc, and friction found by the contact.

Plate: Timoshenko & Woinowsky-Krieger 1959, section 16, with Mindlin's shear (from memory). Membrane: Adkins &
Rivlin 1952, Phil. Trans. R. Soc. A 244:505 (from memory). Punch with friction: Spence 1975 and Mossakovskii
1954 (from memory), solved again with shear and pressure fully coupled. Rough bore: Janssen 1895 and the exact
mode derived in ``simulate/closed_forms/rough_bore.py``.

Limits: the plate forms leave out how the clamp holds a solid's edge (a singular corner), about 0.5 % at nu =
0.3 and a tenth as thick as wide, 2 % at nu = 0.5; the membrane leaves out bending, in proportion to its
thickness.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.simulate.closed_forms import friction as fr
from labrum.simulate.closed_forms import half_space as hs
from labrum.simulate.closed_forms import membranes, plates
from labrum.simulate.closed_forms import rough_bore as rb
from labrum.simulate.contact.air import AirPressure
from labrum.simulate.contact.signorini import Pair
from labrum.simulate.equilibrium.newton import StepFailedError
from tests import bodies


def clamped_disc(thickness, pressure, poisson, across, deep):
    """A disc of radius 1 mm held all round, with air behind the whole of it."""
    mesh = bodies.grid(np.linspace(0.0, 1.0, across + 1), np.linspace(-thickness, 0.0, deep + 1))
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.inner_edge, 0] = True
    fixed[-mesh.nodes_per_column :] = True
    air = AirPressure.behind(mesh, 1.0, pressure)
    return bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, poisson), fixed, air=air)


def rise(model, state):
    """Rise of the middle of the disc, mm."""
    axis = model.elements.grid.inner_edge
    return state.u[axis[len(axis) // 2], 1]


@pytest.mark.parametrize(("thickness", "poisson", "percent"), [(0.1, 0.3, 1.0), (0.05, 0.3, 1.0), (0.05, 0.5, 2.0)])
def test_breath_bends_a_clamped_plate(compare, thickness, poisson, percent):
    modulus = 2.0 * (1.0 + poisson)
    small = 1e-4 * thickness
    pressure = small / float(plates.thin_plate_deflection(0.0, 1.0, thickness, 1.0, modulus, poisson))
    model = clamped_disc(thickness, pressure, poisson, 40, 6)
    state = bodies.settle(model, bodies.at_rest(model, bodies.FAR), residual=1e-8).state
    exact = float(plates.thick_plate_deflection(0.0, 1.0, thickness, pressure, modulus, poisson))
    compare(f"clamped plate, h/a {thickness:g}, nu {poisson:g}: rise mm", rise(model, state), exact, percent)


def blown_up(thickness, pressure):
    """Rise of an incompressible disc as the air comes in, in steps as long as they may be."""
    model = clamped_disc(thickness, pressure, 0.5, 40, 2)
    state, before, done, step = bodies.at_rest(model, bodies.FAR), None, 0.0, 0.01
    while done < 1.0:
        share = min(1.0, done + step)
        along = 0.0 if before is None else (state.u - before[1]) * (share - done) / (done - before[0])
        now = replace(model, air=replace(model.air, pressure=share * pressure))
        try:
            found = bodies.settle(now, replace(state, u=state.u + along), iterations=12).state
        except StepFailedError:
            step *= 0.5
            assert step > 1e-5
            continue
        before, state, done, step = (done, state.u), found, share, 1.6 * step
    return rise(model, state)


@pytest.mark.parametrize("stretch", [1.1, 1.3])
def test_breath_inflates_a_membrane(compare, stretch):
    """What bending and the clamp add falls with the thickness: to half, and again to little more than half."""
    thicknesses = (0.08, 0.04, 0.02)
    forms = [membranes.inflated_membrane(stretch, 1.0, h, 1.0) for h in thicknesses]
    misses = [
        blown_up(h, form.pressure) / form.height - 1.0 for h, form in zip(thicknesses, forms, strict=True)
    ]
    assert 1.5 < misses[0] / misses[1] < 2.5
    assert 1.5 < misses[1] / misses[2] < 2.5
    name = f"membrane, pole stretched to {stretch:g}, h/a 0.02: rise over the form's"
    compare(name, 1.0 + misses[-1], 1.0, 1.0, "first order in the thickness")


def rubbed_punch(poisson, friction, cell, sink=0.002):
    """Force of a flat punch with friction, and the radii of the last sticking and the first slipping node.

    Everything under the punch touches and sticks to begin with. Its edge stands clear of the nodes; see the
    frictionless punch.
    """
    place = 1.0 - 0.25 * cell
    lines = np.concatenate(
        [place - bodies.growing(cell, 1.12, place)[::-1], place + bodies.growing(cell, 1.6, 2000.0)[1:]]
    )
    lines[0] = 0.0
    mesh = bodies.grid(lines, -bodies.growing(cell, 1.6, 2000.0)[::-1])
    curve = bodies.line((0.0, 0.0), (1.0, 0.0), (1.0, 50.0))
    tissue = bodies.tissue(len(mesh.quads), 1.0, poisson)
    model = bodies.body(mesh, tissue, bodies.disc_fixed(mesh), curve, friction)
    state, under = bodies.at_rest(model), mesh.node_columns < 1.0
    state = replace(state, pairs=(replace(state.pairs[0], active=under, stuck=under),))
    found = bodies.settle(model, state, travel=sink, residual=3e-6)
    last = int(np.nonzero(found.state.pairs[0].stuck)[0][-1])
    return found.force, mesh.node_columns[last : last + 2]


@pytest.mark.parametrize("friction", [0.1, 0.2])
def test_punch_with_friction(compare, rate, friction):
    """Force over the frictionless force of the same grid; the slip circle lies between two neighbouring nodes."""
    form = fr.frictional_punch(friction, 0.3)
    smooth = hs.flat_punch_force(0.002, 1.0, hs.plane_strain_modulus(2.6, 0.3))
    runs = [rubbed_punch(0.3, friction, cell) for cell in (0.04, 0.02, 0.01)]
    misses = [force / smooth / form.force_factor - 1.0 for force, _ in runs]
    assert rate(misses) == pytest.approx(1.0, abs=0.25)
    inside, outside = runs[-1][1]
    assert inside - 0.01 < form.stick_ratio < outside + 0.01
    name = f"punch with friction {friction:g}, nu 0.3"
    compare(
        f"{name}: force over frictionless", runs[-1][0] / smooth, form.force_factor, 0.5, f"rate {rate(misses):.1f}"
    )
    compare(f"{name}: stick radius", 0.5 * (inside + outside), form.stick_ratio, 10.0, "half a node's distance")


def test_punch_that_sticks_all_over(compare):
    smooth = hs.flat_punch_force(0.002, 1.0, hs.plane_strain_modulus(2.6, 0.3))
    force, _ = rubbed_punch(0.3, 50.0, 0.01)
    compare("punch that sticks, nu 0.3: force over frictionless", force / smooth, fr.bonded_punch_factor(0.3), 0.5)


def pushed_plug(poisson, friction, count, amplitude=1e-5):
    """A cylinder sliding along a rough bore: largest miss of its displacement over the mode's, and the wall's
    forces.

    The ends take the mode's displacement; wall nodes are held in no direction but by the contact. Returned with the
    miss are the pressure on the wall over the mode's, and the drag over the pressure, at the nodes off the ends.
    """
    mode = rb.BoreMode(1.0, rb.rough_bore_decay(friction, poisson), amplitude, 1.0, poisson)
    mesh = bodies.grid(np.linspace(0.0, 1.0, count + 1), np.linspace(-2.0, 0.0, 2 * count + 1))
    r, z = mesh.nodes.T
    across, along = mode.displacement(r, -z)
    exact = np.column_stack([across, -(along + mode.least_travel + 0.2 * amplitude)])
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.back] = fixed[mesh.surface] = True
    fixed[mesh.inner_edge, 0] = True
    edge = np.arange(len(r) - mesh.nodes_per_column + 1, len(r) - 1)
    wall = Pair("bore", bodies.line((1.0, 50.0), (1.0, -50.0)), edge, False, friction)
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, poisson), fixed, others=(wall,))
    state = bodies.at_rest(model, bodies.FAR)
    touching = replace(state.pairs[1], active=np.ones(len(edge), bool), direction=np.ones(len(edge)))
    start = replace(state, u=np.where(fixed, exact, 0.0), pairs=(state.pairs[0], touching))
    found = bodies.settle(model, start).state
    assert found.pairs[1].active.all()
    assert not found.pairs[1].stuck.any()
    force = bodies.reactions(model, found)[edge]
    share = np.where(np.arange(len(edge)) % 2 == 0, 4.0, 2.0) / 6.0 / count  # Simpson's, a midside first
    pressure = -force[:, 0] / (2.0 * np.pi * share)
    miss = np.abs(found.u - exact).max() / np.abs(exact).max()
    return miss, pressure / -mode.stress(1.0, -mesh.nodes[edge, 1])[0], force[:, 1] / -force[:, 0]


@pytest.mark.parametrize("poisson", [0.3, 0.45])
def test_plug_in_a_rough_bore(compare, rate, poisson):
    """A sliding body of known stress: slip everywhere, drag mu times pressure, the pressure dying away."""
    friction = 0.3
    runs = [pushed_plug(poisson, friction, count) for count in (4, 8, 16)]
    off = [np.abs(run[1] - 1.0).max() for run in runs]
    assert rate(off) > 1.7
    assert runs[-1][0] < 1e-5
    np.testing.assert_allclose(runs[-1][2], friction, rtol=1e-6)  # the plug goes down, the wall drags it up
    worst = int(np.argmax(np.abs(runs[-1][1] - 1.0)))
    compare(f"rough bore, nu {poisson:g}: worst wall pressure", runs[-1][1][worst], 1.0, 0.5, f"rate {rate(off):.1f}")
