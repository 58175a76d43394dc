"""Breath on the opening's wall and under the flange, against closed forms and an independent sum.

Wall: Lame's thick cylinder, its length held (Timoshenko & Goodier; from memory). A pressure that varies along the
wall gives the same mean widening as its mean, exactly in small strain: averaged over a length whose ends are held and
smooth, the equations are those of plane strain. At large strain the tube of ``closed_forms/inflation.py``. Flange: a
block between rim and teeth, whose stress is known, and a clamped plate that the air lifts off its support.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.simulate.closed_forms import inflation as walls
from labrum.simulate.closed_forms import plates
from labrum.simulate.contact.air import AirPressure
from labrum.simulate.contact.breath import breath_on, in_opening
from labrum.simulate.contact.signorini import Pair
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.problem import Layer, Lip
from labrum.simulate.tissue.condensation import condense, regularised_bulk
from labrum.simulate.tissue.elements import Elements
from labrum.simulate.tissue.fading import FADE_MM
from tests import bodies

INNER, OUTER, LENGTH = 1.0, 2.0, 0.8


def tube(across, along, pressure, poisson, share=None):
    """A tube whose ends are held in length and smooth, air on its wall; ``share`` in place of the linear fall."""
    mesh = bodies.grid(np.linspace(INNER, OUTER, across + 1), np.linspace(-LENGTH, 0.0, along + 1))
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.surface, 1] = fixed[mesh.back, 1] = True
    air = in_opening(mesh, pressure)
    air = air if share is None else replace(air, share=np.full_like(air.share, share))
    return bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, poisson), fixed, air=air)


def mean_widening(model, state):
    """Mean radial travel of the wall, mm, by Simpson's rule."""
    mesh = model.elements.grid
    moved, heights = state.u[mesh.inner_edge, 0], np.diff(mesh.rows)
    return float(np.sum(heights * (moved[0:-2:2] + 4.0 * moved[1:-1:2] + moved[2::2]) / 6.0) / heights.sum())


def lame(pressure, poisson):
    """Plane strain: u(a) = p a (1 + nu) / E (a^2 (1 - 2 nu) + b^2) / (b^2 - a^2), E = 2 (1 + nu) G, G = 1."""
    a, b = INNER, OUTER
    return pressure * a / 2.0 * (a**2 * (1.0 - 2.0 * poisson) + b**2) / (b**2 - a**2)


@pytest.mark.parametrize("poisson", [0.3, 0.5])
@pytest.mark.parametrize("share", [None, 1.0], ids=["falling", "even"])
def test_breath_widens_lames_cylinder(compare, rate, poisson, share):
    small, found = 1e-7, []
    for count in (2, 4, 8):
        model = tube(count, 4, small, poisson, share)
        found.append(mean_widening(model, bodies.settle(model, bodies.at_rest(model, bodies.FAR), residual=1e-9).state))
    exact = lame(small * (share or 0.5), poisson)
    assert rate(np.array(found) - exact) > 3.0
    fall = "an even" if share else "a falling"
    compare(f"{fall} pressure in Lame's tube, nu {poisson:g}: widening", found[-1], exact, 0.05)


def test_breath_inflates_a_tube_at_large_strain(compare):
    inner = 1.4
    pressure = walls.tube_pressure(inner, INNER, OUTER, 1.0)
    state = None
    for part in np.linspace(0.0, 1.0, 9)[1:]:
        model = tube(8, 1, part * pressure, 0.5, 1.0)
        state = bodies.settle(model, state or bodies.at_rest(model, bodies.FAR)).state
    compare("breath in a tube to 1.4 of its radius", INNER + mean_widening(model, state), inner, 0.02)


def shaken(mesh, size=0.05, seed=7):
    return size * np.random.default_rng(seed).uniform(-1.0, 1.0, mesh.nodes.shape)


