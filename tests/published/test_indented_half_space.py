"""Check 3: sphere, cone, flat and rounded punch on a half-space, frictionless, small strains, through the contact.

Hertz 1882 and Johnson, Contact Mechanics, 1985; Sneddon 1965; the rounded punch after Hertz's method (all as in
``simulate/closed_forms/half_space.py``). The half-space is a disc thousands of contact radii wide and deep. Strains
are kept at some thousandths, so the large-strain tissue differs from Hooke's by about that much.

Rounding, not discretisation, sets the tolerance of the iteration: far elements are a thousand times the
contact's size, and their resting forces cancel only to the last digit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from labrum.simulate.closed_forms import half_space as hs
from labrum.simulate.closed_forms import layer as ly
from labrum.simulate.equilibrium.traction import surface_mass, traction
from labrum.simulate.readings.pressure import vanishing
from labrum.simulate.readings.pressure_line import pressure_lines
from tests import bodies

LEVELS = 3
ROUNDING = 3e-6
RADIUS = 1.0  # of the contact, mm


@dataclass(frozen=True)
class Pressed:
    """Force N, nodal contact pressure and how far it is off in the mean square, outer radius of contact mm."""

    force: float
    contact: Any
    off: float
    reach: float


def press(mesh, curve, poisson, sink, pressure):
    tissue = bodies.tissue(len(mesh.quads), 1.0, poisson)
    model = bodies.body(mesh, tissue, bodies.disc_fixed(mesh), curve)
    found = bodies.settle(model, bodies.at_rest(model), travel=sink, residual=ROUNDING)
    contact = traction(model, found.state)
    mass = surface_mass(contact.place)
    exact = pressure(contact.place[:, 0])
    known = contact.active & np.isfinite(exact)
    miss, scale = np.where(known, contact.pressure - exact, 0.0), np.where(known, exact, 0.0)
    off = np.sqrt(miss @ mass @ miss / (scale @ mass @ scale))
    return Pressed(found.force, contact, off, vanishing(contact, int(np.flatnonzero(contact.active)[-1]), +1))


def levels(mesh, *how):
    """The same press on ever finer grids, every interval halved each time."""
    runs = []
    for _ in range(LEVELS):
        runs.append(press(mesh, *how))
        mesh = bodies.refined(mesh)
    return runs


def changes(runs):
    """Differences of the force between grids: they fall as the error does, whatever the block's size adds."""
    return np.diff([run.force for run in runs])


def near(r):
    return np.minimum(r, RADIUS)


@pytest.mark.parametrize("poisson", [pytest.param(0.3, marks=pytest.mark.slow), 0.5])
def test_hertz_sphere(compare, rate, poisson):
    radius = 500.0
    modulus = hs.plane_strain_modulus(2.0 * (1.0 + poisson), poisson)
    sink = hs.sphere_sink(RADIUS, radius)
    runs = levels(
        bodies.half_space(RADIUS, 3, ratio=2.2),
        bodies.sphere(radius, 0.1),
        poisson,
        sink,
        lambda r: hs.sphere_pressure(near(r), RADIUS, radius, modulus),
    )
    orders = rate(changes(runs)), rate([run.off for run in runs]), rate([run.reach - RADIUS for run in runs])
    assert orders[0] > 1.8
    assert orders[1] > 0.85
    assert orders[2] == pytest.approx(1.0, abs=0.15)
    (line,) = pressure_lines(runs[-1].contact.place, runs[-1].contact.pressure, runs[-1].contact.active)
    exact = hs.sphere_pressure(near(line.place[:, 0]), RADIUS, radius, modulus)
    assert line.place[-1, 0] == pytest.approx(RADIUS, rel=0.005)  # the curve that is drawn, ends and all
    assert line.pressure[line.place[:, 0] < 0.97] == pytest.approx(exact[line.place[:, 0] < 0.97], abs=0.005 * exact[0])
    name = f"Hertz, nu {poisson:g}"
    finest = runs[-1]
    compare(f"{name}: force N", finest.force, hs.sphere_force(sink, radius, modulus), 0.5, f"rate {orders[0]:.1f}")
    peak = hs.sphere_pressure(0.0, RADIUS, radius, modulus)
    compare(f"{name}: peak MPa", finest.contact.pressure[0], peak, 0.5, f"rate of the pressure {orders[1]:.1f}")
    # The edge, where pressure falls as a root, is found to half an element: by the rate just asserted it tends to
    edge = 2.0 * finest.reach - runs[-2].reach
    compare(f"{name}: contact radius mm", edge, RADIUS, 0.5, f"finest grid {finest.reach:.4f}, rate {orders[2]:.1f}")


