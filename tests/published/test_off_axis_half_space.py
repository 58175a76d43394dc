"""Tilt and waves on a half-space: the harmonics against closed forms and an integral equation, with observed rates.

- A tilted flat punch: M = 8 G a^3 phi / (3 (1 - nu)) (Borowicka 1943; Johnson, Contact Mechanics, 1985, chapter 5; from
  memory). Punches of n waves: a surface moved by d (r / a)^n cos(n t) needs the pressure
  c_n E* d (r / a)^n / sqrt(a^2 - r^2) cos(n t), c_n = gamma(n + 1) / (sqrt(pi) gamma(n + 1/2)), after Copson 1947 (from
  memory); n = 0 and 1 are the flat punch's. Its integral over the disc is checked here by quadrature.
- A bonded disc on an incompressible half-space: tangential stiffness 16 G a / 3 (Mindlin 1949: 8 G a / (2 - nu), from
  memory), rocking as without friction.
- A ring that touches an annulus, tilted: the integral equation of ``simulate/closed_forms/rings.py`` with cos(theta).
- A sphere: a tilt about its centre costs nothing and about its lowest point is a shift; on a wide even lip a
  frictionless shift costs nothing either, and moves the whole field along.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import gamma, pi, sqrt

import numpy as np
import pytest
from scipy.integrate import quad

from labrum.simulate.closed_forms import half_space as hs
from labrum.simulate.closed_forms import rings
from labrum.simulate.closed_forms.layer import bonded
from labrum.simulate.off_axis.harmonic import Base, Cause
from labrum.simulate.off_axis.motions import Descent, Shift, Tilt
from labrum.simulate.off_axis.readings import contact_of, pressure_wave, work_of
from tests import bodies

RADIUS, LEVELS = 1.0, 3


@dataclass(frozen=True)
class Punch:
    """A face that goes down by (r / a)^n cos(n t) under the punch."""

    order: int

    def at(self, places):
        none = np.zeros(len(places))
        return np.column_stack([none, none, -((places[:, 0] / RADIUS) ** self.order)])

    def turned(self, places, forces):
        return np.zeros((len(places), 3))  # it touches without load


def flat_touch(mesh, poisson, stuck=False, inner=0.0):
    """A body at rest that a flat punch just touches out to ``RADIUS``."""
    tissue = bodies.tissue(len(mesh.quads), 1.0, poisson)
    curve = bodies.line((0.0, 0.0), (1e3, 0.0))
    model = bodies.body(mesh, tissue, bodies.disc_fixed(mesh), curve, 1.0 if stuck else 0.0)
    rest = bodies.at_rest(model)
    r = mesh.nodes[mesh.surface, 0]
    on = (r <= RADIUS + 1e-9) & (r >= inner - 1e-9)
    status = replace(rest.pairs[0], active=on, stuck=on & stuck, direction=np.zeros(len(r)))
    return Base(model, replace(rest, pairs=(status,)))


def edged(inner=0.0, first=0.04, ratio=1.6, reach=400.0):
    """A half-space's grid with short elements at the punch's edge, and at the inner one of an annulus."""
    def between(start, stop):
        half = 0.5 * (stop - start)
        steps = bodies.growing(first, ratio, half)
        return np.concatenate([start + steps, (stop - steps[::-1])[1:]])

    out = RADIUS + bodies.growing(first, ratio, reach)
    if inner > 0.0:
        inside = inner - bodies.growing(first, ratio, inner)[::-1]
        return bodies.grid(
            np.concatenate([inside, between(inner, RADIUS)[1:], out[1:]]), -bodies.growing(first, ratio, reach)[::-1]
        )
    inside = RADIUS - bodies.growing(first, ratio, RADIUS)[::-1]
    return bodies.grid(np.concatenate([inside, out[1:]]), -bodies.growing(first, ratio, reach)[::-1])


def stiffnesses(mesh, motion, *how, **more):
    """Work of the answer's forces on the motion itself, on grids halved time and again."""
    out = []
    for _ in range(LEVELS):
        base = flat_touch(mesh, *how, **more)
        (found,) = base.harmonic(motion.order).answers([Cause(motion)])
        touch = base.touches[0]
        share = 0.5 if motion.order else 1.0
        out.append(share * np.einsum("ki,ki->", found.forces[touch.at], motion.at(touch.places)))
        mesh = bodies.refined(mesh)
    return np.array(out)


def limit(values):
    """What values tend to whose error halves with the elements (an edge's singularity); and the rate it is seen at."""
    return 2.0 * values[-1] - values[-2], float(np.log2((values[-2] - values[-3]) / (values[-1] - values[-2])))


