"""A ring muscle of limited reach that stiffens as it pulls, against closed forms and quadrature.

One element: the free contraction of a thin ring (``closed_forms/finite_strain.py``) with moduli that have risen. Tube:
``closed_forms/inflation.py``'s, first with the risen moduli, then with a muscle that ends inside the wall, its
equilibrium summed by quadrature over the wall from that file's kinematics; nothing of the solver's own enters. The
energy stored by what contracts: the muscle's own work.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from labrum.simulate.closed_forms import finite_strain as fs
from labrum.simulate.closed_forms import inflation as walls
from labrum.simulate.load_path.muscle import ring_share, tissue_of
from labrum.simulate.problem import Layer, Lip
from labrum.simulate.tissue.elements import Q
from labrum.simulate.tissue.fading import FADE_MM
from tests import bodies

SLOPE, ACTIVATION, PULL, C2 = 2.8, 0.3, 1.5, 0.2
RISEN = 1.0 + SLOPE * ACTIVATION


def lip(height, radius, opening, poisson=0.5, reach=np.inf, slope=SLOPE):
    """One muscle of shear modulus 1 MPa that pulls with ``PULL`` MPa when fully active."""
    layer = Layer("muscle", height, 1.0, (C2, 0.0), poisson, True, PULL, reach, slope)
    return Lip((layer,), radius, opening, "sliding", 0.0, "free")


def contracted(mesh, own, fixed, steps=6):
    """Equilibrium of the contracted body, in steps of activation."""
    state = None
    for share in np.linspace(0.0, ACTIVATION, steps + 1)[1:]:
        model = bodies.body(mesh, tissue_of(own, mesh, share), fixed)
        state = bodies.settle(model, state or bodies.at_rest(model, bodies.FAR), residual=1e-9).state
    return model, state


@pytest.mark.parametrize("poisson", [0.45, 0.5])
def test_one_element_of_muscle_contracts_against_its_own_risen_stiffness(compare, rate, poisson):
    own_law = fs.Law(RISEN, C2 * RISEN, 0.0, fs.bulk_from_poisson(RISEN, poisson))
    form = fs.hoop_contraction(own_law, PULL * ACTIVATION, 1).stretches[0]
    found = []
    for radius in (10.0, 20.0, 40.0):
        mesh = bodies.grid([radius, radius + 1.0], [-1.0, 0.0])
        fixed = bodies.nothing_fixed(mesh)
        fixed[mesh.back, 1] = True
        model, state = contracted(mesh, lip(1.0, radius + 1.0, radius, poisson), fixed)
        found.append(model.elements.gradients(state.u)[0, :, 4].mean())
    assert rate(np.array(found) - form) == pytest.approx(2.0, abs=0.2)
    compare(f"ring of stiffening muscle, nu {poisson:g}: hoop stretch", found[-1], form, 0.05)
    soft_law = fs.Law(1.0, C2, 0.0, fs.bulk_from_poisson(1.0, poisson))
    soft = fs.hoop_contraction(soft_law, PULL * ACTIVATION, 1).stretches[0]
    assert 1.0 - form < 0.65 * (1.0 - soft)


def slice_of_tube(inner, outer, count):
    mesh = bodies.grid(np.linspace(inner, outer, count + 1), [-0.5, 0.0])
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.surface, 1] = fixed[mesh.back, 1] = True
    return mesh, fixed


def test_a_tube_of_stiffening_muscle(compare):
    form = walls.muscle_tube_inner_radius(0.0, 1.0, 2.0, fs.Law(RISEN, C2 * RISEN), PULL * ACTIVATION, 1)
    mesh, fixed = slice_of_tube(1.0, 2.0, 8)
    _, state = contracted(mesh, lip(0.5, 2.0, 1.0), fixed)
    compare("tube of stiffening muscle: inner radius mm", 1.0 + state.u[mesh.inner_edge, 0].mean(), form, 0.01)


def inner_radius_by_quadrature(inner, outer, reach):
    """Where the pressure inside vanishes: the sum over the wall of (hoop - radial) / r, muscle included."""

    def stiffness(rest):
        return 1.0 + SLOPE * ACTIVATION * float(ring_share(np.array(rest), reach, inner))

    def lift(rest, moved):
        r = float(walls.tube_place(rest, inner, moved))
        q = r / rest
        passive = 2.0 * (0.5 + 2.0 * C2 * (q**2 + q**-2 - 2.0)) * (q**2 - q**-2) * stiffness(rest)
        pull = PULL * ACTIVATION * float(ring_share(np.array(rest), reach, inner)) * q
        return (passive + pull) * rest / r**2

    def held(moved):
        kinks = [p for p in (reach, reach + FADE_MM) if inner < p < outer]
        return quad(lift, inner, outer, args=(moved,), points=kinks, epsabs=1e-13, epsrel=1e-11)[0]

    return brentq(held, 0.5 * inner, inner, xtol=1e-12)


def test_a_muscle_that_ends_in_the_wall(compare, rate):
    """Passive tissue beyond 18 mm, the muscle fading over the next 2: second order in the element's width at least."""
    form = inner_radius_by_quadrature(8.0, 30.0, 18.0)
    assert form > walls.muscle_tube_inner_radius(0.0, 8.0, 30.0, fs.Law(RISEN, C2 * RISEN), PULL * ACTIVATION, 1)
    found = []
    for count in (11, 22, 44):
        mesh, fixed = slice_of_tube(8.0, 30.0, count)
        _, state = contracted(mesh, lip(0.5, 30.0, 8.0, reach=18.0), fixed)
        found.append(8.0 + state.u[mesh.inner_edge, 0].mean())
    assert rate(np.array(found) - form) > 1.8
    compare("muscle to 18 mm in a wall from 8 to 30: inner radius mm", found[-1], form, 0.02)


