"""Volumes cut from the section against solids known by heart; fields carried between grids; pressure from reactions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.meshes.curves.polygons import half_plane
from labrum.simulate.contact.signorini import PairState
from labrum.simulate.equilibrium.traction import peak, surface_mass, traction
from labrum.simulate.load_path.transfer import displacement_at, transferred
from labrum.simulate.readings.sections import past_plane, volume_of_revolution
from tests import bodies


def ring_of(r, z):
    return np.column_stack([r, z])


def test_volumes_of_known_solids():
    cone = ring_of([0.0, 3.0, 0.0], [0.0, 0.0, 4.0])
    assert volume_of_revolution(cone) == pytest.approx(np.pi * 9.0 * 4.0 / 3.0, rel=1e-14)
    tube = ring_of([2.0, 3.0, 3.0, 2.0], [-1.0, -1.0, 1.5, 1.5])
    assert volume_of_revolution(tube) == pytest.approx(np.pi * 5.0 * 2.5, rel=1e-14)
    assert volume_of_revolution(tube[::-1]) == pytest.approx(-np.pi * 5.0 * 2.5, rel=1e-14)


def half_circle(count, radius=2.0):
    angle = np.linspace(-np.pi / 2, np.pi / 2, count + 1)
    return ring_of(radius * np.cos(angle), radius * np.sin(angle))


def test_sphere_and_its_cap_and_their_second_order():
    """Cap of height h: pi h^2 (R - h / 3). A polygon of arcs' chords misses at second order."""
    height = 0.7
    cap = np.pi * height**2 * (2.0 - height / 3.0)
    misses = []
    for count in (100, 200, 400):
        ball = half_circle(count)
        assert volume_of_revolution(ball) == pytest.approx(4.0 / 3.0 * np.pi * 8.0, rel=40.0 / count**2)
        misses.append(past_plane(ball, 5.0, 2.0 - height) / cap - 1.0)
    assert abs(misses[-1]) < 1e-4
    assert misses[0] / misses[1] == pytest.approx(4.0, rel=0.2)
    assert misses[1] / misses[2] == pytest.approx(4.0, rel=0.2)


def test_cone_cut_by_plane_and_cylinder():
    """Inside r = 1 above z = 1 of a cone of base 3 and height 4: a cylinder to z = 8/3 and the tip above it."""
    cone = ring_of([0.0, 3.0, 0.0], [0.0, 0.0, 4.0])
    expected = np.pi * (8.0 / 3.0 - 1.0) + np.pi * (4.0 - 8.0 / 3.0) / 3.0
    assert past_plane(cone, 1.0, 1.0) == pytest.approx(expected, rel=1e-13)
    assert past_plane(cone, 1.0, 4.5) == 0.0


def test_a_part_in_two_pieces_counts_both():
    """Two teeth above the line z = 1: the edges that join them enclose nothing."""
    comb = ring_of([0.0, 4.0, 4.0, 3.0, 3.0, 1.0, 1.0, 0.0], [0.0, 0.0, 2.0, 2.0, 0.5, 0.5, 2.0, 2.0])
    kept = half_plane(comb, 1, 1.0, above=True)
    assert volume_of_revolution(kept) == pytest.approx(np.pi * (16.0 - 9.0 + 1.0), rel=1e-13)


def quadratic(points):
    """A displacement every nine-node grid holds exactly."""
    r, z = points.T
    return np.column_stack([0.02 * r * (1.0 - 0.3 * z), 0.1 - 0.02 * r**2 + 0.03 * z**2 + 0.01 * r**2 * z**2])


def test_transfer_is_exact_on_quadratics():
    old = bodies.grid([0.0, 0.4, 1.1, 2.0], [-1.5, -0.9, 0.0])
    new = bodies.grid(np.linspace(0.0, 2.0, 8), np.linspace(-1.5, 0.0, 6))
    models = [bodies.body(g, bodies.tissue(len(g.quads)), bodies.nothing_fixed(g)) for g in (old, new)]
    r, z = old.origins.T
    # Pressure linear over the whole body: 0.3 + 0.2 r - 0.1 z.
    p = np.column_stack([0.3 + 0.2 * r - 0.1 * z, 0.1 * old.sizes[:, 0], -0.05 * old.sizes[:, 1]])
    state = replace(bodies.at_rest(models[0], 0.3), u=quadratic(old.nodes), p=p)
    found = transferred(models[0], state, models[1])
    np.testing.assert_allclose(found.u, quadratic(new.nodes), atol=1e-14)
    r, z = new.origins.T
    expected = np.column_stack([0.3 + 0.2 * r - 0.1 * z, 0.1 * new.sizes[:, 0], -0.05 * new.sizes[:, 1]])
    np.testing.assert_allclose(found.p, expected, atol=1e-14)
    assert found.travel == 0.3
    points = np.random.default_rng(8).uniform([0.0, -1.5], [2.0, 0.0], (50, 2))
    np.testing.assert_allclose(displacement_at(old, state.u, points), quadratic(points), atol=1e-14)


