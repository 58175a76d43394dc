"""Punches on layers: printed factors, limits, integrals, and the layered stack against the single layer."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from labrum.simulate.closed_forms import half_space as hs
from labrum.simulate.closed_forms import layer as ly
from labrum.simulate.closed_forms.layered import layered

# Hayes et al. 1972, their integral equation solved again for this project; flat punch, nu = .30 .40 .45 .50.
KAPPA = {
    0.2: (1.2066, 1.2323, 1.2523, 1.2806),
    0.4: (1.4726, 1.5422, 1.5993, 1.6837),
    0.6: (1.7848, 1.9178, 2.0328, 2.2129),
    1.0: (2.4835, 2.7938, 3.0914, 3.6187),
    2.0: (4.3532, 5.2985, 6.4206, 9.1495),
}
# The same for a sphere at nu = 0.5: a^2 / (R w) and kappa.
SPHERE = {
    0.2: (1.1678, 0.7833),
    0.4: (1.3491, 0.9387),
    0.6: (1.5183, 1.1392),
    1.0: (1.7876, 1.6809),
    2.0: (2.1983, 3.8076),
}


@pytest.mark.parametrize("ratio", sorted(KAPPA))
def test_flat_punch_factor_is_hayes(ratio):
    ours = [ly.hayes_factor(ratio, nu) for nu in (0.30, 0.40, 0.45, 0.50)]
    assert ours == pytest.approx(KAPPA[ratio], abs=5.1e-5)


@pytest.mark.parametrize("ratio", sorted(SPHERE))
def test_sphere_factors_are_hayes(ratio):
    assert ly.hayes_sphere_factors(ratio, 0.5) == pytest.approx(SPHERE[ratio], abs=5.1e-5)


def test_printed_table_runs_low_as_known():
    # Hayes et al. 1972, table for nu = 0.5 as recalled from memory: 0.3 % low at a/h = 1, 0.9 % at 2.
    for ratio, printed in ((0.2, 1.281), (0.4, 1.683), (0.6, 2.211), (1.0, 3.609), (2.0, 9.069)):
        assert ly.hayes_factor(ratio, 0.5) == pytest.approx(printed, rel=0.01)


def test_thick_layer_is_a_half_space_and_the_difference_falls_as_a_over_h():
    extra = [ly.hayes_factor(ratio, 0.3) - 1.0 for ratio in (0.02, 0.01, 0.005)]
    assert extra[0] / extra[1] == pytest.approx(2.0, abs=0.05)
    assert extra[1] / extra[2] == pytest.approx(2.0, abs=0.02)
    assert ly.hayes_sphere_factors(1e-4, 0.3) == pytest.approx((1.0, 2.0 / 3.0), rel=2e-4)


def test_thin_layer_is_a_confined_slab():
    # A flat punch much wider than the layer loads it uniaxially: P = M pi a^2 w / h, M = 2 G (1-nu)/(1-2nu).
    nu = 0.2
    confined = 2.0 * (1.0 - nu) / (1.0 - 2.0 * nu) * math.pi / (4.0 / (1.0 - nu))
    rest = [ly.hayes_factor(ratio, nu) / (confined * ratio) - 1.0 for ratio in (5.0, 10.0)]
    assert 0.0 < rest[1] < 0.55 * rest[0] < 0.2


def test_wide_punch_on_thin_incompressible_layer_is_a_squeezed_film():
    # nu = 1/2, a >> h, bonded below, free of shear above: the flux -p' h^3 / (3 G) carries pi r^2 w away, so
    # P = (3 pi / 8) G w a^4 / h^3 and kappa = (3 pi / 64) (a / h)^3 (lubrication, derived by hand). The film
    # ends not at the edge but a fixed part of h beyond it, so the fourth root nears 1 as h / a.
    beyond = []
    for ratio in (5.0, 10.0, 20.0):
        film = 3.0 * math.pi / 64.0 * ratio**3
        beyond.append(ratio * ((ly.hayes_factor(ratio, 0.5) / film) ** 0.25 - 1.0))
    assert beyond[1] == pytest.approx(beyond[0], rel=0.02)
    assert beyond[2] == pytest.approx(beyond[1], rel=0.02)


@pytest.mark.parametrize(
    "contact",
    [
        ly.flat_punch_on_layer(0.2, 2.0, 3.0, 0.1, ly.bonded(0.5)),
        ly.flat_punch_on_layer(0.2, 2.0, 3.0, 0.1, ly.sliding()),
    ],
    ids=["bonded", "sliding"],
)
def test_flat_punch_force_is_the_integral_of_its_pressure(contact):
    def ring(angle: float) -> float:
        r = 2.0 * math.sin(angle)
        return 2.0 * math.pi * r * float(contact.pressure(r)) * 2.0 * math.cos(angle)

    assert quad(ring, 0.0, 0.5 * math.pi * (1.0 - 1e-9))[0] == pytest.approx(contact.force, rel=1e-8)
    np.testing.assert_allclose(contact.surface([0.0, 0.7, 1.9, 2.0]), 0.2, rtol=1e-10)


@pytest.mark.parametrize(
    "spectrum", [ly.bonded(0.5), ly.bonded(0.3), ly.sliding()], ids=["half", "soft", "slide"]
)
def test_sphere_pressure_and_surface_agree_with_its_force_and_shape(spectrum):
    contact = ly.sphere_on_layer(2.0, 9.0, 3.0, 0.1, spectrum)
    force = quad(lambda r: 2.0 * math.pi * r * float(contact.pressure(r)), 0.0, 2.0)[0]
    assert force == pytest.approx(contact.force, rel=1e-9)
    r = np.array([0.0, 0.5, 1.3, 2.0])
    np.testing.assert_allclose(contact.surface(r), contact.sink - r**2 / 18.0, atol=1e-12)
    assert np.all(contact.surface([2.05, 2.5]) > contact.sink - np.array([2.05, 2.5]) ** 2 / 18.0)
    assert float(contact.pressure(2.0)) == 0.0


def test_sphere_stiffness_is_that_of_the_flat_punch():
    # dF/dw of a growing contact is the flat punch's force for unit travel: the two solutions bind each other.
    step, spectrum = 1e-4, ly.bonded(0.5)
    low, high = (ly.sphere_on_layer(2.0 + d, 9.0, 3.0, 0.1, spectrum) for d in (-step, step))
    flat = ly.flat_punch_on_layer(1.0, 2.0, 3.0, 0.1, spectrum)
    assert (high.force - low.force) / (high.sink - low.sink) == pytest.approx(flat.force, rel=1e-7)


def test_incompressible_layer_keeps_its_volume():
    # Bonded and incompressible: what goes down under the punch comes up around it.
    contact = ly.sphere_on_layer(2.0, 9.0, 3.0, 0.1, ly.bonded(0.5))

    def ring(r: float) -> float:
        return r * float(contact.surface(r))

    down = quad(ring, 0.0, 2.0)[0]
    around = quad(ring, 2.0, 6.0)[0] + quad(ring, 6.0, 60.0, limit=200)[0]
    assert down + around == pytest.approx(0.0, abs=1e-5 * down)


def test_thick_layer_sphere_is_hertz():
    contact = ly.sphere_on_layer(0.5, 9.0, 5e4, 0.1, ly.bonded(0.4))
    r = np.array([0.0, 0.3, 0.49, 0.6, 2.0])
    np.testing.assert_allclose(contact.pressure(r), hs.sphere_pressure(r, 0.5, 9.0, 0.1), rtol=1e-4)
    np.testing.assert_allclose(contact.surface(r), hs.sphere_surface(r, 0.5, 9.0), rtol=1e-3)


@pytest.mark.parametrize("nu", [0.0, 0.3, 0.495, 0.5])
@pytest.mark.parametrize("slides", [False, True])
def test_stack_of_like_layers_is_one_layer(nu, slides):
    x = np.array([1e-3, 0.01, 0.1, 0.5, 1.0, 3.0, 10.0])
    stack = layered([1.2, 3.0, 0.8], [0.05] * 3, [nu] * 3, slides)
    single = ly.sliding() if slides else ly.bonded(nu)
    np.testing.assert_allclose(stack(x), single(x * 5.0 / 1.2), atol=1e-11)


def test_thin_skin_hardly_matters_and_a_rigid_underlayer_is_the_base():
    core = ly.flat_punch_on_layer(1.0, 2.0, 5.0, 2.0 * 0.03 / 0.55, ly.bonded(0.45))
    skinned = layered([1e-4, 5.0], [0.06, 0.03], [0.45, 0.45])
    # The skin's own half-space is the reference: twice the modulus.
    x = np.array([1e-6, 1e-5, 4e-5])
    np.testing.assert_allclose(skinned(x), 2.0 * ly.bonded(0.45)(x * 5e4), rtol=2e-3)
    propped = layered([5.0, 3.0], [0.03, 3e6], [0.45, 0.45])
    stiff = ly.flat_punch_on_layer(1.0, 2.0, 5.0, 2.0 * 0.03 / 0.55, propped)
    assert stiff.force == pytest.approx(core.force, rel=1e-6)


def test_stiff_skin_lies_between_all_core_and_all_skin():
    def force(shears: list[float]) -> float:
        spectrum = layered([1.2, 9.4, 0.9], shears, [0.495] * 3)
        return ly.flat_punch_on_layer(0.1, 3.0, 1.2, 2.0 * shears[0] / 0.505, spectrum).force

    soft, lip, hard = force([0.0267] * 3), force([0.05, 0.0267, 0.0167]), force([0.05] * 3)
    assert soft < lip < hard