def test_the_walls_resultant_is_that_of_the_falling_pressure():
    """At rest: 2 pi a int P z / h dz outwards, a third of the way up; nothing along the axis."""
    mesh = bodies.grid([INNER, 1.3, OUTER], [-LENGTH, -0.7, -0.2, 0.0])
    push = in_opening(mesh, 0.4).nodal_forces(np.zeros(mesh.nodes.shape))
    whole = np.pi * INNER * LENGTH * 0.4
    assert push[:, 0].sum() == pytest.approx(whole, rel=1e-13)
    assert np.abs(push[:, 1]).max() < 1e-15
    assert (push[:, 0] @ mesh.nodes[:, 1]) / whole == pytest.approx(-2.0 / 3.0 * LENGTH, rel=1e-13)


def test_the_air_does_the_virtual_work_of_its_pressure():
    """On a bent wall, for any small motion: the sum of p n . du over finely cut cones, nothing shared with the load."""
    mesh = bodies.grid([INNER, 1.3, OUTER], [-LENGTH, -0.35, 0.0])
    u, motion = shaken(mesh), shaken(mesh, 1.0, 8)
    done = float(np.sum(in_opening(mesh, 0.4).nodal_forces(u) * motion))
    summed = 0.0
    for first in (0, 2):
        at, t = mesh.inner_edge[first : first + 3], np.linspace(-1.0, 1.0, 4001)
        shape = np.column_stack([0.5 * t * (t - 1.0), 1.0 - t * t, 0.5 * t * (t + 1.0)])
        place, rest, move = (shape @ values[at] for values in (mesh.nodes + u, mesh.nodes, motion))
        r, pressure, shift = (0.5 * (x[1:] + x[:-1]) for x in (place[:, 0], -0.4 * rest[:, 1] / LENGTH, move))
        dr, dz = np.diff(place, axis=0).T
        summed += np.sum(2.0 * np.pi * r * pressure * (dz * shift[:, 0] - dr * shift[:, 1]))
    assert done == pytest.approx(summed, rel=1e-6)


def test_the_tangent_of_wall_and_back_is_the_slope_of_their_forces():
    """The element in the corner between them has two edges in the air."""
    mesh = bodies.grid([INNER, 1.3, OUTER], [-LENGTH, -0.35, 0.0])
    air = AirPressure.behind(mesh, OUTER, 0.4).and_on(in_opening(mesh, 0.4))
    elements = Elements(mesh, bodies.tissue(len(mesh.quads)))
    u, p = shaken(mesh), np.zeros((len(mesh.quads), 3))
    forces, matrices = elements.linearised(u, p)
    tissue = elements.tissue
    system = condense(matrices, forces, regularised_bulk(elements.mass, tissue.inverse_bulk, tissue.shear))
    system = replace(system, force=0.0 * system.force, stiffness=0.0 * system.stiffness)  # no rounding but the air's
    way = shaken(mesh, 1.0, 9)
    ends = [air.added(u + sign * 1e-6 * way, system).force for sign in (1.0, -1.0)]
    along = way[mesh.quads[:, :8]].reshape(-1, 16)
    tangent = air.added(u, system).stiffness
    np.testing.assert_allclose(np.einsum("eij,ej->ei", tangent, along), (ends[0] - ends[1]) / 2e-6, atol=1e-8)


def on_teeth(air_pressure, force):
    """A block between a flat rim and flat, smooth teeth, pressed with ``force``, air under the whole of it."""
    mesh = bodies.grid(np.linspace(0.0, 2.0, 5), [-1.0, -0.5, 0.0])
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.inner_edge, 0] = True
    teeth = Pair("teeth", bodies.line((9.0, -1.0), (-1.0, -1.0)), mesh.back, False)
    air = AirPressure.behind(mesh, 2.0, air_pressure)
    model = bodies.body(
        mesh, bodies.tissue(len(mesh.quads), 1.0, 0.5), fixed, bodies.line((-1.0, 0.0), (9.0, 0.0)), 0.0, (teeth,), air
    )
    rest = bodies.at_rest(model)
    down = replace(rest.pairs[1], active=np.ones(len(mesh.back), bool))
    rest = replace(rest, pairs=(rest.pairs[0], down))
    first = bodies.settle(model, rest, travel=0.02)
    return model, bodies.settle(model, first.state, force=force).state


