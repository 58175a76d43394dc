"""Natural frequencies against closed forms and a published benchmark: bar, plates, stretched bodies, free cylinder."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.simulate.closed_forms import vibrations
from labrum.simulate.closed_forms.plates import plate_stiffness
from labrum.simulate.equilibrium.small_loads import SmallLoads
from labrum.simulate.living.vibration import oscillations
from tests import bodies


def frequencies(model, state, count, density=1.0):
    """The slowest modes, Hz."""
    held = SmallLoads.on(model, state)
    return np.sqrt(oscillations(held, count, density).squares) / (2.0 * np.pi)


def at_rest(mesh, poisson, fixed, shear=1.0):
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), shear, poisson), fixed)
    return model, bodies.at_rest(model, bodies.FAR)


def on_axis(mesh):
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.inner_edge, 0] = True
    return fixed


def test_a_bar_held_at_one_end(compare, rate):
    """nu = 0, so that sections stay plane exactly; c^2 = E / rho = 2. An eigenvalue converges at order 4."""
    exact = vibrations.bar_frequencies(3, 10.0, 2.0, 1.0)
    misses = []
    for count in (4, 8, 16):
        mesh = bodies.grid([0.0, 0.5, 1.0], np.linspace(-10.0, 0.0, count + 1))
        fixed = on_axis(mesh)
        fixed[mesh.back, 1] = True
        found = frequencies(*at_rest(mesh, 0.0, fixed), 3)
        misses.append(float(found[2] / exact[2] - 1.0))
    assert rate(misses) > 3.8
    for number, value in enumerate(found):
        compare(f"bar held at one end, mode {number + 1}: Hz", value, exact[number], 0.02)


@pytest.mark.parametrize(("thickness", "number"), [(0.1, 9.941), (0.2, 9.240)])
def test_the_thick_plates_form_gives_the_published_table(compare, thickness, number):
    """Irie, Yamada & Aomura 1980, J. Appl. Mech. 47:652, clamped, nu = 0.3: omega a^2 (rho h / D)^(1/2); numbers from
    memory.
    """
    found = vibrations.thick_plate_frequencies(1, 1.0, thickness, 1.0, 0.3, 1.0)[0] * 2.0 * np.pi
    scale = np.sqrt(plate_stiffness(1.0, 0.3, thickness) / thickness)
    compare(f"Mindlin's form, clamped plate, h/a {thickness:g}: number", found / scale, number, 0.01)


@pytest.mark.parametrize(("thickness", "poisson", "percent"), [(0.1, 0.3, 1.0), (0.2, 0.3, 2.0), (0.1, 0.5, 2.0)])
def test_a_clamped_thick_plate(compare, thickness, poisson, percent):
    """First and second mode; incompressible tissue as well, where volume is kept exactly."""
    mesh = bodies.grid(np.linspace(0.0, 1.0, 41), np.linspace(-thickness, 0.0, 5))
    fixed = on_axis(mesh)
    fixed[-mesh.nodes_per_column :] = True
    found = frequencies(*at_rest(mesh, poisson, fixed), 2)
    exact = vibrations.thick_plate_frequencies(2, 1.0, thickness, 2.0 * (1.0 + poisson), poisson, 1.0)
    for number in (0, 1):
        name = f"clamped plate, h/a {thickness:g}, nu {poisson:g}, mode {number + 1}: Hz"
        compare(name, found[number], exact[number], percent)


def stretched(mesh, stretch, fixed):
    """An incompressible body in homogeneous equibiaxial stretch, thinner along the axis."""
    model, _ = at_rest(mesh, 0.5, fixed)
    moved = mesh.nodes * np.array([stretch - 1.0, stretch**-2 - 1.0])
    return model, bodies.held(model, moved, steps=4).state


@pytest.mark.parametrize("stretch", [1.0, 1.3, 1.6])
def test_axial_shear_of_a_stretched_cylinder_takes_no_notice_of_the_stretch(compare, stretch):
    """Exact at any stretch (Hayes & Rivlin's wave speed): the stress in it and the longer way cancel."""
    mesh = bodies.grid(np.linspace(0.0, 1.0, 13), [-0.5, -0.25, 0.0])
    fixed = on_axis(mesh)
    fixed[:, 0] = True
    fixed[-mesh.nodes_per_column :] = True
    found = frequencies(*stretched(mesh, stretch, fixed), 2)
    exact = vibrations.sheared_cylinder_frequencies(2, 1.0, 1.0, 1.0)
    for number in (0, 1):
        compare(f"cylinder stretched to {stretch:g}, mode {number + 1}: Hz", found[number], exact[number], 0.01)


def test_a_stretched_disc_is_a_membrane_with_a_little_bending(compare):
    """Incompressible neo-Hookean: T = mu (l^2 - l^-4) h; the plate's bending is that of small strain, E = 3 mu."""
    rest, stretch = 0.01, 1.05
    mesh = bodies.grid(np.concatenate([np.linspace(0.0, 0.9, 31), np.linspace(0.91, 1.0, 10)]), [-rest, -rest / 2, 0.0])
    fixed = on_axis(mesh)
    fixed[-mesh.nodes_per_column :] = True
    found = frequencies(*stretched(mesh, stretch, fixed), 2)
    thickness, radius = rest / stretch**2, stretch
    tension = (stretch**2 - stretch**-4) * thickness
    bare, bending = (
        vibrations.stretched_plate_frequencies(2, radius, tension, stiffness, thickness)
        for stiffness in (0.0, plate_stiffness(3.0, 0.5, thickness))
    )
    assert (bare < found).all()
    for number in (0, 1):
        compare(f"stretched disc, h/a 0.01, mode {number + 1}: Hz", found[number], bending[number], 0.5)


def test_a_free_hollow_cylinder(compare):
    """NAFEMS R0015, *Selected Benchmarks for Natural Frequency Analysis*, test FV41, closed form.

    Mean radius 2 m, wall 0.4 m, length 10 m, E = 200 GPa, nu = 0.3, 8000 kg/m3. The first mode is the rigid one, here
    held by a spring of 1 Hz, which moves the others by less than 1e-5 of them.
    """
    mesh = bodies.grid([1.8, 2.0, 2.2], np.linspace(-10.0, 0.0, 41))
    model, state = at_rest(mesh, 0.3, bodies.nothing_fixed(mesh), 200e9 / 2.6)
    mass = 8000.0 * np.pi * (2.2**2 - 1.8**2) * 10.0
    springs = np.zeros(mesh.nodes.shape)
    springs[mesh.back[1], 1] = mass * (2.0 * np.pi) ** 2
    found = frequencies(replace(model, springs=springs), state, 6, 8000.0)
    compare("free cylinder on a spring, rigid mode: Hz", found[0], 1.0, 0.1)
    for number, exact in enumerate((243.53, 377.41, 394.11, 397.72, 405.28), 2):
        compare(f"free cylinder, FV41, mode {number}: Hz", found[number - 1], exact, 0.5)
