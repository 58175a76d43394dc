"""Linear contact on layers by two routes that share nothing: integral equations and finite elements.

The flat punch is that of Hayes, Keer, Herrmann and Mockros, J. Biomech. 5 (1972) 541; the round rim and the
stack of layers are this project's. The finite elements are those of ``linear_reference.py``.
"""

from __future__ import annotations

import numpy as np
import pytest

from labrum.simulate.closed_forms import layer as ly
from labrum.simulate.closed_forms import rings
from labrum.simulate.closed_forms.layered import layered
from tests.published import linear_reference

# Skin, core and mucosa of an average lip: thickness mm, shear modulus MPa, Poisson's ratio.
LIP = [(1.2, 0.05, 0.495), (9.4, 0.0267, 0.495), (0.9, 0.0167, 0.495)]
ROUND = rings.round_profile(10.0, 2.5)


@pytest.mark.parametrize(("ratio", "nu"), [(0.2, 0.45), (0.6, 0.45), (1.0, 0.3), (0.6, 0.5), (1.0, 0.5)])
def test_flat_punch_on_bonded_layer(ratio, nu):
    layer = linear_reference.Layer(1.0 / ratio, 1.0, nu)
    pressed = linear_reference.indent([layer], 0.0, 1.0, np.ones_like, 1.0 + 8.0 / ratio)
    assert pressed.force * (1.0 - nu) / 4.0 == pytest.approx(ly.hayes_factor(ratio, nu), rel=1e-3)
    contact = ly.flat_punch_on_layer(1.0, 1.0, 1.0 / ratio, 2.0 / (1.0 - nu), ly.bonded(nu))
    outside = pressed.radii > 1.05
    expected = contact.surface(pressed.radii[outside])
    np.testing.assert_allclose(pressed.surface[outside], expected, atol=2e-3)


def test_flat_punch_error_falls_with_the_mesh_at_its_edge():
    layer = linear_reference.Layer(1.0, 1.0, 0.5)
    exact = 8.0 * ly.hayes_factor(1.0, 0.5)
    misses = [
        abs(linear_reference.indent([layer], 0.0, 1.0, np.ones_like, 9.0, finest).force / exact - 1.0)
        for finest in (0.02, 0.01, 0.005)
    ]
    # The edge's singularity makes the force first order in the cell there.
    assert misses[0] / misses[1] == pytest.approx(2.0, rel=0.15)
    assert misses[1] / misses[2] == pytest.approx(2.0, rel=0.1)
    assert misses[2] < 3e-4


@pytest.mark.parametrize("nu", [0.3, 0.5])
def test_sphere_on_bonded_layer(nu):
    contact = ly.sphere_on_layer(3.0, 8.0, 5.0, 0.1, ly.bonded(nu))
    layer = linear_reference.Layer(5.0, 0.05 * (1.0 - nu), nu)
    pressed = linear_reference.indent([layer], 0.0, 3.0, lambda r: contact.sink - r**2 / 16.0, 45.0)
    assert pressed.force == pytest.approx(contact.force, rel=1e-3)


@pytest.mark.parametrize("nu", [0.3, 0.5])
def test_round_rim_on_bonded_layer(nu):
    backing = rings.Base(8.0, ly.bonded(nu))
    contact = rings.pressed_ring(ROUND, 10.0, 2.0, 0.06 / (1.0 - nu), backing)
    layer = linear_reference.Layer(8.0, 0.03, nu)
    _compare_ring(contact, [layer])


def test_round_rim_on_a_stack_of_layers():
    backing = rings.Base(LIP[0][0], layered(*zip(*LIP, strict=True)))
    contact = rings.pressed_ring(ROUND, 10.0, 2.0, 2.0 * LIP[0][1] / (1.0 - LIP[0][2]), backing)
    _compare_ring(contact, [linear_reference.Layer(*one) for one in LIP])


def _compare_ring(contact, layers):
    """Force, the bulge on the axis, and the surface away from the rim and from the stack's free end."""
    pressed = linear_reference.indent(layers, contact.inner, contact.outer, lambda r: contact.sink - ROUND(r), 80.0)
    assert pressed.force == pytest.approx(contact.force, rel=1e-3)
    apart = (pressed.radii < contact.inner - 0.5) | (pressed.radii > contact.outer + 0.5)
    apart &= pressed.radii < 40.0
    expected = contact.surface(pressed.radii[apart])
    np.testing.assert_allclose(pressed.surface[apart], expected, atol=5e-4 * contact.sink)
