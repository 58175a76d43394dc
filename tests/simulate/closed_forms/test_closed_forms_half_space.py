"""Indenters on a half-space, checked against Sneddon's transform and their own integrals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from labrum.simulate.closed_forms import half_space as hs

E_STAR, RADIUS, FLANK, FLAT, EDGE, CONTACT = 0.12, 7.0, 0.2, 1.3, 0.8, 2.1

PRESSURES = {
    "sphere": lambda r: hs.sphere_pressure(r, CONTACT, RADIUS, E_STAR),
    "cone": lambda r: hs.cone_pressure(r, CONTACT, FLANK, E_STAR),
    "rounded": lambda r: hs.rounded_punch_pressure(r, CONTACT, FLAT, EDGE, E_STAR),
}
SURFACES = {
    "sphere": lambda r: hs.sphere_surface(r, CONTACT, RADIUS),
    "cone": lambda r: hs.cone_surface(r, CONTACT, FLANK),
    "rounded": lambda r: hs.rounded_punch_surface(r, CONTACT, FLAT, EDGE),
}
SLOPES = {
    "sphere": lambda r: r / RADIUS,
    "cone": lambda r: math.tan(FLANK),
    "rounded": lambda r: max(r - FLAT, 0.0) / EDGE,
}
SHAPES = {
    "sphere": lambda r: r**2 / (2.0 * RADIUS),
    "cone": lambda r: r * math.tan(FLANK),
    "rounded": lambda r: max(r - FLAT, 0.0) ** 2 / (2.0 * EDGE),
}
SINKS = {
    "sphere": hs.sphere_sink(CONTACT, RADIUS),
    "cone": hs.cone_sink(CONTACT, FLANK),
    "rounded": hs.rounded_punch_sink(CONTACT, FLAT, EDGE),
}
FORCES = {
    "sphere": hs.sphere_force(SINKS["sphere"], RADIUS, E_STAR),
    "cone": hs.cone_force(SINKS["cone"], FLANK, E_STAR),
    "rounded": hs.rounded_punch_force(CONTACT, FLAT, EDGE, E_STAR),
}
EVERY = pytest.mark.parametrize("name", sorted(SINKS))


def transform(name: str, x: float) -> float:
    """Sneddon's g(x) from the profile's slope: x int f'(r) / sqrt(x^2 - r^2) dr with r = x sin(angle)."""
    start = math.asin(min(FLAT / x, 1.0)) if name == "rounded" else 0.0
    return x * quad(lambda angle: SLOPES[name](x * math.sin(angle)), start, 0.5 * math.pi)[0]


@EVERY
def test_sink_and_force_follow_from_the_profile_alone(name):
    sink = transform(name, CONTACT)
    force = 2.0 * E_STAR * quad(lambda x: sink - transform(name, x), 1e-9, CONTACT, points=[FLAT])[0]
    assert SINKS[name] == pytest.approx(sink, rel=1e-9)
    assert FORCES[name] == pytest.approx(force, rel=1e-7)


@EVERY
def test_force_is_the_integral_of_the_pressure(name):
    def ring(r: float) -> float:
        return 2.0 * math.pi * r * float(PRESSURES[name](r))

    force = quad(ring, 0.0, FLAT)[0] + quad(ring, FLAT, CONTACT)[0]
    assert force == pytest.approx(FORCES[name], rel=1e-8)


@EVERY
def test_surface_follows_the_indenter_inside_and_leaves_it_outside(name):
    inside, outside = np.linspace(0.0, CONTACT, 7), np.array([1.01, 1.1, 1.5, 4.0]) * CONTACT
    shape = np.vectorize(SHAPES[name], otypes=[float])
    np.testing.assert_allclose(SURFACES[name](inside), SINKS[name] - shape(inside), atol=1e-10)
    assert np.all(SURFACES[name](outside) > SINKS[name] - shape(outside))


@EVERY
def test_far_surface_is_that_of_a_point_load(name):
    far = 200.0 * CONTACT
    point = FORCES[name] / (math.pi * E_STAR * far)
    assert float(SURFACES[name](far)) == pytest.approx(point, rel=1e-4)


@EVERY
def test_pressure_ends_at_the_contact(name):
    assert np.all(PRESSURES[name](np.array([1.0, 1.2, 3.0]) * CONTACT) == 0.0)
    assert np.all(PRESSURES[name](np.array([0.2, 0.9, 0.999]) * CONTACT) > 0.0)


