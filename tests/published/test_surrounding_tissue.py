"""Tissue that goes on beyond the lip's edge, against the endless plate with a hole.

Lame's thick cylinder with the outer radius to infinity: u_r = q a^2 / (2 G r), no matter what Poisson's ratio, and
no thickness change (Timoshenko & Goodier, Theory of Elasticity; from memory). A ring cut out of that plate and given
the traction of what was cut away moves as the plate does, wherever the cut is made. Layers of different G that go on
each by itself move alike, so their stack is exact too: the pressure is the mean of theirs.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.simulate.contact.surroundings import edge_springs, held_edge, outer_face
from labrum.simulate.problem import Layer, Lip
from tests import bodies

HOLE, MOVED, HEIGHTS = 1.0, 1e-8, (0.5, 0.25)


def lip(shears, poisson, radius, edge="continuing"):
    layers = tuple(
        Layer(f"layer {k}", h, g, (0.3 * g, 0.0), poisson, False)
        for k, (h, g) in enumerate(zip(HEIGHTS, shears, strict=True))
    )
    return Lip(layers, radius, HOLE, "sliding", 0.0, edge)


def widened(count, shears, poisson, radius, edge="continuing"):
    """A ring in two layers whose hole is widened by ``MOVED``: pressure there, MPa, and the displacements, mm."""
    own = lip(shears, poisson, radius, edge)
    rows = [-0.75, -0.625, -0.5, -0.25, 0.0]
    mesh = bodies.grid(np.geomspace(HOLE, radius, count + 1), rows, [1, 1, 0, 0])
    tissue = bodies.tissue(len(mesh.quads), 1.0, poisson)
    stiffer = np.array(shears)[mesh.layer][:, None]
    tissue = replace(tissue, shear=stiffer * tissue.shear, inverse_bulk=tissue.inverse_bulk / stiffer)
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.inner_edge, 0] = True
    fixed[mesh.back[0], 1] = True
    model = replace(bodies.body(mesh, tissue, fixed | held_edge(own, mesh)), springs=edge_springs(own, mesh))
    moved = np.zeros(mesh.nodes.shape)
    moved[:, 0] = MOVED * HOLE / mesh.nodes[:, 0]
    moved[held_edge(own, mesh)] = 0.0
    state = bodies.held(model, moved, steps=1).state
    push = bodies.reactions(model, state)[mesh.inner_edge, 0].sum()
    return push / (2.0 * np.pi * HOLE * sum(HEIGHTS)), mesh, state


@pytest.mark.parametrize("poisson", [0.3, 0.5])
@pytest.mark.parametrize("radius", [1.5, 4.0])
def test_a_ring_that_goes_on_moves_as_the_endless_plate(compare, rate, radius, poisson):
    misses = []
    for count in (2, 4, 8):
        push, mesh, state = widened(count, (1.0, 1.0), poisson, radius)
        misses.append(np.abs(state.u[:, 0] / MOVED * mesh.nodes[:, 0] / HOLE - 1.0).max())
    assert rate(misses) > 2.7
    name = f"plate with a hole, cut at {radius:g} hole radii, nu {poisson:g}"
    compare(f"{name}: pressure over 2 G u / a", push / (2.0 * MOVED / HOLE), 1.0, 0.02)
    compare(f"{name}: displacement at the cut", state.u[outer_face(mesh), 0].mean() * radius / MOVED, 1.0, 0.02)
    assert np.abs(state.u[:, 1]).max() < 1e-3 * MOVED


def test_layers_go_on_each_with_its_own_stiffness(compare):
    push, _, _ = widened(12, (3.0, 0.5), 0.5, 2.0)
    mean = (3.0 * 0.5 + 0.5 * 0.25) / 0.75
    compare("two layers around a hole: pressure over the mean of 2 G u / a", push / (2.0 * MOVED * mean), 1.0, 0.02)


def test_a_free_edge_is_lames_ring_and_a_held_one_the_stiffest(compare):
    """Plane stress, E = 2 (1 + nu) G: q = u E / a / ((b^2 + a^2) / (b^2 - a^2) + nu), the same textbook's."""
    poisson, outer = 0.3, 2.0
    found = {edge: widened(12, (1.0, 1.0), poisson, outer, edge)[0] for edge in ("free", "continuing", "held")}
    young = 2.0 * (1.0 + poisson)
    lame = MOVED * young / HOLE / ((outer**2 + 1.0) / (outer**2 - 1.0) + poisson)
    compare("Lame's free ring: pressure MPa", found["free"], lame, 0.02)
    assert found["free"] < found["continuing"] < found["held"]
