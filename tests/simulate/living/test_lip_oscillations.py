"""Small oscillations and small loads of a pressed lip: against nonlinear increments, dense algebra and scaling."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
import scipy.linalg
import scipy.sparse.linalg

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import solve
from labrum.simulate.contact.air import AirPressure
from labrum.simulate.equilibrium.small_loads import SmallLoads
from labrum.simulate.living import vibration
from labrum.simulate.solving import first_readable
from labrum.simulate.weak_form import WeakForm
from tests import bodies

RIM = {"inner_diameter_mm": 16.5, "width_mm": 5.2}
LIVING = {"type": "average", "backing": "sliding", "tooth_gap_radius_mm": 6.0, "opening_radius_mm": 1.5}


def problem(lip=None, readings=None, **load):
    load = {"force_n": 20.0, "mouth_pressure_kpa": 4.0, "muscle_activation": 0.3} | load
    table = {"schema": 1, "rim": RIM, "lip": lip or LIVING, "load": load, "readings": readings or {}}
    return case_from_table(table).problem


def one_layer(poisson, shear=30.0):
    layer = {"thickness_mm": 11.5, "shear_modulus_kpa": shear, "stiffening_kpa": [0.235 * shear, 0.0]}
    return {"layer": [{**layer, "poisson_ratio": poisson}], "tooth_gap_radius_mm": 6.0}


@pytest.fixture(scope="module")
def pressed():
    """A living lip without friction, and one incompressible layer, pressed to rounding."""
    found = {}
    for name, asked in (
        ("living", problem()),
        ("incompressible", problem(one_layer(0.5), mouth_pressure_kpa=0.0, muscle_activation=0.0)),
    ):
        standing = first_readable(asked, None).standing
        found[name] = standing.model, bodies.settle(standing.model, standing.equilibrium.state).state
    return found


@dataclass(frozen=True)
class BothAirs:
    """The mouth's air, and a little on the front."""

    mouth: AirPressure
    front: AirPressure

    def nodal_forces(self, u):
        return self.mouth.nodal_forces(u) + self.front.nodal_forces(u)

    def added(self, u, condensed):
        return self.front.added(u, self.mouth.added(u, condensed))


def increment(model, state, size):
    """(n, 2) mm per MPa: central difference of equilibria under a little air on the front, the rim still."""
    ends = []
    for pressure in (size, -size):
        front = replace(vibration.front_air(model, state), pressure=pressure)
        ends.append(bodies.settle(replace(model, air=BothAirs(model.air, front)), state).state)
    for end in ends:  # else a node has come to the rim or left it, and the answer has a kink
        assert not any(one.same_set(other) for one, other in zip(end.pairs, state.pairs, strict=True))
    return (ends[0].u - ends[1].u) / (2.0 * size)


def missed(model, state, size):
    """Greatest difference of that from the tangent's answer, over the latter's greatest component."""
    load = vibration.front_air(model, state).nodal_forces(state.u)
    linear = SmallLoads.on(model, vibration.held_still(model, state)).displacements(load)
    return np.abs(increment(model, state, size) - linear).max() / np.abs(linear).max()


def test_a_small_load_moves_the_lip_as_a_nonlinear_increment_does(pressed):
    """They come together with the square of the air's pressure, as central differences do."""
    misses = [missed(*pressed["living"], size) for size in (1e-4, 5e-5)]
    assert misses[1] < 2e-4
    assert misses[0] / misses[1] == pytest.approx(4.0, rel=0.2)


def test_an_incompressible_lip_moves_so_too(pressed):
    """A node at the outer end of contact is about to leave the rim, so the air is next to none."""
    assert missed(*pressed["incompressible"], 1e-6) < 1e-6