def test_flat_punch_force_pressure_and_surface_agree():
    sink, radius = 0.3, 2.5
    force = hs.flat_punch_force(sink, radius, E_STAR)

    def ring(angle: float) -> float:
        r = radius * math.sin(angle)
        return 2.0 * math.pi * r * float(hs.flat_punch_pressure(r, force, radius)) * radius * math.cos(angle)

    assert quad(ring, 0.0, 0.5 * math.pi * (1.0 - 1e-9))[0] == pytest.approx(force, rel=1e-7)
    np.testing.assert_allclose(hs.flat_punch_surface([0.0, 1.0, 2.5], sink, radius), sink)
    far = float(hs.flat_punch_surface(1e3, sink, radius))
    assert far == pytest.approx(force / (math.pi * E_STAR * 1e3), rel=1e-5)


def test_pressure_is_infinite_only_at_a_flat_punch_edge():
    assert hs.flat_punch_pressure([2.5], 1.0, 2.5)[0] == math.inf
    assert hs.flat_punch_pressure([2.6], 1.0, 2.5)[0] == 0.0


def test_rounded_punch_with_no_flat_is_hertz():
    r = np.linspace(0.0, 2.0 * CONTACT, 9)
    assert hs.rounded_punch_sink(CONTACT, 0.0, RADIUS) == pytest.approx(SINKS["sphere"])
    assert hs.rounded_punch_force(CONTACT, 0.0, RADIUS, E_STAR) == pytest.approx(FORCES["sphere"])
    pressure = hs.rounded_punch_pressure(r, CONTACT, 0.0, RADIUS, E_STAR)
    np.testing.assert_allclose(pressure, PRESSURES["sphere"](r), atol=1e-12)
    surface = hs.rounded_punch_surface(r, CONTACT, 0.0, RADIUS)
    np.testing.assert_allclose(surface, SURFACES["sphere"](r), atol=1e-12)


def test_rounded_punch_with_a_sharp_edge_nears_the_flat_punch():
    misses = []
    for edge in (1e-2, 1e-3, 1e-4):
        a = hs.rounded_punch_contact_radius(1.0, FLAT, edge, E_STAR)
        misses.append(hs.rounded_punch_sink(a, FLAT, edge) / (1.0 / (2.0 * E_STAR * FLAT)) - 1.0)
    assert abs(misses[-1]) < 1e-2
    assert abs(misses[0]) > abs(misses[1]) > abs(misses[2])


def test_rounded_punch_contact_radius_inverts_the_force():
    force = hs.rounded_punch_force(CONTACT, FLAT, EDGE, E_STAR)
    found = hs.rounded_punch_contact_radius(force, FLAT, EDGE, E_STAR)
    assert found == pytest.approx(CONTACT, rel=1e-12)


def test_stiffness_of_every_shape_is_the_flat_punch_s():
    # dF/dw = 2 E* a at contact radius a (Johnson 1985, section 5.5, from memory).
    step = 1e-5

    def rounded(a: float) -> np.ndarray:
        force = hs.rounded_punch_force(a, FLAT, EDGE, E_STAR)
        return np.array([force, hs.rounded_punch_sink(a, FLAT, EDGE)])

    def cone(a: float) -> np.ndarray:
        sink = hs.cone_sink(a, FLANK)
        return np.array([hs.cone_force(sink, FLANK, E_STAR), sink])

    def sphere(a: float) -> np.ndarray:
        sink = hs.sphere_sink(a, RADIUS)
        return np.array([hs.sphere_force(sink, RADIUS, E_STAR), sink])

    for shape in (rounded, cone, sphere):
        rise, travel = shape(CONTACT + step) - shape(CONTACT - step)
        assert rise / travel == pytest.approx(2.0 * E_STAR * CONTACT, rel=1e-8)


def test_sphere_contact_radius_inverts_the_force():
    assert hs.sphere_contact_radius(FORCES["sphere"], RADIUS, E_STAR) == pytest.approx(CONTACT)


def test_incompressible_sphere_is_sixteen_ninths_of_youngs_modulus():
    # 16/9 E sqrt(R) w^1.5 at nu = 1/2: the form quoted for soft solids.
    force = hs.sphere_force(0.4, RADIUS, hs.plane_strain_modulus(0.09, 0.5))
    assert force == pytest.approx(16.0 / 9.0 * 0.09 * math.sqrt(RADIUS) * 0.4**1.5)