@pytest.mark.parametrize("poisson", [0.3, 0.5])
def test_tilted_flat_punch(compare, poisson):
    found, order = limit(stiffnesses(edged(), Tilt(0.0), poisson))
    exact = 8.0 * RADIUS**3 / (3.0 * (1.0 - poisson))
    compare(f"tilted flat punch, nu {poisson:g}: moment", found, exact, 0.2, f"rate {order:.2f}, extrapolated by 1")
    assert order > 0.9


def punch_work(order, modulus):
    """Work of the exact pressure on its own displacement, amplitude one."""
    c = gamma(order + 1.0) / (sqrt(pi) * gamma(order + 0.5))
    radial = quad(lambda a: np.sin(a) ** (2 * order + 1), 0.0, 0.5 * pi)[0]
    return (pi if order else 2.0 * pi) * c * modulus * RADIUS * radial


def test_the_waved_punchs_pressure_makes_its_wave():
    """The Boussinesq integral of the pressure, at three places, by quadrature: (1 / pi E*) int p / distance."""
    for order in (0, 1, 2, 3):
        c = gamma(order + 1.0) / (sqrt(pi) * gamma(order + 0.5))
        for r in (0.3, 0.55, 0.8):

            def along(angle, r=r, order=order):
                """Rays from the place itself, so that the distance cancels; both ends of each at the edge."""
                lead = r * np.cos(angle)
                half = sqrt(1.0 - (r * np.sin(angle)) ** 2)
                nodes = np.cos((np.arange(400) + 0.5) * pi / 400)  # Gauss-Chebyshev: the edge's root is in its weight
                place = r + (half * nodes - lead) * np.exp(1j * angle)
                return np.sum((place**order).real) * pi / 400

            rays = 200
            total = sum(along(pi * (k + 0.5) / rays) for k in range(rays)) * pi / rays
            assert c * total / pi == pytest.approx(r**order, rel=1e-9)


@pytest.mark.parametrize("order", [2, 3])
def test_punches_of_several_waves(compare, order):
    poisson = 0.5
    modulus = hs.plane_strain_modulus(3.0, poisson)
    found, rate = limit(stiffnesses(edged(), Punch(order), poisson))
    compare(f"punch of {order} waves: work", found, punch_work(order, modulus), 0.3, f"rate {rate:.2f}")
    assert rate > 0.9


@pytest.mark.parametrize(("motion", "exact"), [(Shift(), 16.0 / 3.0), (Tilt(0.0), 16.0 / 3.0)], ids=["shift", "tilt"])
def test_bonded_disc(compare, motion, exact):
    found, order = limit(stiffnesses(edged(), motion, 0.5, stuck=True))
    compare(f"bonded disc, nu 0.5: {type(motion).__name__.lower()}", found, exact, 0.3, f"rate {order:.2f}")


def test_tilted_annulus(compare):
    inner, poisson = 0.6, 0.5
    modulus = hs.plane_strain_modulus(3.0, poisson)
    found, order = limit(stiffnesses(edged(inner), Tilt(0.0), poisson, inner=inner))
    exact = rings.tilted_ring(inner, RADIUS, modulus).moment
    compare("tilted annulus, nu 0.5: moment", found, exact, 0.3, f"rate {order:.2f}; integral equation")
    assert order > 0.9


PLACE, TUBE, HALF, DEEP, BLOCK = 40.0, 400.0, 0.4, 150.0, 800.0