def test_air_under_what_the_teeth_press_changes_only_who_presses():
    """The block's stress stays; the teeth carry the force less what the air carries."""
    dry, wet = (on_teeth(pressure, 3.0) for pressure in (0.0, 0.05))
    np.testing.assert_allclose(wet[1].u, dry[1].u, atol=1e-9)
    radius = 2.0 + dry[1].u[dry[0].elements.grid.back[-1], 0]
    for (model, state), carried in ((dry, 0.0), (wet, 0.05 * np.pi * radius**2)):
        assert traction(model, state, 1).reaction.sum() == pytest.approx(3.0 - carried, rel=1e-8)


def test_air_lifts_a_plate_off_its_support(compare):
    """Clamped at its rim, lying on the teeth: once there is air below, it rises as if nothing had been there."""
    thickness = 0.1
    pressure = 1e-4 * thickness / float(plates.thin_plate_deflection(0.0, 1.0, thickness, 1.0, 2.6, 0.3))
    mesh = bodies.grid(np.linspace(0.0, 1.0, 41), np.linspace(-thickness, 0.0, 7))
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.inner_edge, 0] = True
    fixed[-mesh.nodes_per_column :] = True
    teeth = Pair("teeth", bodies.line((9.0, -thickness), (-1.0, -thickness)), mesh.back[:-1], False)
    air = AirPressure.behind(mesh, 1.0, pressure)
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.3), fixed, None, 0.0, (teeth,), air)
    rest = bodies.at_rest(model, bodies.FAR)
    lying = replace(rest.pairs[1], active=np.ones(len(mesh.back) - 1, bool))
    state = bodies.settle(model, replace(rest, pairs=(rest.pairs[0], lying)), residual=1e-8).state
    assert not state.pairs[1].active.any()
    exact = float(plates.thick_plate_deflection(0.0, 1.0, thickness, pressure, 2.6, 0.3))
    rise = state.u[mesh.inner_edge[len(mesh.inner_edge) // 2], 1]
    compare("clamped plate blown off its support: rise mm", rise, exact, 1.0)


def faces(backing, opening, fold=18.0):
    mesh = bodies.grid([opening, 6.0, *np.arange(7.0, 31.0)], [-9.0, 0.0])
    lip = Lip((Layer("one", 9.0, 1.0, (0.0, 0.0), 0.5, False),), 30.0, opening, backing, 6.0, fold_radius=fold)
    return breath_on(lip, mesh, 0.004)


def test_breath_reaches_the_gap_the_flange_to_the_fold_and_the_wall():
    """Upward force at rest: P times the area within the fold, with half of what lies in its fade, nearly."""
    bonded = faces("bonded", 0.0)
    still = np.zeros(bonded.grid.nodes.shape)
    assert bonded.nodal_forces(still)[:, 1].sum() == pytest.approx(0.004 * np.pi * 6.0**2, rel=1e-12)
    # int 2 r s(r) dr over the fade, s = 3 t^2 - 2 t^3, t = (fold + fade - r) / fade: fold fade + 3/10 fade^2
    for fold in (18.0, 22.0):
        area = np.pi * (fold**2 + fold * FADE_MM + 0.3 * FADE_MM**2)
        upward = faces("sliding", 0.0, fold).nodal_forces(still)[:, 1].sum()
        assert upward == pytest.approx(0.004 * area, rel=1e-12)
    open_lip = faces("bonded", 1.5).nodal_forces(still)
    assert open_lip[:, 0].sum() == pytest.approx(0.004 * np.pi * 1.5 * 9.0, rel=1e-12)