@pytest.mark.parametrize("poisson", [pytest.param(0.3, marks=pytest.mark.slow), 0.5])
def test_sneddon_cone(compare, rate, poisson):
    """The tip is flat over a thousandth of the contact: on the axis a node needs an axial normal."""
    angle = 0.001
    modulus = hs.plane_strain_modulus(2.0 * (1.0 + poisson), poisson)
    sink = hs.cone_sink(RADIUS, angle)
    tip, far = 1e-3 * RADIUS, 100.0 * RADIUS
    runs = levels(
        bodies.half_space(RADIUS, 3, ratio=2.2),
        bodies.line((0.0, 0.0), (tip, 0.0), (far, (far - tip) * np.tan(angle))),
        poisson,
        sink,
        lambda r: np.where(r > 0.0, hs.cone_pressure(np.maximum(near(r), 1e-9), RADIUS, angle, modulus), np.inf),
    )
    orders = rate(changes(runs)), rate([run.off for run in runs])
    assert orders[0] > 1.8
    assert orders[1] > 0.85
    name = f"Sneddon's cone, nu {poisson:g}"
    force = hs.cone_force(sink, angle, modulus)
    compare(f"{name}: force N", runs[-1].force, force, 1.0, f"rate {orders[0]:.1f}")
    halfway = np.interp(0.5 * RADIUS, runs[-1].contact.place[:, 0], runs[-1].contact.pressure)
    exact = hs.cone_pressure(0.5 * RADIUS, RADIUS, angle, modulus)
    compare(f"{name}: pressure at half the radius MPa", halfway, exact, 1.0, f"rate of the pressure {orders[1]:.1f}")


@pytest.mark.parametrize("poisson", [pytest.param(0.3, marks=pytest.mark.slow), 0.5])
def test_rounded_punch(compare, rate, poisson):
    """Flat to half the contact's radius, rounded beyond: the shape nearest a rim's own."""
    flat, edge_radius = 0.5, 300.0
    modulus = hs.plane_strain_modulus(2.0 * (1.0 + poisson), poisson)
    sink = hs.rounded_punch_sink(RADIUS, flat, edge_radius)
    bend = 0.02
    end = (flat + edge_radius * np.sin(bend), edge_radius * (1.0 - np.cos(bend)))
    curve = bodies.chain((0.0, 0.0, 0.0), (flat, 0.0, np.tan(bend / 4.0)), (*end, 0.0))
    runs = levels(
        bodies.half_space(RADIUS, 4, ratio=2.2),
        curve,
        poisson,
        sink,
        lambda r: hs.rounded_punch_pressure(near(r), RADIUS, flat, edge_radius, modulus),
    )
    order = rate([run.off for run in runs])
    assert order > 0.85
    name = f"rounded punch, nu {poisson:g}"
    force = hs.rounded_punch_force(RADIUS, flat, edge_radius, modulus)
    compare(f"{name}: force N", runs[-1].force, force, 0.5, f"rate {rate(changes(runs)):.1f}")
    # Not on the axis: a node there stands for no area, and a pressure that rises outwards releases it.
    halfway = 0.5 * flat
    pressure = np.interp(halfway, runs[-1].contact.place[:, 0], runs[-1].contact.pressure)
    exact = float(hs.rounded_punch_pressure(halfway, RADIUS, flat, edge_radius, modulus))
    compare(f"{name}: pressure on the flat MPa", pressure, exact, 0.5, f"rate of the pressure {order:.1f}")