def test_transfer_keeps_the_held_and_carries_the_contact():
    old = bodies.grid(np.linspace(0.0, 2.0, 5), [-1.0, 0.0])
    new = bodies.grid(np.linspace(0.0, 2.0, 17), [-1.0, 0.0])
    fixed = bodies.disc_fixed(new)
    models = [
        bodies.body(g, bodies.tissue(len(g.quads)), f, friction=0.3)
        for g, f in ((old, bodies.disc_fixed(old)), (new, fixed))
    ]
    where = old.node_columns
    status = replace(
        PairState.untouched(5.0 + where), active=(where > 0.4) & (where < 1.6), stuck=(where > 0.4) & (where < 1.1),
        direction=np.where(where < 1.0, -1.0, 1.0),
    )  # fmt: skip
    state = replace(bodies.at_rest(models[0]), u=quadratic(old.nodes), pairs=(status,))
    found = transferred(models[0], state, models[1])
    assert not found.u[fixed].any()
    carried, places = found.pairs[0], new.node_columns
    np.testing.assert_allclose(carried.anchor, 5.0 + places, atol=1e-14)
    assert carried.active[(places > 0.51) & (places < 1.49)].all()
    assert not carried.active[(places < 0.24) | (places > 1.76)].any()
    assert not (carried.stuck & ~carried.active).any()


def known_pressure(r):
    return np.exp(np.sin(2.0 * r))


def nodal_loads(place):
    """Exact nodal forces (k,) of `known_pressure` on the quadratic surface through ``place`` (k, 2)."""
    x, weight = np.polynomial.legendre.leggauss(10)
    shape = np.column_stack([0.5 * x * (x - 1), 1 - x**2, 0.5 * x * (x + 1)])
    slope = np.column_stack([x - 0.5, -2 * x, x + 0.5])
    out = np.zeros(len(place))
    for first in range(0, len(place) - 2, 2):
        own = place[first : first + 3]
        r = shape @ own[:, 0]
        ring = 2.0 * np.pi * r * np.hypot(*(slope @ own).T) * weight
        out[first : first + 3] += shape.T @ (ring * known_pressure(r))
    return out


def test_pressure_recovered_from_reactions_is_third_order():
    """With the consistent mass matrix; reaction over area is of second order only."""
    misses, raw = [], []
    for count in (16, 32, 64):
        r = np.linspace(1.0, 3.0, 2 * count + 1)
        place = np.column_stack([r, 0.2 * np.sin(r)])
        mass, loads = surface_mass(place), nodal_loads(place)
        misses.append(np.abs(np.linalg.solve(mass, loads) - known_pressure(r)).max())
        area = mass.sum(axis=1)
        raw.append(np.abs(loads / area - known_pressure(r))[1:-1].max())
    assert np.all(np.log2(np.divide(misses[:-1], misses[1:])) > 2.7)
    assert np.all(np.abs(np.log2(np.divide(raw[:-1], raw[1:])) - 2.0) < 0.35)


def test_surface_mass_adds_up_to_the_cone_s_area():
    """A straight slant from (1, 0) to (3, 1): pi (r1 + r2) times its length."""
    r = np.linspace(1.0, 3.0, 9)
    mass = surface_mass(np.column_stack([r, 0.5 * (r - 1.0)]))
    assert mass.sum() == pytest.approx(np.pi * 4.0 * np.sqrt(5.0), rel=1e-13)


def test_peak_of_a_parabola_lies_between_nodes():
    places = np.linspace(0.0, 3.0, 7)
    top, at = peak(5.0 - (places - 1.3) ** 2, np.ones(7, bool))
    assert top == pytest.approx(5.0, rel=1e-13)
    assert at * 0.5 == pytest.approx(1.3, rel=1e-13)


def test_traction_balances_the_rim():
    """Reactions and pressure of a real contact carry the same axial force, and nothing else touches."""
    mesh = bodies.grid(np.linspace(0.0, 3.0, 31), np.linspace(-1.5, 0.0, 9))
    tissue = bodies.tissue(len(mesh.quads), 1.0, 0.49, 0.3)
    model = bodies.body(mesh, tissue, bodies.disc_fixed(mesh), bodies.torus(1.5, 0.5))
    found = bodies.settle(model, bodies.at_rest(model), travel=0.15)
    contact = traction(model, found.state)
    axial = -contact.normal[:, 1]
    assert np.sum(contact.reaction * axial) == pytest.approx(found.force, rel=1e-9)  # as converged
    resultant = surface_mass(contact.place) @ contact.pressure
    on = contact.active
    np.testing.assert_allclose(resultant[on], contact.reaction[on], atol=1e-12)
    assert np.all(contact.reaction[on] > 0.0)
    assert np.all(contact.gap[~on] > 0.0)
    assert np.abs(contact.drag).max() < 1e-9 * contact.reaction.max()