def test_tilted_torus(compare, rate):
    """Rocking stiffness and the change of the middle's pressure, grid lines at both ends of contact on every grid."""
    poisson, modulus = 0.5, 4.0
    backing = rings.Base(DEEP, bonded(poisson))
    pressed = rings.pressed_ring(rings.round_profile(PLACE, TUBE), PLACE, HALF, modulus, backing)
    exact = rings.tilted_ring(pressed.inner, pressed.outer, modulus, backing)
    cell = HALF / 3.0
    near = np.concatenate([
        np.linspace(pressed.inner - 2 * cell, pressed.inner, 3)[:-1], np.linspace(pressed.inner, pressed.outer, 7),
        np.linspace(pressed.outer, pressed.outer + 2 * cell, 3)[1:],
    ])  # fmt: skip
    inside = near[0] - bodies.growing(2.0 * cell, 2.4, near[0])[::-1]
    outside = near[-1] + bodies.growing(2.0 * cell, 2.4, BLOCK - near[-1])
    mesh = bodies.grid(np.concatenate([[0.0], inside[1:-1], near, outside[1:]]), -bodies.growing(cell, 2.4, DEEP)[::-1])
    moments, changes = [], []
    for _ in range(LEVELS):
        model = bodies.body(
            mesh, bodies.tissue(len(mesh.quads), 1.0, poisson), bodies.disc_fixed(mesh), bodies.torus(PLACE, TUBE)
        )
        state = bodies.settle(model, bodies.at_rest(model), travel=pressed.sink, residual=1e-6).state
        base, tilt = Base(model, state), Tilt(-state.travel)
        (found,) = base.harmonic(1).answers([Cause(tilt)])
        moments.append(work_of(base, found, tilt, tilt, tilt.height))
        wave = pressure_wave(base, contact_of(base), found, Cause(tilt), 1)
        middle = (wave.radius > PLACE - 0.6 * HALF) & (wave.radius < PLACE + 0.6 * HALF)
        wanted = exact.at(wave.radius[middle], pressed.inner, pressed.outer)
        changes.append(np.sqrt(np.mean((wave.change[middle] / wanted - 1.0) ** 2)))
        mesh = bodies.refined(mesh)
    order = rate(np.diff(moments))
    compare("tilted torus: rocking stiffness N mm", moments[-1], exact.moment, 0.5, f"rate {order:.1f}")
    compare("tilted torus: 1 + miss of the pressure's change", 1.0 + changes[-1], 1.0, 2.0, f"rate {rate(changes):.1f}")
    assert order > 0.9


def pressed_sphere(mesh, radius, travel):
    model = bodies.body(
        mesh, bodies.tissue(len(mesh.quads), 1.0, 0.5, second=0.2), bodies.disc_fixed(mesh), bodies.sphere(radius, 1.2)
    )
    state = bodies.at_rest(model)
    for share in np.linspace(0.0, 1.0, 6)[1:]:
        state = bodies.settle(model, state, travel=share * travel).state
    return Base(model, state)


def test_a_sphere_turns_freely_and_its_shift_moves_the_field_along(compare, rate):
    """At large strain: a sink of 0.45 of the radius into a layer of twice the radius, bonded, far from its edge.

    A column line stands where contact ends: elsewhere the end is known to half an element, and the stiffness against a
    shift, which is zero, is off by as much.
    """
    radius, travel, end = 2.0, 0.9, 1.382
    outside = end + np.array([0.25, 0.5, 0.9, 1.5, 2.4, 3.6, 5.4, 8.0, 12.0, 16.0, 22.0])
    mesh = bodies.grid(np.concatenate([np.linspace(0.0, end, 6), outside]), [-4.0, -3.0, -2.0, -1.2, -0.6, -0.3, 0.0])
    misses, costs = [], []
    for _ in range(LEVELS):
        base = pressed_sphere(mesh, radius, travel)
        centre, lowest, shift = Tilt(radius - travel), Tilt(-travel), Shift()
        about, tip, along = base.harmonic(1).answers([Cause(centre), Cause(lowest), Cause(shift)])
        assert np.abs(about.u).max() < 1e-9
        assert abs(work_of(base, about, centre, centre, centre.height)) < 1e-9
        assert np.abs(tip.u - radius * along.u).max() < 1e-9
        misses.append(missed_field(base, along))
        costs.append(abs(work_of(base, along, shift, shift, 0.0)) / stiffness_of_descent(base))
        mesh = bodies.refined(mesh)
    note = f"rate {rate(misses):.1f}; its stiffness over that of descent {costs[-1]:.1e}, rate {rate(costs):.1f}"
    compare("sphere shifted at large strain: 1 + miss of the field", 1.0 + misses[-1], 1.0, 1.0, note)
    assert misses[0] > misses[1] > misses[2]
    assert 0.5 * np.log2(costs[0] / costs[2]) > 1.8
    assert costs[-1] < 1e-3


def missed_field(base, response):
    """How far, in the mean square over the elements' centres, the answer is from e_x - F e_x: the field shifted."""
    grid = base.model.elements.grid
    f = base.model.elements.gradients(base.state.u)[:, 4]
    wanted = np.column_stack([1.0 - f[:, 0], f[:, 4] - 1.0, -f[:, 2]])
    miss = response.u[grid.quads[:, 8]] - wanted
    size = grid.sizes.prod(axis=1) * grid.origins[:, 0]
    return np.sqrt(size @ (miss**2).sum(axis=1) / (size @ (wanted**2).sum(axis=1)))


def stiffness_of_descent(base):
    """N/mm, of the axisymmetric tangent."""
    (down,) = base.harmonic(0).answers([Cause(Descent())])
    return -float(down.forces[base.touches[0].at, 2].sum())
