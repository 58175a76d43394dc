"""Thick spheres and tubes at large strain: against quadrature of equilibrium, work, and small strains."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from labrum.simulate.closed_forms import inflation as inf
from labrum.simulate.closed_forms.finite_strain import Law

MU, INNER, OUTER = 0.03, 1.5, 4.0
STIFF = Law(MU, 0.007, 0.004)
REACHES = (0.8, 1.6, 2.5, 5.0)


@pytest.mark.parametrize("inner", REACHES)
def test_closed_pressures_are_the_quadrature(inner):
    law = Law(MU)
    sphere = inf.sphere_pressure_of_law(inner, INNER, OUTER, law)
    assert inf.inflated_sphere_pressure(inner, INNER, OUTER, MU) == pytest.approx(sphere, rel=1e-11)
    tube = inf.tube_pressure_of_law(inner, INNER, OUTER, law)
    assert inf.tube_pressure(inner, INNER, OUTER, MU) == pytest.approx(tube, rel=1e-11)


@pytest.mark.parametrize("inner", REACHES)
def test_stresses_satisfy_equilibrium_in_the_deformed_wall(inner):
    # d s_rr / dr integrated as a differential equation from the free outer face to the inner one.
    outer = float(inf.sphere_place(OUTER, INNER, inner))

    def rate(r: float, radial: np.ndarray) -> list[float]:
        q = r / np.cbrt(r**3 - inner**3 + INNER**3)
        return [2.0 * MU * (q**2 - q**-4) / r]

    way = solve_ivp(rate, (outer, inner), [0.0], rtol=1e-10, atol=1e-13)
    assert way.y[0, -1] == pytest.approx(-inf.inflated_sphere_pressure(inner, INNER, OUTER, MU), rel=1e-7)
    radial, hoop = inf.sphere_stress([INNER, OUTER], inner, INNER, OUTER, MU)
    assert radial == pytest.approx([way.y[0, -1], 0.0], rel=1e-7, abs=1e-12)
    first = inner / INNER
    assert hoop[0] - radial[0] == pytest.approx(MU * (first**2 - first**-4))


@pytest.mark.parametrize("inner", REACHES)
def test_tube_stresses_balance_half_the_tube(inner):
    # The two cut walls carry the pressure on the diameter: int s_hoop dr = p r_i. A global balance.
    pressure = inf.tube_pressure(inner, INNER, OUTER, MU)

    def hoop(rest: float) -> float:
        return float(inf.tube_stress(rest, inner, INNER, OUTER, MU)[1]) * rest / float(
            inf.tube_place(rest, INNER, inner)
        )

    assert quad(hoop, INNER, OUTER)[0] == pytest.approx(pressure * inner, rel=1e-9)
    assert inf.tube_stress(INNER, inner, INNER, OUTER, MU)[0] == pytest.approx(-pressure)
    assert inf.tube_stress(OUTER, inner, INNER, OUTER, MU)[0] == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("inner", REACHES)
def test_pressure_works_into_the_energy_of_the_law(inner):
    # p dV = d(energy of the wall), for the full law: no stress formula is used.
    def sphere_energy(place: float) -> float:
        def shell(rest: float) -> float:
            q = float(inf.sphere_place(rest, INNER, place)) / rest
            return 4.0 * math.pi * rest**2 * float(STIFF.energy([q**-2, q, q]))

        return quad(shell, INNER, OUTER, epsrel=1e-12)[0]

    def tube_energy(place: float) -> float:
        def shell(rest: float) -> float:
            q = float(inf.tube_place(rest, INNER, place)) / rest
            return 2.0 * math.pi * rest * float(STIFF.energy([1.0 / q, q, 1.0]))

        return quad(shell, INNER, OUTER, epsrel=1e-12)[0]

    step = 1e-4
    sphere = (sphere_energy(inner + step) - sphere_energy(inner - step)) / (2.0 * step)
    tube = (tube_energy(inner + step) - tube_energy(inner - step)) / (2.0 * step)
    assert inf.sphere_pressure_of_law(inner, INNER, OUTER, STIFF) == pytest.approx(
        sphere / (4.0 * math.pi * inner**2), rel=1e-6
    )
    assert inf.tube_pressure_of_law(inner, INNER, OUTER, STIFF) == pytest.approx(
        tube / (2.0 * math.pi * inner), rel=1e-6
    )


def test_places_keep_the_volume_and_the_inner_face():
    rest = np.linspace(INNER, OUTER, 7)
    sphere, tube = inf.sphere_place(rest, INNER, 2.5), inf.tube_place(rest, INNER, 2.5)
    np.testing.assert_allclose(np.diff(sphere**3), np.diff(rest**3))
    np.testing.assert_allclose(np.diff(tube**2), np.diff(rest**2))
    assert sphere[0] == pytest.approx(2.5)
    assert tube[0] == pytest.approx(2.5)


def test_small_inflation_is_lames():
    # Lame's thick walls, incompressible: p = 4 mu u_i / R_i (1 - R_i^3 / R_o^3) for the sphere and
    # p = 2 mu u_i / R_i (1 - R_i^2 / R_o^2) for the tube (from memory).
    small = 1e-6
    sphere = inf.inflated_sphere_pressure(INNER * (1.0 + small), INNER, OUTER, MU) / small
    assert sphere == pytest.approx(4.0 * MU * (1.0 - (INNER / OUTER) ** 3), rel=1e-5)
    tube = inf.tube_pressure(INNER * (1.0 + small), INNER, OUTER, MU) / small
    assert tube == pytest.approx(2.0 * MU * (1.0 - (INNER / OUTER) ** 2), rel=1e-5)


@pytest.mark.parametrize("power", [0, 1, 2, 3])
@pytest.mark.parametrize("inner", [0.9, 1.5, 2.5])
def test_muscle_pressure_is_its_stress_summed_over_the_deformed_wall(power, inner):
    outer = float(inf.tube_place(OUTER, INNER, inner))

    def share(r: float) -> float:
        rest = math.sqrt(r**2 - inner**2 + INNER**2)
        return 0.01 * (r / rest) ** power / r

    ours = inf.muscle_pressure(inner, INNER, OUTER, 0.01, power)
    assert ours == pytest.approx(quad(share, inner, outer)[0], rel=1e-10)


@pytest.mark.parametrize("power", [0, 1, 2])
def test_free_muscle_tube_has_least_energy(power):
    # Passive energy plus the muscle's S l^power / power (S ln l for 0) over the wall is least at the answer.
    active = 0.02

    def energy(place: float) -> float:
        def shell(rest: float) -> float:
            q = float(inf.tube_place(rest, INNER, place)) / rest
            pulled = active * (math.log(q) if power == 0 else q**power / power)
            return rest * (float(STIFF.energy([1.0 / q, q, 1.0])) + pulled)

        return quad(shell, INNER, OUTER, epsrel=1e-12)[0]

    found = inf.muscle_tube_inner_radius(0.0, INNER, OUTER, STIFF, active, power)
    assert found < INNER
    assert energy(found) < min(energy(found - 1e-3), energy(found + 1e-3))


def test_muscle_tube_without_muscle_is_the_passive_tube():
    pressure = inf.tube_pressure(2.2, INNER, OUTER, MU)
    found = inf.muscle_tube_inner_radius(pressure, INNER, OUTER, Law(MU), 0.0, 1)
    assert found == pytest.approx(2.2, rel=1e-10)


def test_pressure_beyond_the_neo_hookean_limit_is_refused():
    # The largest pressure of a neo-Hookean tube is mu ln(R_o / R_i), reached as it grows without end.
    limit = MU * math.log(OUTER / INNER)
    assert inf.tube_pressure(1e4, INNER, OUTER, MU) == pytest.approx(limit, rel=1e-6)
    with pytest.raises(ValueError, match="no equilibrium"):
        inf.muscle_tube_inner_radius(1.05 * limit, INNER, OUTER, Law(MU), 0.0, 1)