def test_the_muscle_is_whole_inside_its_radius_and_smooth_beyond():
    r = np.linspace(0.0, 25.0, 2501)
    share = ring_share(r, 18.0, 1.5)
    assert np.all(share[r <= 18.0] == 1.0)
    assert np.all(share[r >= 18.0 + FADE_MM] == 0.0)
    assert np.abs(np.diff(share, 2)).max() < 2e-4  # no kink: 6 h^2 / FADE^2
    without = ring_share(r, 18.0, 0.0)
    assert (without[0], np.all(without[(r >= FADE_MM) & (r <= 18.0)] == 1.0)) == (0.0, True)


def stored(model, state):
    density = model.elements.law.energy(
        model.elements.gradients(state.u), state.p @ Q.T, model.elements.tissue
    )
    return float(np.sum(model.elements.weight * density))


def bought(own, mesh, model, state):
    """dW/d(activation), N mm: what a unit of activation puts into the body as it stands."""
    still = replace(model.elements, tissue=tissue_of(own, mesh, 1.0))
    relaxed = replace(model.elements, tissue=tissue_of(own, mesh, 0.0))
    return stored(replace(model, elements=still), state) - stored(replace(model, elements=relaxed), state)


def test_what_activation_puts_in_is_what_is_stored(rate):
    """No outer force works on a tube that contracts freely, so the energy grows by the sum of dW/da alone."""
    misses = []
    mesh, fixed = slice_of_tube(1.0, 2.0, 4)
    own = lip(0.5, 2.0, 1.0, reach=1.2)
    for steps in (4, 8):
        state, put_in, before = None, 0.0, 0.0
        for share in np.linspace(0.0, ACTIVATION, steps + 1):
            model = bodies.body(mesh, tissue_of(own, mesh, share), fixed)
            state = state or bodies.at_rest(model, bodies.FAR)
            if share > 0.0:
                state = bodies.settle(model, state, residual=1e-10).state
            rise = bought(own, mesh, model, state)
            put_in += 0.5 * (before + rise) * ACTIVATION / steps if share > 0.0 else 0.0
            before = rise
        misses.append(put_in / stored(model, state) - 1.0)
    assert abs(misses[-1]) < 5e-3
    assert misses[0] / misses[1] == pytest.approx(4.0, rel=0.1)


def on_the_axis(count, reach_in):
    """Pressure at the axis, MPa, of a contracted disc; ``reach_in`` leaves the muscle on the axis as it is."""
    mesh = bodies.grid(np.geomspace(0.5, 12.5, count + 1) - 0.5, [-1.0, 0.0])
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.surface, 1] = fixed[mesh.back, 1] = True
    fixed[mesh.inner_edge, 0] = True
    own = lip(1.0, 12.0, 1e-9 if reach_in else 0.0, slope=0.0)
    _, state = contracted(mesh, own, fixed, 1)
    return state.p[0, 0] - state.p[0, 1]  # at the axis' side of the first element


def test_a_closed_lip_has_a_pressure_on_its_axis():
    """With rings down to the axis it would grow by S ln 2 with every halving; faded in it settles at second order.

    Incompressible and held in length the disc cannot move, so p(0) = -int S share / r dr exactly.
    """
    exact = -PULL * ACTIVATION * quad(lambda r: float(ring_share(np.array(r), np.inf, 0.0)) / r, 0.0, 12.0,
                                      points=[FADE_MM])[0]  # fmt: skip
    found = [on_the_axis(count, False) for count in (8, 16, 32)]
    assert found[-1] == pytest.approx(exact, rel=2e-3)
    assert abs(found[-1] - exact) < 0.35 * abs(found[-2] - exact)
    endless = [on_the_axis(count, True) for count in (8, 16, 32)]
    assert np.diff(endless) == pytest.approx(-PULL * ACTIVATION * np.log(2.0), rel=0.15)
