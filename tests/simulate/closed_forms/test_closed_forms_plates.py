"""Clamped plates against their equations, the inflated membrane against work and small strains."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import minimize, minimize_scalar

from labrum.simulate.closed_forms import membranes as mb
from labrum.simulate.closed_forms import plates

RADIUS, THICK, LOAD, YOUNG, NU = 10.0, 1.2, 1e-4, 0.09, 0.45
PLATE = (RADIUS, THICK, LOAD, YOUNG, NU)
MU, THIN = 0.03, 0.1
STRETCHES = (1.001, 1.05, 1.3, 1.8, 3.0)


def test_thin_plate_meets_the_plate_equation_and_its_clamp():
    # D lap lap w = p with lap = (1/r) d/dr (r d/dr): w is a quartic in r, so fit and apply it exactly.
    r = np.linspace(0.0, RADIUS, 9)
    w = np.polynomial.Polynomial.fit(r, plates.thin_plate_deflection(r, *PLATE), 4).convert().coef
    assert w[1] == pytest.approx(0.0, abs=1e-12)
    assert w[3] == pytest.approx(0.0, abs=1e-12)
    stiffness = plates.plate_stiffness(YOUNG, NU, THICK)
    assert stiffness * 64.0 * w[4] == pytest.approx(LOAD, rel=1e-8)
    edge = plates.thin_plate_deflection([RADIUS - 1e-4, RADIUS], *PLATE)
    assert edge[1] == 0.0
    assert edge[0] < 1e-8 * w[0]


def test_moments_are_the_curvatures_of_the_thin_plate():
    r, step = np.array([1.0, 4.0, 9.0]), 1e-3
    below, here, above = (plates.thin_plate_deflection(r + d, *PLATE) for d in (-step, 0.0, step))
    bend, slope = (above - 2.0 * here + below) / step**2, (above - below) / (2.0 * step)
    stiffness = plates.plate_stiffness(YOUNG, NU, THICK)
    radial, hoop = plates.plate_moments(r, RADIUS, LOAD, NU)
    np.testing.assert_allclose(radial, -stiffness * (bend + NU * slope / r), rtol=1e-5)
    np.testing.assert_allclose(hoop, -stiffness * (slope / r + NU * bend), rtol=1e-5)


def test_shear_deflection_carries_the_load_over_every_circle():
    # Shear force p r / 2 per length = (5/6) G h times the slope of the shear part.
    r, step = np.array([1.0, 4.0, 9.0]), 1e-3
    part = [
        plates.thick_plate_deflection(r + d, *PLATE) - plates.thin_plate_deflection(r + d, *PLATE)
        for d in (-step, step)
    ]
    shear = YOUNG / (2.0 * (1.0 + NU))
    force = -5.0 / 6.0 * shear * THICK * (part[1] - part[0]) / (2.0 * step)
    np.testing.assert_allclose(force, 0.5 * LOAD * r, rtol=1e-8)


def test_thick_plate_nears_the_thin_one_at_second_order():
    extra = []
    for thickness in (1.0, 0.5, 0.25):
        plate = (RADIUS, thickness, LOAD, YOUNG, NU)
        ratio = plates.thick_plate_deflection(0.0, *plate) / plates.thin_plate_deflection(0.0, *plate)
        extra.append(float(ratio) - 1.0)
    assert extra[0] / extra[1] == pytest.approx(4.0)
    assert extra[1] / extra[2] == pytest.approx(4.0)


def volume(shape: mb.Membrane) -> float:
    """Volume under the meridian, mm3: pi int r^2 dz on the fine points."""
    r2, z = shape.r**2, shape.z
    return math.pi * float(np.sum(0.5 * (r2[1:] + r2[:-1]) * (z[:-1] - z[1:])))


def energy(shape: mb.Membrane) -> float:
    """Energy of the incompressible neo-Hookean disc, N mm, from its stretches alone."""
    one, two = shape.meridional, shape.hoop
    density = 0.5 * MU * (one**2 + two**2 + 1.0 / (one * two) ** 2 - 3.0) * shape.rest
    return 2.0 * math.pi * THIN * float(np.sum(0.5 * (density[1:] + density[:-1]) * np.diff(shape.rest)))


@pytest.mark.parametrize("stretch", STRETCHES)
def test_membrane_pressure_works_into_the_energy(stretch):
    step = 1e-3 * (stretch - 1.0)
    low, middle, high = (
        mb.inflated_membrane(stretch + d, RADIUS, THIN, MU, 4001) for d in (-step, 0.0, step)
    )
    work = (energy(high) - energy(low)) / (volume(high) - volume(low))
    assert middle.pressure == pytest.approx(work, rel=1e-4)


@pytest.mark.parametrize("stretch", STRETCHES)
def test_membrane_meridian_has_its_own_stretches(stretch):
    shape = mb.inflated_membrane(stretch, RADIUS, THIN, MU, 4001)
    along = np.hypot(np.diff(shape.r), np.diff(shape.z)) / np.diff(shape.rest)
    np.testing.assert_allclose(along, 0.5 * (shape.meridional[1:] + shape.meridional[:-1]), rtol=1e-5)
    assert shape.meridional[0] == pytest.approx(stretch, rel=1e-6)
    assert shape.hoop[0] == pytest.approx(stretch, rel=1e-6)
    assert shape.rest[-1] == pytest.approx(RADIUS)
    assert (shape.r[-1], shape.z[-1]) == pytest.approx((RADIUS, 0.0), abs=1e-8)


def test_membrane_pole_is_a_sphere_s():
    # At the pole p = 2 T / radius of curvature, T = mu H (1 - l^-6), the balloon's law.
    shape = mb.inflated_membrane(1.5, RADIUS, THIN, MU, 4001)
    near = slice(1, 40)
    curvature = 2.0 * (shape.z[0] - shape.z[near]) / shape.r[near] ** 2
    tension = MU * THIN * (1.0 - 1.5**-6)
    assert shape.pressure == pytest.approx(2.0 * tension * curvature[-1], rel=1e-3)


def hencky_rise() -> float:
    """C of z = C a (p a / (E h))^(1/3) for a small rise at nu = 1/2, by least energy of a polynomial.

    Foeppl's membrane: e_r = u' + w'^2 / 2, e_t = u / r. The energy is quadratic in u for a given w, so u is
    eliminated exactly and w sought among polynomials; no equation of the code under test is used.
    """
    x, weight = np.polynomial.legendre.leggauss(40)
    r, dr = 0.5 * (x + 1.0), 0.5 * weight
    nu, order = 0.5, np.arange(8)
    u = r[:, None] * (1.0 - r[:, None] ** 2) * r[:, None] ** (2 * order)
    du = (2 * order + 1) * r[:, None] ** (2 * order) - (2 * order + 3) * r[:, None] ** (2 * order + 2)
    factor = 0.5 / (1.0 - nu**2) * 2.0 * math.pi * r * dr

    def stretching(bend: np.ndarray) -> float:
        hoop = u / r[:, None]
        matrix = np.einsum("q,qi,qj->ij", factor, du, du) + np.einsum("q,qi,qj->ij", factor, hoop, hoop)
        cross = nu * np.einsum("q,qi,qj->ij", factor, du, hoop)
        own = 0.5 * bend**2
        side = (factor * own) @ (du + nu * hoop)
        part = np.linalg.solve(matrix + cross + cross.T, -side)
        return float(factor @ own**2 + part @ side)

    def lifted_and_stretched(shares: np.ndarray) -> tuple[np.ndarray, float, float]:
        shape = np.array([1.0, *shares])
        powers = 2 * np.arange(1, shape.size + 1)
        slope = -(powers * r[:, None] ** (powers - 1)) @ shape
        lifted = 2.0 * math.pi * float(((1.0 - r[:, None] ** powers) @ shape * r) @ dr)
        return shape, lifted, stretching(slope)

    def gain(shares: np.ndarray) -> float:
        # For w = c W the potential is c^4 U - c V; at its best c it falls with V^(4/3) / U^(1/3).
        _, lifted, stretched = lifted_and_stretched(shares)
        return -(lifted ** (4.0 / 3.0)) / stretched ** (1.0 / 3.0)

    shape, lifted, stretched = lifted_and_stretched(minimize(gain, np.zeros(4), tol=1e-12).x)
    return float(shape.sum()) * (lifted / (4.0 * stretched)) ** (1.0 / 3.0)


def test_small_inflation_is_hencky_s():
    # Hencky, Z. Math. Phys. 63 (1915) 311 (from memory): rise as the cube root of the pressure.
    shape = mb.inflated_membrane(1.0 + 1e-5, RADIUS, THIN, MU)
    scaled = shape.height / RADIUS / (shape.pressure * RADIUS / (3.0 * MU * THIN)) ** (1.0 / 3.0)
    assert scaled == pytest.approx(hencky_rise(), rel=1e-4)


def test_membrane_passes_a_largest_pressure():
    best = minimize_scalar(
        lambda q: -mb.inflated_membrane(q, RADIUS, THIN, MU, 2).pressure, bounds=(1.2, 4.0), method="bounded"
    )
    assert 1.8 < best.x < 2.6


def test_pressed_membrane_inverts_the_pressure():
    shape = mb.pressed_membrane(2e-4, RADIUS, THIN, MU)
    assert shape.pressure == pytest.approx(2e-4, rel=1e-9)
