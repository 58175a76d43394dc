"""Friction: the punch against its limits and its own conditions, the rough bore against elasticity."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipk

from labrum.simulate.closed_forms import friction as fr
from labrum.simulate.closed_forms import rough_bore as rb


@pytest.mark.parametrize(("friction", "nu"), [(0.05, 0.3), (0.15, 0.3), (0.5, 0.0), (0.02, 0.48)])
def test_uncoupled_stick_ratio_meets_its_relation_written_out(friction, nu):
    c = fr.uncoupled_stick_ratio(friction, nu)
    whole = ellipk(1.0 - c**2)
    left = math.log((1.0 + c) / (1.0 - c)) / (2.0 * c)
    assert left == pytest.approx(friction / fr.coupling(nu) * whole, rel=1e-10)


def test_uncoupled_stick_ratio_rises_with_friction_to_its_ends():
    found = [fr.uncoupled_stick_ratio(mu, 0.3) for mu in (0.0, 1e-3, 0.02, 0.1, 0.3, 1.0, 5.0)]
    assert found == sorted(found)
    assert found[0] == 0.0
    assert found[-1] == pytest.approx(1.0, abs=1e-12)
    assert fr.uncoupled_stick_ratio(0.01, 0.5) == 1.0


def test_uncoupled_shear_and_pressure_keep_the_stuck_part_still():
    # The relation's own content, by quadrature: within c shear undoes the inward motion under the pressure
    # (int_0^r t psi / sqrt(r^2 - t^2) dt = beta (1 - sqrt(1 - r^2)), unit punch).
    mu, nu = 0.15, 0.3
    beta, c = fr.coupling(nu), fr.uncoupled_stick_ratio(0.15, 0.3)

    def psi(t: float) -> float:
        if t < c:
            return beta / math.pi * math.log((1.0 + t) / (1.0 - t))
        return 2.0 * mu / math.pi * t * float(ellipk(1.0 - t**2))

    assert psi(c * (1.0 - 1e-12)) == pytest.approx(psi(c), rel=1e-9)
    for r in (0.2 * c, 0.9 * c):

        def share(angle: float, r: float = r) -> float:
            t = r * math.sin(angle)
            return t * psi(t)

        moved = quad(share, 0.0, 0.5 * math.pi)[0]
        assert moved == pytest.approx(beta * (1.0 - math.sqrt(1.0 - r**2)), rel=1e-9)
    # and the shear int_r^1 q = int_r^1 psi / sqrt(t^2 - r^2) is friction times pressure for r > c
    for r in (1.001 * c, 0.5 * (1.0 + c)):
        top = math.sqrt(1.0 - r**2)
        shear = quad(lambda v, r=r: psi(math.hypot(r, v)) / math.hypot(r, v), 0.0, top)[0]
        assert shear == pytest.approx(mu * math.acos(r), rel=1e-8)


@pytest.mark.parametrize(("friction", "nu"), [(0.12, 0.3), (0.3, 0.3), (0.09, 0.45)])
def test_coupled_solution_converges_at_second_order(friction, nu):
    found = [fr.frictional_punch(friction, nu, panels) for panels in (40, 80, 160)]
    force = np.diff([f.force_factor for f in found])
    assert abs(force[0]) > 3.5 * abs(force[1])
    assert abs(force[1]) < 5e-5
    assert abs(found[2].stick_ratio - found[1].stick_ratio) < 5e-5


def test_weak_coupling_is_goodmans():
    # As beta -> 0 at fixed mu / beta the shear no longer moves the pressure: the miss falls as beta^2.
    misses = []
    for nu in (0.40, 0.45, 0.475):
        mu = 0.6 * fr.coupling(nu)
        misses.append(fr.uncoupled_stick_ratio(mu, nu) - fr.frictional_punch(mu, nu).stick_ratio)
    assert misses[0] / misses[1] == pytest.approx((fr.coupling(0.40) / fr.coupling(0.45)) ** 2, rel=0.05)
    assert abs(misses[2]) < 1e-3


def test_force_lies_between_frictionless_and_bonded_and_nears_bonded():
    bonded = fr.bonded_punch_factor(0.3)
    factors = [fr.frictional_punch(mu, 0.3).force_factor for mu in (0.1, 0.2, 0.3, 0.45)]
    assert [1.0, *factors, bonded] == sorted([1.0, *factors, bonded])
    assert factors[-1] == pytest.approx(bonded, rel=2e-3)


def test_bonded_factor_has_its_known_values():
    # nu = 0: ln 3 = 1.0986; nu = 1/2: no difference (Johnson 1985, section 3.8, from memory).
    assert fr.bonded_punch_factor(0.0) == pytest.approx(math.log(3.0))
    assert fr.bonded_punch_factor(0.5) == 1.0
    assert fr.bonded_punch_factor(0.5 - 1e-6) == pytest.approx(1.0, abs=1e-5)


def test_bonded_punch_meets_the_coupled_equations():
    # Stuck all over, phi + i psi = K exp(i k ln((1 + t) / (1 - t))) with tanh(pi k) = beta. Equation one
    # at t = 0 gives K, and the sum of phi over its frictionless 2 / pi the force.
    nu = 0.2
    k = math.log(3.0 - 4.0 * nu) / (2.0 * math.pi)
    assert math.tanh(math.pi * k) == pytest.approx(fr.coupling(nu))

    def phase(t: float) -> float:
        return k * math.log((1.0 + t) / (1.0 - t))

    lean = 2.0 * fr.coupling(nu) / math.pi * quad(lambda s: math.sin(phase(s)) / s, 0.0, 1.0)[0]
    total = quad(lambda t: math.cos(phase(t)), 0.0, 1.0)[0]
    assert total / (1.0 - lean) == pytest.approx(fr.bonded_punch_factor(nu), rel=1e-7)


def test_too_much_or_too_little_friction_is_refused():
    for mu, nu in ((0.9, 0.3), (0.01, 0.3), (0.2, 0.5)):
        with pytest.raises(ValueError, match="nearly all slips or sticks"):
            fr.frictional_punch(mu, nu)


@pytest.mark.parametrize("nu", [0.2, 0.45, 0.5])
def test_rough_bore_nears_janssen_for_small_friction(nu):
    misses = [rb.rough_bore_decay(mu, nu) / rb.janssen_decay(mu, nu) - 1.0 for mu in (0.08, 0.04, 0.02)]
    assert misses[0] / misses[1] == pytest.approx(4.0, rel=0.05)
    assert misses[1] / misses[2] == pytest.approx(4.0, rel=0.02)


def mode(nu: float, friction: float = 0.3) -> rb.BoreMode:
    return rb.BoreMode(5.0, rb.rough_bore_decay(friction, nu), 0.02, 0.1, nu)


def test_rough_bore_stress_is_hookes_of_the_displacement():
    nu, step, z = 0.4, 1e-4, 3.0
    state, r = mode(nu), np.linspace(0.5, 5.0, 6)

    def u(r: np.ndarray, z: float) -> np.ndarray:
        return np.array(state.displacement(r, z))

    along_r = (u(r + step, z) - u(r - step, z)) / (2.0 * step)
    along_z = (u(r, z + step) - u(r, z - step)) / (2.0 * step)
    strain = np.array([along_r[0], along_z[1], u(r, z)[0] / r])
    spread = 0.2 * nu / (1.0 - 2.0 * nu) * strain.sum(axis=0)
    expected = [*(0.2 * strain + spread), 0.1 * (along_z[0] + along_r[1])]
    for ours, hookes in zip(state.stress(r, z), expected, strict=True):
        np.testing.assert_allclose(ours, hookes, atol=1e-10)


@pytest.mark.parametrize("nu", [0.3, 0.5])
def test_rough_bore_is_in_equilibrium(nu):
    state, r, z, step = mode(nu, 0.25), np.linspace(0.5, 4.9, 6), 2.0, 1e-4

    def s(r: np.ndarray, z: float) -> np.ndarray:
        return np.array(state.stress(r, z))

    here = s(r, z)
    by_r = (s(r + step, z) - s(r - step, z)) / (2.0 * step)
    by_z = (s(r, z + step) - s(r, z - step)) / (2.0 * step)
    np.testing.assert_allclose(by_r[0] + (here[0] - here[2]) / r + by_z[3], 0.0, atol=1e-9)
    np.testing.assert_allclose(by_r[3] + here[3] / r + by_z[1], 0.0, atol=1e-9)


@pytest.mark.parametrize("nu", [0.3, 0.5])
def test_rough_bore_wall_holds_still_and_drags_by_friction(nu):
    state = mode(nu, 0.25)
    out, along = state.displacement(5.0, [0.0, 3.0])
    np.testing.assert_allclose(out, 0.0, atol=1e-15)
    assert np.all(along + state.least_travel >= 0.0)
    radial, _, _, shear = state.stress(5.0, [0.0, 3.0])
    assert np.all(radial < 0.0)
    np.testing.assert_allclose(shear / radial, 0.25, rtol=1e-10)


def test_rough_bore_pressure_is_the_mean_and_the_axis_is_smooth():
    state = mode(0.4)
    push = quad(lambda r: 2.0 * math.pi * r * float(state.stress(r, 0.0)[1]), 0.0, 5.0)[0]
    assert push == pytest.approx(-0.02 * math.pi * 25.0)
    radial, _, hoop, shear = state.stress(0.0, 0.0)
    assert radial == pytest.approx(hoop)
    assert shear == pytest.approx(0.0, abs=1e-15)


def test_incompressible_plug_needs_some_travel_to_slide_forwards():
    # Nothing is squeezed out sideways, so the mode alone moves no volume and its wall goes backwards.
    state = mode(0.5)
    moved = quad(lambda r: r * float(state.displacement(r, 0.0)[1]), 0.0, 5.0)[0]
    assert moved == pytest.approx(0.0, abs=1e-12)
    assert state.least_travel > 0.0
    assert mode(0.3).least_travel == 0.0


def test_friction_beyond_the_last_real_decay_is_refused():
    with pytest.raises(ValueError, match="no real decay"):
        rb.rough_bore_decay(1.0, 0.5)
