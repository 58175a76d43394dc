"""Rings on a half-space and on layers, checked against tables, narrow-contact limits and brute quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipk

from labrum.simulate.closed_forms import half_space as hs
from labrum.simulate.closed_forms import layer as ly
from labrum.simulate.closed_forms import rings
from labrum.simulate.closed_forms.layered import layered

E_STAR, PLACE, TUBE = 0.1, 10.0, 2.5
ROUND = rings.round_profile(PLACE, TUBE)

# P / (2 E* a w) of the annular flat punch, computed earlier for this project by another route; an annulus's
# capacitance (Smythe 1951) agrees to 0.35 %.
ANNULUS = {0.4: 0.99072, 0.5: 0.98102, 0.6: 0.96507, 0.7: 0.93950, 0.75: 0.92127, 0.8: 0.89762, 0.9: 0.82103}


def pressure_at(contact: rings.RingContact, r: float) -> float:
    """Contact pressure between the nodes: p over the square root is smooth, so a polynomial carries it."""
    half, middle = 0.5 * (contact.outer - contact.inner), 0.5 * (contact.outer + contact.inner)
    x = (contact.radii - middle) / half
    fit = np.polynomial.chebyshev.Chebyshev.fit(x, contact.pressure / np.sqrt(1.0 - x**2), 24, domain=[-1, 1])
    place = (r - middle) / half
    return float(fit(place)) * math.sqrt(1.0 - place**2)


@pytest.mark.parametrize("ratio", sorted(ANNULUS))
def test_annular_punch_factor_is_the_table(ratio):
    assert rings.annular_punch_factor(ratio) == pytest.approx(ANNULUS[ratio], abs=5.1e-6)


def test_annular_punch_converges_faster_than_any_power():
    fine = rings.annular_punch(0.3, 1.0, 1.0, 1.0, nodes=64).force
    misses = [abs(rings.annular_punch(0.3, 1.0, 1.0, 1.0, nodes=n).force / fine - 1.0) for n in (4, 6, 8)]
    assert misses[1] < 0.05 * misses[0]
    assert misses[2] < 0.05 * misses[1]


def test_annular_punch_without_its_hole_is_the_flat_punch():
    assert rings.annular_punch(1e-3, 2.0, 0.3, E_STAR, nodes=96).force == pytest.approx(
        hs.flat_punch_force(0.3, 2.0, E_STAR), rel=1e-6
    )


def test_annular_punch_without_its_hole_on_a_layer_is_hayes():
    backing = rings.Base(3.0, ly.bonded(0.5))
    force = rings.annular_punch(1e-3, 3.0, 0.1, E_STAR, backing, 96).force
    assert force / hs.flat_punch_force(0.1, 3.0, E_STAR) == pytest.approx(ly.hayes_factor(1.0, 0.5), rel=1e-6)


def test_narrow_flat_ring_nears_its_limit():
    misses = []
    for half in (0.05, 0.0125):
        force = rings.annular_punch(1.0 - half, 1.0 + half, 1.0, 1.0).force
        misses.append(rings.narrow_flat_ring_sink(force, 1.0, half, 1.0) - 1.0)
    assert 0.0 < misses[1] < 0.1 * misses[0] < 2e-4


def test_round_rim_nears_the_wrapped_line_contact_at_second_order():
    misses = []
    for half in (0.4, 0.2, 0.1):
        contact = rings.pressed_ring(ROUND, PLACE, half, E_STAR)
        force = rings.narrow_rim_force(half, PLACE, TUBE, E_STAR)
        sink = rings.narrow_rim_sink(half, PLACE, TUBE)
        misses.append((contact.force / force - 1.0, contact.sink / sink - 1.0))
    rates = np.log2(np.array(misses[:-1]) / np.array(misses[1:]))
    assert np.all(rates > 1.6)
    assert np.all(rates < 2.1)
    assert misses[-1] == pytest.approx((3e-4, 2e-4), abs=1e-4)


def test_round_rim_pressure_nears_the_line_contact():
    contact = rings.pressed_ring(ROUND, PLACE, 0.05, E_STAR)
    line = rings.narrow_rim_pressure(contact.radii, 0.05, PLACE, TUBE, E_STAR)
    inside = np.abs(contact.radii - PLACE) < 0.045
    np.testing.assert_allclose(contact.pressure[inside], line[inside], rtol=0.04)
    assert contact.pressure.max() == pytest.approx(line.max(), rel=1e-3)


@pytest.mark.parametrize("backing", [None, rings.Base(6.0, ly.bonded(0.5))], ids=["half-space", "layer"])
def test_round_rim_surface_under_the_rim_is_the_rim(backing):
    # The kernel once more, by adaptive quadrature with the logarithm split off at r: no part shared.
    contact = rings.pressed_ring(ROUND, PLACE, 2.0, E_STAR, backing)

    def displacement(r: float) -> float:
        def ring(s: float) -> float:
            kernel = 4.0 / math.pi * ellipk(4.0 * r * s / (r + s) ** 2) / (r + s)
            return kernel * s * pressure_at(contact, s)

        parts = quad(ring, contact.inner, r, limit=200)[0] + quad(ring, r, contact.outer, limit=200)[0]
        return parts / E_STAR

    places = contact.inner + np.array([0.2, 0.5, 0.9]) * (contact.outer - contact.inner)
    half_space = np.array([displacement(float(r)) for r in places])
    expected = contact.sink - ROUND(places)
    if backing is None:
        np.testing.assert_allclose(half_space, expected, rtol=1e-6)
    else:
        near = rings.RingContact(*_without_backing(contact))
        added = contact.surface(places) - near.surface(places)
        np.testing.assert_allclose(half_space + added, expected, rtol=1e-6)


def _without_backing(contact: rings.RingContact) -> tuple:
    return (
        contact.inner,
        contact.outer,
        contact.sink,
        contact.modulus,
        contact.radii,
        contact.pressure,
        None,
    )


def test_round_rim_force_is_the_integral_of_its_pressure():
    contact = rings.pressed_ring(ROUND, PLACE, 2.0, E_STAR)
    force = quad(lambda r: 2.0 * math.pi * r * pressure_at(contact, r), contact.inner, contact.outer)[0]
    assert force == pytest.approx(contact.force, rel=1e-6)


def test_far_surface_is_that_of_a_point_load():
    contact = rings.pressed_ring(ROUND, PLACE, 2.0, E_STAR)
    point = contact.force / (math.pi * E_STAR * 2e3)
    assert float(contact.surface(2e3)) == pytest.approx(point, rel=1e-4)


def test_round_rim_leaves_no_tension_and_no_overlap():
    contact = rings.pressed_ring(ROUND, PLACE, 2.0, E_STAR, rings.Base(8.0, ly.bonded(0.495)))
    assert np.all(contact.pressure > 0.0)
    outside = np.array([contact.inner - 0.5, contact.inner - 0.1, contact.outer + 0.1, contact.outer + 0.5])
    assert np.all(contact.surface(outside) > contact.sink - ROUND(outside))


def test_round_rim_is_stiffer_by_the_annular_punch():
    # dF/dw of a growing contact is the flat annular punch's force at unit travel over the same contact.
    backing, step = rings.Base(8.0, ly.bonded(0.495)), 1e-4
    low, middle, high = (
        rings.pressed_ring(ROUND, PLACE, 2.0 + d, E_STAR, backing) for d in (-step, 0.0, step)
    )
    flat = rings.annular_punch(middle.inner, middle.outer, 1.0, E_STAR, backing)
    assert (high.force - low.force) / (high.sink - low.sink) == pytest.approx(flat.force, rel=1e-7)


def test_ring_on_layer_bulges_on_the_axis_and_keeps_the_volume():
    contact = rings.pressed_ring(ROUND, PLACE, 1.5, E_STAR, rings.Base(8.0, ly.bonded(0.5)))
    assert float(contact.surface(0.0)) < 0.0

    def volume(first: float, last: float, nodes: int) -> float:
        x, weight = np.polynomial.legendre.leggauss(nodes)
        r = 0.5 * (first + last) + 0.5 * (last - first) * x
        return 0.5 * (last - first) * float(weight @ (r * contact.surface(r)))

    under = quad(lambda r: r * (contact.sink - float(ROUND(r))), contact.inner, contact.outer)[0]
    around = volume(0.0, contact.inner - 1e-3, 40) + volume(contact.outer + 1e-3, 30.0, 60)
    around += volume(30.0, 120.0, 40)
    assert under + around == pytest.approx(0.0, abs=3e-3 * under)


def test_thick_layer_is_the_half_space():
    plain = rings.pressed_ring(ROUND, PLACE, 2.0, E_STAR)
    deep = rings.pressed_ring(ROUND, PLACE, 2.0, E_STAR, rings.Base(1e6, ly.bonded(0.3)))
    assert deep.force == pytest.approx(plain.force, rel=1e-6)
    assert deep.sink == pytest.approx(plain.sink, rel=1e-4)


def test_stack_of_like_layers_is_one_layer():
    one = rings.pressed_ring(ROUND, PLACE, 2.0, E_STAR, rings.Base(9.0, ly.bonded(0.495)))
    stack = rings.Base(1.5, layered([1.5, 6.0, 1.5], [0.04] * 3, [0.495] * 3))
    many = rings.pressed_ring(ROUND, PLACE, 2.0, E_STAR, stack)
    assert many.force == pytest.approx(one.force, rel=1e-8)
    np.testing.assert_allclose(many.surface([0.0, 4.0, 15.0]), one.surface([0.0, 4.0, 15.0]), atol=1e-8)


def test_ring_under_force_carries_the_force():
    backing = rings.Base(11.5, ly.bonded(0.495))
    contact = rings.ring_under_force(ROUND, PLACE, 5.0, E_STAR, 4.0, backing)
    assert contact.force == pytest.approx(5.0, rel=1e-10)