def punched(poisson, sink, cell, radius, depth):
    """Force of a flat punch of radius 1 whose edge stands a quarter of a ``cell`` outside a node.

    A node that met the sharp edge itself would be held by it in r as well, which nothing in the theory does.
    """
    place = RADIUS - 0.25 * cell
    lines = np.concatenate(
        [place - bodies.growing(cell, 1.5, place)[::-1], place + bodies.growing(cell, 1.5, radius - place)[1:]]
    )
    lines[0] = 0.0
    mesh = bodies.grid(lines, -bodies.growing(cell, 1.5, depth)[::-1])
    model = bodies.body(
        mesh,
        bodies.tissue(len(mesh.quads), 1.0, poisson),
        bodies.disc_fixed(mesh),
        bodies.line((0.0, 0.0), (RADIUS, 0.0), (RADIUS, 50.0)),
    )
    return bodies.settle(model, bodies.at_rest(model), travel=sink, residual=ROUNDING).force


@pytest.mark.parametrize("poisson", [0.3, 0.5])
def test_flat_punch(compare, rate, poisson):
    """First order in the cell at the edge, where the pressure is infinite."""
    sink, block = 0.002, 2000.0
    modulus = hs.plane_strain_modulus(2.0 * (1.0 + poisson), poisson)
    exact = hs.flat_punch_force(sink, RADIUS, modulus)
    forces = [punched(poisson, sink, cell, block, block) for cell in (0.04, 0.02, 0.01)]
    order = rate(np.array(forces) / exact - 1.0)
    assert order == pytest.approx(1.0, abs=0.25)
    compare(f"flat punch, nu {poisson:g}: force N", forces[-1], exact, 1.0, f"rate {order:.1f}")


@pytest.mark.parametrize("poisson", [0.45, 0.5])
@pytest.mark.parametrize("ratio", [0.2, 0.6, 1.0])
def test_flat_punch_on_a_bonded_layer(compare, rate, poisson, ratio):
    """Check 4: Hayes, Keer, Herrmann & Mockros 1972, J. Biomech. 5:541, solved again from its integral equation."""
    sink, thickness = 2e-4, 1.0 / ratio
    exact = ly.hayes_factor(ratio, poisson)
    unit = 4.0 * RADIUS * sink / (1.0 - poisson)
    factors = [
        punched(poisson, sink, cell, RADIUS + 8.0 * thickness, thickness) / unit for cell in (0.04, 0.02, 0.01)
    ]
    order = rate(np.array(factors) - exact)
    assert order > 0.8
    name = f"flat punch on a layer, a/h {ratio:g}, nu {poisson:g}: Hayes' factor"
    compare(name, factors[-1], exact, 1.0, f"rate {order:.1f}")


@pytest.mark.parametrize("poisson", [pytest.param(0.45, marks=pytest.mark.slow), 0.5])
@pytest.mark.parametrize("ratio", [0.2, 0.6, 1.0])
def test_sphere_on_a_bonded_layer(compare, rate, poisson, ratio):
    """Check 4, the sphere of the same paper."""
    radius, thickness = 1000.0, 1.0 / ratio
    modulus = 2.0 / (1.0 - poisson)
    exact = ly.sphere_on_layer(RADIUS, radius, thickness, modulus, ly.bonded(poisson))
    near_lines = np.linspace(0.0, 1.25, 6)
    far = 1.25 + bodies.growing(0.35, 1.4, 8.0 * thickness)[1:]
    mesh = bodies.grid(np.concatenate([near_lines, far]), -bodies.growing(0.25, 1.3, thickness)[::-1])
    runs = levels(mesh, bodies.sphere(radius, 0.1), poisson, exact.sink, lambda r: exact.pressure(near(r)))
    order = rate([run.off for run in runs])
    assert order > 0.85
    name = f"sphere on a layer, a/h {ratio:g}, nu {poisson:g}"
    compare(f"{name}: force N", runs[-1].force, exact.force, 1.0, f"rate {rate(changes(runs)):.1f}")
    peak = float(exact.pressure(np.array(0.0)))
    compare(f"{name}: peak MPa", runs[-1].contact.pressure[0], peak, 1.0, f"rate of the pressure {order:.1f}")
