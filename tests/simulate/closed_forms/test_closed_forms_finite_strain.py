"""Homogeneous states of the tissue law: stresses against differences of the energy, and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.simulate.closed_forms import finite_strain as fs

STIFF = fs.Law(0.03, 0.007, 0.004, 0.4)
LAWS = {
    "neo-hookean": fs.Law(0.03),
    "stiffening": fs.Law(0.03, 0.007, 0.004),
    "compressible": STIFF,
    "nearly": fs.Law(0.03, 0.007, 0.0, fs.bulk_from_poisson(0.03, 0.499)),
}
STRETCHES = (0.5, 0.8, 0.99, 1.01, 1.4, 2.2)
EVERY_LAW = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS.keys())


def slope(law: fs.Law, state: fs.Homogeneous, move: tuple[float, float, float], step: float = 1e-6) -> float:
    """dW along a motion of the principal stretches, by central differences."""
    move = np.array(move)
    up, down = law.energy(state.stretches + step * move), law.energy(state.stretches - step * move)
    return float(up - down) / (2.0 * step)


@pytest.mark.parametrize("stretches", [(1.3, 0.8, 1.1), (0.6, 1.7, 1.2), (1.01, 0.99, 1.02)])
def test_nominal_stress_is_the_slope_of_the_energy(stretches):
    cauchy = fs.deviatoric_stress(STIFF, stretches) + STIFF.bulk_modulus * (np.prod(stretches) - 1.0)
    nominal = np.prod(stretches) * cauchy / np.array(stretches)
    state = fs.Homogeneous(np.array(stretches), cauchy, nominal)
    for axis in np.eye(3):
        assert slope(STIFF, state, axis) == pytest.approx(float(nominal @ axis), rel=1e-7, abs=1e-10)


@EVERY_LAW
@pytest.mark.parametrize("stretch", STRETCHES)
def test_uniaxial_work_is_the_energy_gained(law, stretch):
    # Along the path of states only the held direction works: dW/dl = nominal stress.
    step = 1e-5
    gain = law.energy(fs.uniaxial(law, stretch + step).stretches)
    gain -= law.energy(fs.uniaxial(law, stretch - step).stretches)
    nominal = float(fs.uniaxial(law, stretch).nominal[0])
    assert gain / (2.0 * step) == pytest.approx(nominal, rel=1e-6, abs=1e-9)


@EVERY_LAW
@pytest.mark.parametrize("stretch", STRETCHES)
def test_equibiaxial_work_is_the_energy_gained(law, stretch):
    step = 1e-5
    gain = law.energy(fs.equibiaxial(law, stretch + step).stretches)
    gain -= law.energy(fs.equibiaxial(law, stretch - step).stretches)
    nominal = float(fs.equibiaxial(law, stretch).nominal[0])
    assert gain / (2.0 * step) == pytest.approx(2.0 * nominal, rel=1e-6, abs=1e-9)


@EVERY_LAW
@pytest.mark.parametrize("stretch", STRETCHES)
def test_planar_work_is_the_energy_gained(law, stretch):
    step = 1e-5
    gain = law.energy(fs.planar(law, stretch + step).stretches)
    gain -= law.energy(fs.planar(law, stretch - step).stretches)
    nominal = float(fs.planar(law, stretch).nominal[0])
    assert gain / (2.0 * step) == pytest.approx(nominal, rel=1e-6, abs=1e-9)


@EVERY_LAW
def test_free_faces_are_free_and_held_ones_held(law):
    for stretch in STRETCHES:
        assert fs.uniaxial(law, stretch).cauchy[1:] == pytest.approx([0.0, 0.0], abs=1e-12)
        assert fs.equibiaxial(law, stretch).cauchy[2] == pytest.approx(0.0, abs=1e-12)
        planar = fs.planar(law, stretch)
        assert planar.cauchy[2] == pytest.approx(0.0, abs=1e-12)
        assert planar.stretches[1] == 1.0


def test_neo_hookean_closed_forms():
    # Treloar, The Physics of Rubber Elasticity, 1975 (from memory).
    mu, law = 0.03, LAWS["neo-hookean"]
    for q in STRETCHES:
        assert fs.uniaxial(law, q).nominal[0] == pytest.approx(mu * (q - q**-2))
        assert fs.equibiaxial(law, q).nominal[0] == pytest.approx(mu * (q - q**-5))
        assert fs.planar(law, q).nominal[0] == pytest.approx(mu * (q - q**-3))


def test_small_strains_are_hookes():
    nu, mu, strain = 0.3, 0.03, 1e-6
    law = fs.Law(mu, 0.01, 0.01, fs.bulk_from_poisson(mu, nu))
    young = 2.0 * mu * (1.0 + nu)
    drawn, spread = fs.uniaxial(law, 1.0 + strain), fs.equibiaxial(law, 1.0 + strain)
    assert drawn.cauchy[0] / strain == pytest.approx(young, rel=1e-5)
    assert (drawn.stretches[1] - 1.0) / strain == pytest.approx(-nu, rel=1e-5)
    assert spread.cauchy[0] / strain == pytest.approx(young / (1.0 - nu), rel=1e-5)
    confined = 2.0 * mu * (1.0 - nu) / (1.0 - 2.0 * nu)
    assert fs.confined(law, 1.0 + strain).cauchy[0] / strain == pytest.approx(confined, rel=1e-5)


def test_nearly_incompressible_nears_incompressible_at_first_order():
    exact = fs.uniaxial(fs.Law(0.03, 0.007), 1.6).cauchy[0]
    misses = []
    for nu in (0.49, 0.499, 0.4999):
        law = fs.Law(0.03, 0.007, 0.0, fs.bulk_from_poisson(0.03, nu))
        misses.append(abs(fs.uniaxial(law, 1.6).cauchy[0] - exact))
    assert misses[0] / misses[1] == pytest.approx(10.0, rel=0.1)
    assert misses[1] / misses[2] == pytest.approx(10.0, rel=0.01)


def test_confined_incompressible_material_is_refused():
    with pytest.raises(ValueError, match="incompressible"):
        fs.confined(LAWS["neo-hookean"], 1.1)


@pytest.mark.parametrize("power", [0, 1, 2])
@EVERY_LAW
def test_contracted_ring_has_least_energy(law, power):
    # The active stress is that of the energy S l^power / power (S ln l for 0): no load, so the sum is least.
    active = 0.02

    def total(stretch: float) -> float:
        pulled = active * (np.log(stretch) if power == 0 else stretch**power / power)
        return float(law.energy(fs.uniaxial(law, stretch).stretches)) + pulled

    found = fs.hoop_contraction(law, active, power).stretches[0]
    assert 0.5 < found < 1.0
    assert total(found) < min(total(found - 1e-3), total(found + 1e-3))


def test_contraction_of_a_weak_muscle_is_stress_over_youngs_modulus():
    found = fs.hoop_contraction(LAWS["stiffening"], 1e-7, 1).stretches[0]
    assert 1.0 - found == pytest.approx(1e-7 / 0.09, rel=1e-3)
