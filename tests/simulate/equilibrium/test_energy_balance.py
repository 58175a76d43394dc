"""The rim's work against what is stored and what friction wears away, in a press at large strain.

Nothing here shares code with the residual: the energy is summed from the tissue law, the dissipation from drag and
slip, the work from force and travel.
"""

from __future__ import annotations

import numpy as np
import pytest

from labrum.simulate.equilibrium.model import look
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.tissue.elements import Q
from tests import bodies

DEPTH = 0.6


def stored(model, state):
    density = model.elements.law.energy(model.elements.gradients(state.u), state.p @ Q.T, model.elements.tissue)
    return float(np.sum(model.elements.weight * density))


def pressed(friction, steps, poisson=0.49):
    """Work of the rim, energy stored and energy lost (N mm) when a round rim goes ``DEPTH`` deep into a disc."""
    mesh = bodies.grid(np.linspace(0.0, 3.0, 25), np.linspace(-1.5, 0.0, 9))
    tissue = bodies.tissue(len(mesh.quads), 1.0, poisson, 0.3)
    model = bodies.body(mesh, tissue, bodies.disc_fixed(mesh), bodies.torus(1.5, 0.5), friction)
    state, force, drag, work, lost = bodies.at_rest(model), 0.0, 0.0, 0.0, 0.0
    for travel in np.linspace(0.0, DEPTH, steps + 1)[1:]:
        before = look(model, state)[0].arc_length
        found = bodies.settle(model, state, travel=travel)
        contact = traction(model, found.state)
        work += 0.5 * (force + found.force) * DEPTH / steps
        lost -= float(np.sum(0.5 * (drag + contact.drag) * (contact.foot - before)))
        force, drag = found.force, contact.drag
        state = bodies.with_feet_settled(model, found.state)
    return work, stored(model, state), lost


@pytest.mark.parametrize("poisson", [0.49, 0.5])
def test_frictionless_work_is_stored(poisson):
    """The trapezoidal sum nears the energy at second order in the step."""
    misses = []
    for steps in (12, 24):
        work, energy, lost = pressed(0.0, steps, poisson)
        assert abs(lost) < 1e-9 * work
        misses.append(work / energy - 1.0)
    assert abs(misses[-1]) < 1.5e-3
    assert misses[0] / misses[1] == pytest.approx(4.0, rel=0.1)


@pytest.mark.parametrize(("friction", "share"), [(0.1, 0.036), (0.3, 0.016)])
def test_work_is_stored_and_rubbed_away(friction, share):
    """``share`` is what friction wears away of the work: most where much still slips."""
    misses = []
    for steps in (12, 24):
        work, energy, lost = pressed(friction, steps)
        assert lost / work == pytest.approx(share, rel=0.05)
        misses.append((energy + lost) / work - 1.0)
    assert abs(misses[-1]) < 1.5e-3
    assert misses[0] / misses[1] == pytest.approx(4.0, rel=0.1)


def test_friction_costs_more_than_it_wears():
    """The rim works harder against friction, by more than what is lost: the rest is stored in shear."""
    smooth, rough = pressed(0.0, 12), pressed(0.3, 12)
    assert rough[0] > smooth[0]
    assert rough[2] > 0.0


def test_force_is_the_slope_of_the_energy():
    mesh = bodies.grid(np.linspace(0.0, 3.0, 25), np.linspace(-1.5, 0.0, 9))
    tissue = bodies.tissue(len(mesh.quads), 1.0, 0.5, 0.3)
    model = bodies.body(mesh, tissue, bodies.disc_fixed(mesh), bodies.torus(1.5, 0.5))
    state, found = bodies.at_rest(model), {}
    for travel in (0.1, 0.2, 0.3 - 1e-4, 0.3, 0.3 + 1e-4):
        found[travel] = bodies.settle(model, state, travel=travel, residual=1e-12)
        state = found[travel].state
    slope = (stored(model, found[0.3 + 1e-4].state) - stored(model, found[0.3 - 1e-4].state)) / 2e-4
    assert found[0.3].force == pytest.approx(slope, rel=1e-6)
    rate = (found[0.3 + 1e-4].force - found[0.3 - 1e-4].force) / 2e-4
    assert found[0.3].stiffness == pytest.approx(rate, rel=1e-4)
