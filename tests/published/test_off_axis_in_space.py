"""A rim tilted by a finite angle, in three dimensions by a general-purpose library, against the harmonic's rates.

The library is scikit-fem (``space_reference.py``): hexahedra, displacement only, contact by penalty, nothing shared. A
torus of 9 mm and 2.5 mm goes 1 mm into 5 mm of tissue (a ring from 4 to 14 mm, bonded, nu = 0.4, without friction) and
is tilted by half a degree and one. What is odd in the tilt is compared: half the difference of both sides' peaks, and
the moment. A peak is read, in both alike, off a parabola through the pressure's square over the middle of the contact.

The library's meshes converge fast in the moment, slowly in the pressure's change. With 6 x 4, 6 x 6 and 8 x 8 elements
across the rim and around half the circle (the last twelve minutes long, and not part of the test) the moment at one
degree is 5.72, 5.70 and 5.73 N mm per degree; the peak's change is 5.62 and 5.64 kPa per degree on the two finer ones
(on the last read off a cubic through the pressure), and a third off on the coarsest. The longest run went to 4 degrees:
5.75, 5.73, 5.72, 5.73, 5.72 N mm per degree at 0.5, 1, 2, 3, 4, where the straight line says 5.73.
"""

from __future__ import annotations

import numpy as np
import pytest

from labrum.simulate.off_axis.harmonic import Base, Cause
from labrum.simulate.off_axis.motions import Tilt
from labrum.simulate.off_axis.readings import contact_of, pressure_wave, work_of
from tests import bodies
from tests.published import space_reference

PLACE, TUBE, TRAVEL, SHEAR, POISSON = 9.0, 2.5, 1.0, 0.03, 0.4
BULK = 2.0 * SHEAR * (1.0 + POISSON) / (3.0 * (1.0 - 2.0 * POISSON))
HEIGHTS, PENALTY, MIDDLE = [-5.0, -3.2, -1.7, -0.7, 0.0], 10.0, 1.1
DEGREE = np.pi / 180.0


def radii(across):
    return np.concatenate([[4.0, 5.2, 6.3], np.linspace(7.1, 10.9, across + 1), [11.7, 12.8, 14.0]])


def top_of(places, pressure):
    """Peak by a parabola through the squares, within ``MIDDLE`` mm of the rim's lowest circle."""
    near = np.abs(places) < MIDDLE
    c, b, a = np.polynomial.polynomial.polyfit(places[near], pressure[near] ** 2, 2)
    return np.sqrt(c - 0.25 * b * b / a)


def in_space( across, around, tilts):
    """Force N, peak MPa and, for each tilt, rocking stiffness N mm and d(peak), MPa, both per degree."""
    ring = space_reference.Ring(radii(across), np.linspace(0.0, np.pi, around + 1), HEIGHTS, SHEAR, BULK, PENALTY)
    rim = space_reference.Torus(PLACE, TUBE, 0.3 * TRAVEL, 0.0)
    u = ring.settled(np.zeros(ring.rest.shape), rim)
    force, peak, rates = 0.0, 0.0, []
    for travel, tilt in [(0.6 * TRAVEL, 0.0), (TRAVEL, 0.0), *((TRAVEL, k) for k in tilts)]:
        further = space_reference.Torus(PLACE, TUBE, travel, tilt * DEGREE)
        u, rim = ring.settled(ring.led(u, rim, further), further), further
        load, moment = ring.load(u, rim)
        low, high = (top_of(*ring.pressure_along(u, rim, angle).T) for angle in (0.0, np.pi))
        if tilt == 0.0:
            force, peak = load, low
        else:
            rates.append((moment / tilt, 0.5 * (low - high) / tilt))
    return force, peak, rates


def by_waves():
    """The same from the harmonic, on a grid of its own."""
    mesh = bodies.refined(bodies.refined(bodies.grid(radii(6), HEIGHTS)))
    model = bodies.body(
        mesh, bodies.tissue(len(mesh.quads), SHEAR, POISSON), bodies.disc_fixed(mesh), bodies.torus(PLACE, TUBE)
    )
    state = bodies.at_rest(model)
    for share in (0.3, 0.6, 1.0):
        state = bodies.settle(model, state, travel=share * TRAVEL).state
    base, tilt = Base(model, state), Tilt(-TRAVEL)
    cause = Cause(tilt)
    (found,) = base.harmonic(1).answers([cause])
    wave = pressure_wave(base, contact_of(base), found, cause, 1)
    places, small = wave.radius - PLACE, 0.01 * DEGREE
    tops = [top_of(places, wave.pressure(small, side)) for side in (1.0, -1.0)]
    force, rocking = -float(base.touches[0].forces[:, 1].sum()), work_of(base, found, tilt, tilt, -TRAVEL)
    return force, top_of(places, wave.base), rocking * DEGREE, 50.0 * (tops[0] - tops[1])


@pytest.mark.slow
def test_a_tilted_rim_in_three_dimensions(compare):
    force, peak, rocking, rate = by_waves()
    coarse = in_space( 6, 4, (0.5, 1.0))
    space = in_space( 6, 6, (0.5, 1.0))
    own = [100.0 * (b / a - 1.0) for a, b in zip(coarse[2][0], space[2][0], strict=True)]
    compare("tilted rim in space: base force N", force, space[0], 1.0, f"its meshes: {coarse[0]:.4f}, {space[0]:.4f}")
    compare("tilted rim in space: base peak MPa", peak, space[1], 2.0, f"its meshes: {coarse[1]:.5f}, {space[1]:.5f}")
    for tilt, (stiffness, change) in zip((0.5, 1.0), space[2], strict=True):
        name = f"tilted by {tilt:g} degrees in space"
        compare(f"{name}: rocking N mm per degree", rocking, stiffness, 3.0, f"its meshes differ by {own[0]:+.1f} %")
        compare(f"{name}: d(peak) MPa per degree", rate, change, 5.0, f"its meshes differ by {own[1]:+.1f} %")
