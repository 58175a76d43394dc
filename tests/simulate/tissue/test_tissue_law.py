"""The tissue law against differences of its own energy, and against what any law must obey."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.simulate.closed_forms.finite_strain import Law
from labrum.simulate.tissue.known_laws import LAWS, STANDARD_LAW
from labrum.simulate.tissue.law import cofactor, volume_ratio
from tests import bodies


def some_gradients(count, seed=3, size=0.25):
    f = np.tile([1.0, 0.0, 0.0, 1.0, 1.0], (count, 1, 1))
    return f + size * np.random.default_rng(seed).uniform(-1.0, 1.0, f.shape)


@pytest.fixture(params=LAWS.values(), ids=LAWS.keys())
def law(request):
    return request.param


@pytest.fixture
def material():
    return bodies.tissue(40, shear=1.3, poisson=0.45, second=0.4, third=0.2, active=0.7)


def test_stress_is_the_slope_of_the_energy_and_tangent_that_of_the_stress(law, material):
    f, p = some_gradients(40), np.full((40, 1), 0.3)
    piola, tangent = law.stress_and_tangent(f, p, material)
    np.testing.assert_allclose(piola, law.stress(f, p, material), rtol=1e-13, atol=1e-13)
    step = 1e-6
    for k in range(5):
        move = step * np.eye(5)[k]
        slope = (law.energy(f + move, p, material) - law.energy(f - move, p, material)) / (2 * step)
        np.testing.assert_allclose(piola[..., k], slope, atol=2e-8)
        bend = (law.stress(f + move, p, material) - law.stress(f - move, p, material)) / (2 * step)
        np.testing.assert_allclose(tangent[..., k], bend, atol=5e-8)


def test_differences_near_the_tangent_at_second_order(law, material):
    f, p = some_gradients(40), np.full((40, 1), 0.3)
    tangent = law.stress_and_tangent(f, p, material)[1]
    way = some_gradients(40, seed=5) - [1.0, 0.0, 0.0, 1.0, 1.0]

    def miss(step):
        ends = [law.stress(f + sign * step * way, p, material) for sign in (1, -1)]
        slope = (ends[0] - ends[1]) / (2 * step)
        return np.abs(slope - np.einsum("...ij,...j->...i", tangent, way)).max()

    assert miss(2e-2) / miss(1e-2) == pytest.approx(4.0, rel=0.05)
    assert miss(1e-2) / miss(5e-3) == pytest.approx(4.0, rel=0.02)


def test_tangent_is_symmetric(law, material):
    tangent = law.stress_and_tangent(some_gradients(40), np.full((40, 1), 0.3), material)[1]
    np.testing.assert_allclose(tangent, np.swapaxes(tangent, -1, -2), atol=1e-12)


def test_volume_ratio_and_cofactor(material):
    f = some_gradients(40)
    whole = np.zeros((40, 3, 3))
    whole[:, :2, :2], whole[:, 2, 2] = f[:, 0, :4].reshape(40, 2, 2), f[:, 0, 4]
    np.testing.assert_allclose(volume_ratio(f)[:, 0], np.linalg.det(whole), rtol=1e-13)
    expected = np.linalg.det(whole)[:, None, None] * np.linalg.inv(whole).swapaxes(1, 2)
    np.testing.assert_allclose(cofactor(f)[:, 0, :4], expected[:, :2, :2].reshape(40, 4), atol=1e-12)
    np.testing.assert_allclose(cofactor(f)[:, 0, 4], expected[:, 2, 2], atol=1e-12)


def test_rotation_in_the_section_turns_the_stress_and_nothing_else(law):
    material = bodies.tissue(40, shear=1.3, poisson=0.45, second=0.4, third=0.2, active=0.7)
    f, p, angle = some_gradients(40), np.full((40, 1), 0.3), 0.9
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])

    def turned(entries):
        out = entries.copy()
        out[..., :4] = (turn @ entries[..., :4].reshape(-1, 2, 2)).reshape(*entries.shape[:-1], 4)
        return out

    energies = [law.energy(place, p, material) for place in (turned(f), f)]
    np.testing.assert_allclose(*energies, rtol=1e-13, atol=1e-15)  # I - 3 is rounded as a number of the size of 3
    expected = turned(law.stress(f, p, material))
    np.testing.assert_allclose(law.stress(turned(f), p, material), expected, atol=1e-12)


def test_energy_is_the_principal_stretches():
    """The standard law: with p at its best, kappa (J - 1), the mixed energy is that of the stretches."""
    reference = Law(1.3, 0.4, 0.2, 2.0 * 1.3 * 1.45 / (3.0 * 0.1))
    material = bodies.tissue(40, shear=1.3, poisson=0.45, second=0.4, third=0.2)
    f = some_gradients(40)
    whole = np.zeros((40, 3, 3))
    whole[:, :2, :2], whole[:, 2, 2] = f[:, 0, :4].reshape(40, 2, 2), f[:, 0, 4]
    p = reference.bulk_modulus * (volume_ratio(f) - 1.0)
    expected = reference.energy(np.linalg.svd(whole, compute_uv=False))
    np.testing.assert_allclose(STANDARD_LAW.energy(f, p, material)[:, 0], expected, rtol=1e-11)