def test_the_fronts_load_is_its_pressure_times_its_area_seen_along_the_axis(pressed):
    model, state = pressed["living"]
    load, first = vibration.front_load(model, state), np.nonzero(state.pairs[0].active)[0][0]
    surface = model.elements.grid.surface
    radius = (model.elements.grid.nodes + state.u)[surface, 0]
    inside = radius[first // 2 * 2]
    assert -load[:, 1].sum() == pytest.approx(np.pi * (inside**2 - radius[0] ** 2), rel=1e-12)
    assert not load[:, 0].any()


def dense(held, density):
    """All modes by dense algebra on the free motions: squares and shapes as `oscillations` gives them."""
    basis = vibration._free_motions(held).toarray()
    form = WeakForm(held.model.elements.grid, held.model.elements.tissue)
    mass = basis.T @ form.mass(density).toarray() @ basis
    answers = [held.displacements(force.reshape(-1, 2)).ravel() for force in basis.T]
    inverse, vectors = scipy.linalg.eigh(mass @ basis.T @ np.array(answers).T @ mass, mass)
    shapes = (basis @ vectors).T.reshape(len(inverse), -1, 2)
    return vibration.Oscillations(1.0 / inverse[::-1], shapes[::-1])


def test_modes_are_those_of_dense_algebra_and_share_the_static_answer_out(bodies_on_a_rim):
    """A disc under a round rim: contact turns its nodes' directions. Parseval: the shares add up to 1."""
    model, state = bodies_on_a_rim
    held = SmallLoads.on(model, state)
    load = vibration.front_load(model, state)
    every = dense(held, 1.0)
    found = vibration.oscillations(held, 5, 1.0)
    assert found.squares == pytest.approx(every.squares[:5], rel=1e-7)
    assert np.abs(found.shapes).max(axis=(1, 2)) == pytest.approx(np.abs(every.shapes[:5]).max(axis=(1, 2)), rel=1e-5)
    whole = np.vdot(load, held.displacements(load))
    assert every.shares(load).sum() == pytest.approx(whole, rel=1e-8)
    mode = vibration.driven_mode(held, load, 1.0)
    assert mode.share == pytest.approx(every.shares(load).max() / whole, rel=1e-6)


@pytest.fixture
def bodies_on_a_rim():
    mesh = bodies.grid(np.linspace(0.0, 3.0, 10), [-1.0, -0.5, 0.0])
    curve = bodies.torus(1.8, 0.8)
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.4), bodies.disc_fixed(mesh), curve)
    state = bodies.settle(model, bodies.at_rest(model), travel=0.1).state
    assert state.pairs[0].active.any()
    return model, state


def test_mass_is_density_times_volume_whatever_the_deformation(bodies_on_a_rim):
    model, _ = bodies_on_a_rim
    mass = WeakForm(model.elements.grid, model.elements.tissue).mass(2.0)
    along = np.tile([0.0, 1.0], len(model.elements.grid.nodes))
    assert along @ mass @ along == pytest.approx(2.0 * np.pi * 9.0, rel=1e-12)


def test_breaths_skew_part_hardly_moves_the_modes():
    """Against scipy's unsymmetric iteration: under 15 kPa no frequency is off by more than 0.4 %."""
    standing = first_readable(problem(mouth_pressure_kpa=15.0), None).standing
    model, state = standing.model, vibration.held_still(standing.model, standing.equilibrium.state)
    held = SmallLoads.on(model, state)
    assert not held.system.symmetric
    start = held.displacements(vibration.front_load(model, state))
    found = vibration.oscillations(held.symmetrised(), 4, start=start).squares
    basis = vibration._free_motions(held)
    mass = basis.T @ WeakForm(model.elements.grid, model.elements.tissue).mass(vibration.DENSITY) @ basis
    iteration = scipy.sparse.linalg.LinearOperator(
        mass.shape, matvec=lambda x: basis.T @ held.displacements((basis @ (mass @ x)).reshape(-1, 2)).ravel()
    )
    v0 = basis.T @ start.ravel()
    inverse = scipy.sparse.linalg.eigs(iteration, 4, which="LM", return_eigenvectors=False, v0=v0)
    exact = np.sort(1.0 / inverse.real)
    assert np.abs(inverse.imag).max() < 1e-8 * np.abs(inverse).max()
    assert np.sqrt(found) == pytest.approx(np.sqrt(exact), rel=0.004)


def test_vibration_is_told_only_where_it_is_asked_for():
    asked, silent = (
        solve(problem(one_layer(0.49), {"vibration": said}, mouth_pressure_kpa=0.0, muscle_activation=0.0))
        for said in (True, False)
    )
    assert silent.mode is None
    assert silent.measures.lip_mode_hz is None
    assert silent.measures.lip_compliance_um_per_kpa is None
    assert asked.mode.frequency_hz == asked.measures.lip_mode_hz
    assert asked.mode.shape.shape == asked.section.rest.shape
    none: dict[str, None] = {"lip_mode_hz": None, "lip_compliance_um_per_kpa": None}
    assert replace(asked.measures, errors={**asked.measures.errors, **none}, **none) == silent.measures


def test_four_times_as_stiff_under_four_times_the_force_vibrates_twice_as_fast():
    """Similarity: stresses scale with the stiffness, shapes do not; omega^2 goes with it and compliance against it."""
    none = {"mouth_pressure_kpa": 0.0, "muscle_activation": 0.0}
    soft, stiff = (
        solve(problem(one_layer(0.49, 30.0 * times), {"vibration": True}, force_n=10.0 * times, **none)).measures
        for times in (1, 4)
    )
    assert stiff.lip_mode_hz == pytest.approx(2.0 * soft.lip_mode_hz, rel=1e-4)
    assert stiff.lip_compliance_um_per_kpa == pytest.approx(0.25 * soft.lip_compliance_um_per_kpa, rel=1e-4)
