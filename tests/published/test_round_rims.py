"""Check 5: a round rim on a half-space, by the main job itself; and its linear limit on a layered lip.

Torus on a half-space, narrow contact: F = pi^2 E* r0 a^2 / (2 rho), peak E* a / (2 rho); derived for this
project (cf. Argatov, Hess, Pohrt & Popov 2016, from memory), checked in
``tests/simulate/closed_forms/test_closed_forms_rings.py``, where the integral equation behind it is solved too. Check
7's call for sink, bulge on the axis and displacement outside is met by an independent linear finite-element solver
(``linear_reference.py``): small loads, three layers.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.meshes.rims.outline import rim_from_outline
from labrum.simulate import solve
from labrum.simulate.accuracy.refinement import ANSWER, reading_of
from labrum.simulate.closed_forms import rings
from labrum.simulate.closed_forms.layer import bonded
from labrum.simulate.equilibrium.traction import surface_mass, traction
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import press
from labrum.simulate.main_job.effort import Effort
from labrum.simulate.problem import Accuracy, Layer, Lip, Load, Problem
from labrum.simulate.solving import silent
from tests import bodies
from tests.published import linear_reference

QUARTER = np.tan(np.pi / 8.0)
STACK = ((1.2, 0.05, 0.495), (9.4, 0.0267, 0.495), (0.9, 0.0167, 0.495))  # thickness mm, shear modulus MPa, nu


def pressed_by_a_torus(place, tube, layers, radius, force, percent=1.0):
    """A round rim, half a circle of radius ``tube`` about r = ``place``, into a bonded stack of ``layers``."""
    outline = [(place - tube, tube, QUARTER), (place, 0.0, QUARTER), (place + tube, tube, 0.0)]
    stack = tuple(Layer(f"layer {k}", h, g, (0.0, 0.0), nu, False) for k, (h, g, nu) in enumerate(layers))
    lip = Lip(stack, radius, 0.0, "bonded", 0.0, edge="free")
    return Problem("torus", rim_from_outline(outline), lip, Load(force, 0.0, 0.0, 0.0), Accuracy(percent))


PLACE, TUBE, HALF = 40.0, 20.0, 0.4
BLOCK, DEEP = 800.0, 150.0


def big_block(poisson):
    """A problem whose contact should be ``HALF`` mm wide each side, and E*, MPa: a block wide enough to be
    endless.
    """
    shear = 4.0
    modulus = 2.0 * shear / (1.0 - poisson)
    force = rings.narrow_rim_force(HALF, PLACE, TUBE, modulus)
    return pressed_by_a_torus(PLACE, TUBE, ((DEEP, shear, poisson),), BLOCK, force), modulus


@pytest.mark.parametrize("poisson", [pytest.param(0.3, marks=pytest.mark.slow), 0.5])
def test_torus_on_a_half_space_by_the_main_job(compare, poisson):
    problem, modulus = big_block(poisson)
    outcome = solve(problem, plan=Effort(Fineness(largest=60.0), replace(ANSWER, largest=60.0)))
    found, name = outcome.measures, f"torus by solve, nu {poisson:g}"
    half = 0.5 * (found.contact_outer_radius_mm - found.contact_inner_radius_mm)
    peak = 1e3 * modulus * HALF / (2.0 * TUBE)
    compare(f"{name}: half-width mm", half, HALF, 1.0, "half an element by first order")
    compare(
        f"{name}: peak kPa", found.peak_pressure_kpa, peak, 1.0, f"told error {found.peak_pressure_error_percent:.2f} %"
    )
    # Of the line contact wrapped round: mean pressure squared over the square's integral.
    bearing = outcome.force_n**2 / (2.0 * np.pi * PLACE * 4.0 / 3.0 * HALF * (peak / 1e3) ** 2)
    compare(f"{name}: bearing area mm2", found.bearing_area_mm2, bearing, 1.0)
    compare(f"{name}: felt diameter mm", found.felt_diameter_mm, 2.0 * PLACE, 0.1)
    # The sink feels the whole block: the integral equation on a layer of its thickness, not the half-space's.
    backing = rings.Base(DEEP, bonded(poisson))
    profile = rings.round_profile(PLACE, TUBE)
    deep = rings.ring_under_force(profile, PLACE, outcome.force_n, modulus, 2.0 * HALF, backing)
    compare(f"{name}: sink mm", found.sink_mm, deep.sink, 1.0, "integral equation on the layer")


@pytest.mark.parametrize("poisson", [pytest.param(0.3, marks=pytest.mark.slow), 0.5])
def test_torus_converges(compare, rate, poisson):
    """Given travel, a flatter torus (strains of some thousandths), elements under it halved twice."""
    tube, modulus = 400.0, 2.0 / (1.0 - poisson)
    backing = rings.Base(DEEP, bonded(poisson))
    exact = rings.pressed_ring(rings.round_profile(PLACE, tube), PLACE, HALF, modulus, backing)
    cell = HALF / 3.0
    near = np.arange(PLACE - 1.5 * HALF, PLACE + 1.5 * HALF + 1e-9, cell)
    inside = near[0] - bodies.growing(2.0 * cell, 2.4, near[0])[::-1]
    outside = near[-1] + bodies.growing(2.0 * cell, 2.4, BLOCK - near[-1])
    columns = np.concatenate([[0.0], inside[1:-1], near, outside[1:]])
    mesh = bodies.grid(columns, -bodies.growing(cell, 2.4, DEEP)[::-1])
    curve = bodies.torus(PLACE, tube)
    forces, off = [], []
    for _ in range(3):
        model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, poisson), bodies.disc_fixed(mesh), curve)
        found = bodies.settle(model, bodies.at_rest(model), travel=exact.sink, residual=1e-6)
        contact = traction(model, found.state)
        place = np.clip(contact.place[:, 0], exact.inner, exact.outer)
        form = np.interp(place, exact.radii[::-1], exact.pressure[::-1], left=0.0, right=0.0)
        mass, miss = surface_mass(contact.place), contact.pressure - form
        off.append(np.sqrt(miss @ mass @ miss / (form @ mass @ form)))
        forces.append(found.force)
        mesh = bodies.refined(mesh)
    order = 0.5 * np.log2(off[0] / off[2])
    assert order > 0.85
    assert rate(np.diff(forces)) > 1.8
    name = f"torus on a fixed grid, nu {poisson:g}"
    narrow = rings.narrow_rim_force(HALF, PLACE, tube, modulus)
    compare(f"{name}: force N", forces[-1], narrow, 1.0, f"narrow limit; rate {rate(np.diff(forces)):.1f}")
    compare(f"{name}: force N", forces[-1], exact.force, 0.5, "integral equation")
    peak = modulus * HALF / (2.0 * tube)
    compare(f"{name}: peak MPa", contact.pressure.max(), peak, 1.0, f"rate of the pressure {order:.1f}")


@pytest.mark.parametrize("force", [0.1, pytest.param(0.0125, marks=pytest.mark.slow)])
def test_small_load_on_a_layered_lip(compare, force):
    """Force, the bulge on the axis, and the surface outside, given the contact's width and sink."""
    place, tube, radius = 10.0, 2.5, 40.0
    problem = pressed_by_a_torus(place, tube, STACK, radius, force)
    run = press(problem, Fineness(touching=0.05, smallest=0.004), silent)
    found, state, grid = reading_of(problem.rim, run), run.equilibrium.state, run.model.elements.grid

    def depth(r):
        return state.travel - (tube - np.sqrt(tube**2 - (r - place) ** 2))

    layers = [linear_reference.Layer(*layer) for layer in STACK]
    linear = linear_reference.indent(layers, found.inner_radius, found.outer_radius, depth, radius, 0.05)
    name = f"layered lip, {force:g} N"
    compare(f"{name}: force N", linear.force, force, 1.0, "independent linear solver")
    rest, down = grid.nodes[grid.surface, 0], -state.u[grid.surface, 1]
    compare(f"{name}: bulge on the axis mm", down[0], linear.surface[0], 1.0, "falls with the load")
    apart = (rest < found.inner_radius - 0.2) | (rest > found.outer_radius + 0.2)
    expected = np.interp(rest, linear.radii, linear.surface)
    assert np.abs(down - expected)[apart].max() < 0.003 * state.travel


def test_soft_tissue_without_stiffening_carries_twenty_newtons(compare):
    """8 mm of neo-Hookean tissue of 30 kPa under a round rim of 2.5 mm: it folds into the ends of contact, and the
    first, coarse path leads nowhere. Answers from two grids agree. (With every length 0.7 times that of the first, the
    press found no equilibrium: this tissue is near the limit of what can be carried.)
    """
    problem = pressed_by_a_torus(10.75, 2.5, ((8.0, 0.01, 0.4995),), 27.0, 20.0)
    careful = Effort().careful
    found = solve(problem).measures
    other = solve(problem, plan=replace(careful, answer=replace(careful.answer, ends=0.03, touching=0.06))).measures
    compare("neo-Hookean, 20 N: sink mm", found.sink_mm, other.sink_mm, 0.1, "another grid")
    compare("neo-Hookean, 20 N: peak kPa", found.peak_pressure_kpa, other.peak_pressure_kpa, 0.5, "another grid")
