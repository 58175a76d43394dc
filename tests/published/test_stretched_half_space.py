"""A sphere pressed a little into a body that is stretched a lot: contact on top of large strain, in closed form.

Green, Rivlin & Shield 1952, Proc. R. Soc. A 211:128: a neo-Hookean half-space drawn out evenly along its surface meets
a small indentation as an elastic one does, with a modulus of its own. Its root, 0.666, is where a surface under even
pressure from all sides buckles (Biot 1965, *Mechanics of Incremental Deformations*). Both from memory; the modulus is
derived in `stretched_modulus`. Nothing in the engine knows of small on large: the press is solved like any other.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from labrum.simulate.closed_forms import half_space as hs
from labrum.simulate.equilibrium.traction import traction
from tests import bodies

RADIUS = 1.0  # of the contact, mm, as the body stands stretched
SPHERE = 400.0


def stretched_and_pressed(stretch, across, sink):
    """A disc 600 contact radii wide and deep: drawn out first, then pressed."""
    mesh = bodies.half_space(RADIUS / stretch, across, reach=600.0)
    fixed = bodies.disc_fixed(mesh)
    fixed[mesh.nodes[:, 0] == mesh.columns[-1]] = True
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads)), fixed, bodies.sphere(SPHERE, 0.02))
    drawn = mesh.nodes * [stretch - 1.0, stretch**-2 - 1.0]
    state = replace(bodies.held(model, drawn).state, travel=0.0)
    assert np.abs(state.u - drawn).max() < 1e-8 * mesh.columns[-1]  # the large strain is even
    for travel in np.linspace(0.0, sink, 4)[1:]:
        found = bodies.settle(model, state, travel=travel, residual=1e-9)
        state = found.state
    return found.force, traction(model, state)


@pytest.mark.parametrize("stretch", [0.8, 0.9, 1.0, 1.3, 1.6])
def test_sphere_on_a_stretched_half_space(compare, stretch):
    modulus = hs.stretched_modulus(1.0, stretch)
    sink = hs.sphere_sink(RADIUS, SPHERE)
    force, contact = stretched_and_pressed(stretch, 12, sink)
    compare(f"sphere on a block drawn to {stretch:g}: force N", force, hs.sphere_force(sink, SPHERE, modulus), 0.5)
    peak = hs.sphere_pressure(0.0, RADIUS, SPHERE, modulus)
    compare(f"sphere on a block drawn to {stretch:g}: peak MPa", contact.pressure[0], peak, 1.0)


def test_unstretched_it_is_the_modulus_of_small_strain():
    assert hs.stretched_modulus(0.7, 1.0) == pytest.approx(hs.plane_strain_modulus(3.0 * 0.7, 0.5), rel=1e-14)


def test_where_the_surface_buckles(compare):
    root = brentq(lambda stretch: hs.stretched_modulus(1.0, stretch), 0.5, 0.9)
    compare("stretch at which an evenly pressed surface buckles", root, 0.666, 0.1)
