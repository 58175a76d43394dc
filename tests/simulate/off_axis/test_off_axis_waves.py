"""The harmonic's element matrices, air and numbering: against differences in three dimensions, and against rounding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.simulate.contact.air import SHAPE, SLOPE, WEIGHTS, AirPressure
from labrum.simulate.contact.signorini import Pair
from labrum.simulate.equilibrium.linearised import linearise
from labrum.simulate.off_axis.air import edge_tangents
from labrum.simulate.off_axis.factors import factorised
from labrum.simulate.off_axis.harmonic import Base, Cause
from labrum.simulate.off_axis.motions import Descent, Shift, Tilt
from labrum.simulate.off_axis.numbering import Numbering
from labrum.simulate.off_axis.waves import Waves, gradient_map
from labrum.simulate.tissue.elements import Elements
from labrum.simulate.tissue.known_laws import STANDARD_LAW
from labrum.simulate.tissue.law import Tissue
from tests import bodies

PLACES = ((0, 0), (0, 2), (2, 0), (2, 2), (1, 1), (0, 1), (1, 0), (1, 2), (2, 1))  # rows r t z, columns R T Z


def muscle(count, inverse_bulk=0.01):
    values = (0.03, 0.008, 0.002, inverse_bulk, 0.02)
    return Tissue(*(np.full((count, 1), value) for value in values))


def energy_in_space(f, p, tissue):
    """The law's energy of a full 3 x 3 gradient, fibre along Theta."""
    j = np.linalg.det(f)
    x = j ** (-2.0 / 3.0) * np.sum(f * f) - 3.0
    shear, second, third, inverse, active = (float(k[0, 0]) for k in (
        tissue.shear, tissue.second, tissue.third, tissue.inverse_bulk, tissue.active))  # fmt: skip
    fibre = active * (np.linalg.norm(f[:, 1]) - 1.0)
    return 0.5 * shear * x + second * x**2 + third * x**3 + p * (j - 1.0) - 0.5 * p**2 * inverse + fibre


def test_tangent_is_the_second_difference_of_the_energy_in_space():
    five, p, tissue = np.array([1.2, 0.15, -0.2, 0.8, 1.1]), 0.013, muscle(1)
    base = np.zeros((3, 3))
    for value, place in zip(five, PLACES, strict=False):
        base[place] = value
    step, hessian = 1e-3, np.zeros((9, 9))
    for m in range(9):
        for n in range(9):
            for sm, sn in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
                f = base.copy()
                f[PLACES[m]] += sm * step
                f[PLACES[n]] += sn * step
                hessian[m, n] += sm * sn * energy_in_space(f, p, tissue) / (4.0 * step**2)
    f, pressure = five[None, None], np.full((1, 1), p)
    scale = np.abs(hessian).max()
    assert np.abs(hessian[:5, :5] - STANDARD_LAW.stress_and_tangent(f, pressure, tissue)[1][0, 0]).max() < 1e-4 * scale
    assert np.abs(hessian[5:, 5:] - STANDARD_LAW.sine_tangent(f, pressure, tissue)[0, 0]).max() < 1e-4 * scale
    assert np.abs(hessian[:5, 5:]).max() < 1e-9 * scale


def test_the_gradient_is_that_of_a_wave_in_space():
    """Differences of a moved place in Cartesian coordinates, turned into the cylinder's directions."""
    order, r, angle, z = 3, 2.0, 0.7, 0.4

    def moved(r, t, z):
        u = np.array([0.3 * r + 0.1 * z, 0.2 * r * z, 0.5 * z - 0.1 * r**2]) * np.array(
            [np.cos(order * t), np.sin(order * t), np.cos(order * t)]
        )
        return np.array([u[0] * np.cos(t) - u[1] * np.sin(t), u[0] * np.sin(t) + u[1] * np.cos(t), u[2]])

    h = 1e-5
    along = [
        (moved(r + h, angle, z) - moved(r - h, angle, z)) / (2 * h),
        (moved(r, angle + h, z) - moved(r, angle - h, z)) / (2 * h * r),
        (moved(r, angle, z + h) - moved(r, angle, z - h)) / (2 * h),
    ]
    turn = np.array([[np.cos(angle), np.sin(angle), 0], [-np.sin(angle), np.cos(angle), 0], [0, 0, 1.0]])
    found = turn @ np.column_stack(along)
    value = np.array([0.3 * r + 0.1 * z, 0.2 * r * z, 0.5 * z - 0.1 * r**2])
    kinds = np.array([[0.3, 0.1, value[0] / r], [0.2 * z, 0.2 * r, value[1] / r], [-0.2 * r, 0.5, value[2] / r]])
    entries = gradient_map(order) @ kinds.ravel()
    wave = np.array([np.cos(order * angle)] * 5 + [np.sin(order * angle)] * 4)
    assert entries * wave == pytest.approx([found[k] for k in PLACES], abs=1e-8)


@pytest.fixture(scope="module")
def strained():
    """Two layers, muscle below, far from any equilibrium: displacements mm, and pressures MPa."""
    mesh = bodies.grid([0.0, 0.8, 1.7, 3.0], [-2.0, -1.1, 0.0], [1, 0])
    layer = mesh.layer[:, None]
    tissue = Tissue(0.03 + 0.02 * layer, 0.008 + 0.0 * layer, 0.001 * layer, 0.1 * layer, 0.02 * layer)
    r, z = mesh.nodes.T
    u = np.column_stack([0.2 * r + 0.05 * r * z, 0.1 * z - 0.04 * r**2])
    p = np.column_stack([0.01 + 0.002 * np.arange(6), 0.004 * np.ones(6), -0.003 * np.ones(6)])
    return Elements(mesh, tissue), u, p


def test_a_law_that_says_nothing_of_the_sine_part_is_refused(strained):
    elements, u, p = strained

    class Flat:
        """The three methods that every law has, and no more."""

        name, compiled = "flat", None
        energy, stress, stress_and_tangent = (
            STANDARD_LAW.energy, STANDARD_LAW.stress, STANDARD_LAW.stress_and_tangent
        )  # fmt: skip

    with pytest.raises(TypeError, match="flat"):
        Waves.about(replace(elements, law=Flat()), u, p).matrices(1)


@pytest.mark.parametrize("order", [0, 1])
def test_rigid_motions_only_turn_the_inner_forces(strained, order):
    """Objectivity, at any state of strain: the tangent times a rigid motion is the inner force, turned; no volume."""
    elements, u, p = strained
    grid = elements.grid
    matrices = Waves.about(elements, u, p).matrices(order)
    inner, places = elements.forces(u, p).force.reshape(-1, 2), (grid.nodes + u)[grid.quads].reshape(-1, 2)
    none = np.zeros(len(places))
    moves = [(Descent().at(places), np.zeros((len(places), 3)))]
    if order == 1:
        tilt = Tilt(0.3)
        moves = [(Shift().at(places), np.zeros((len(places), 3))), (tilt.at(places), tilt.turned(places, inner))]
    else:  # about the axis: the sine is replaced by one
        moves.append((np.column_stack([none, places[:, 0], none]), np.column_stack([none, inner[:, 0], none])))
    scale = np.abs(matrices.stiffness).max() * np.abs(places).max()
    for motion, turned in moves:
        field = motion.reshape(len(grid.quads), 27)
        found = np.einsum("eij,ej->ei", matrices.stiffness, field)
        wanted = turned.reshape(field.shape) * (1.0 if order == 0 else 0.5)
        assert np.abs(found - wanted).max() < 1e-13 * scale
        assert np.abs(np.einsum("eik,ei->ek", matrices.coupling, field)).max() < 1e-12


def test_matrices_are_symmetric_and_forces_are_their_own(strained):
    elements, u, p = strained
    waves = Waves.about(elements, u, p)
    stiffness = waves.matrices(2).stiffness
    assert np.abs(stiffness - stiffness.swapaxes(1, 2)).max() < 1e-14
    entries = np.zeros((*waves.p.shape, 9))
    entries[..., :5] = waves.stress
    found = waves.forces(0, entries).reshape(-1, 9, 3)
    assert found[..., ::2] == pytest.approx(elements.forces(u, p).force, abs=1e-15)
    assert np.all(found[..., 1] == 0.0)


@pytest.mark.parametrize("order", [0, 1, 2, 5])
def test_air_is_the_difference_of_its_forces_in_space(order):
    """Force on every shape function's wave, integrated over the moved face in Cartesian coordinates."""
    rng = np.random.default_rng(order)
    place = np.array([[1.0, -0.2], [1.4, 0.1], [2.1, 0.15]])
    pressure = 0.01 * np.array([1.0, 0.8, 0.5, 0.3])
    angles = 2.0 * np.pi * np.arange(64) / 64
    wave = np.stack([np.cos(order * angles), np.sin(order * angles), np.cos(order * angles)])
    slope_of_wave = order * np.stack([-np.sin(order * angles), np.cos(order * angles), -np.sin(order * angles)])
    if order == 0:
        wave[1] = 1.0

    def works(amplitude):
        """(9,) work of the air on unit waves of the nodes' (U, V, W) when they have moved by (3, 3) amplitudes."""
        u, du = np.einsum("ga,ai->gi", SHAPE, amplitude), np.einsum("ga,ai->gi", SLOPE, amplitude)
        x, dx = SHAPE @ place, SLOPE @ place
        total = np.zeros((3, 3))
        for k in range(len(angles)):
            along = np.column_stack([dx[:, 0], 0 * dx[:, 0], dx[:, 1]]) + du * wave[:, k]
            here = np.column_stack([x[:, 0], 0 * x[:, 0], x[:, 1]]) + u * wave[:, k]
            around = u * slope_of_wave[:, k]
            around = around + np.column_stack([-here[:, 1], here[:, 0], 0 * here[:, 0]])
            push = np.cross(along, around)
            total += np.einsum("g,ga,gi->ai", WEIGHTS * pressure, SHAPE, push * wave[:, k]) * 2.0 * np.pi / 64
        return total.ravel()

    exact = edge_tangents(place[None], pressure[None], order)[0]
    amplitude = rng.normal(size=(3, 3))
    h = 1e-6
    found = (works(h * amplitude) - works(-h * amplitude)) / (2.0 * h)
    assert exact @ amplitude.ravel() == pytest.approx(found, abs=1e-9)


def test_numbering_assembles_like_a_dense_sum():
    mesh = bodies.grid([0.0, 1.0, 2.5, 3.0], [-2.0, -1.0, 0.0])
    numbering = Numbering(mesh)
    blocks = np.random.default_rng(1).normal(size=(6, 24, 24))
    dense = np.zeros((numbering.size, numbering.size))
    for equations, block in zip(numbering.element_equations, blocks, strict=True):
        dense[np.ix_(equations, equations)] += block
    assert numbering.matrix(blocks).toarray() == pytest.approx(dense, abs=1e-14)
    values = np.arange(2.0 * numbering.size).reshape(-1, 2)
    assert np.array_equal(numbering.gather(numbering.spread(values)), values)


def pressed(poisson=0.5, friction=0.0, sliding=False, opening=0.0, breath=0.0):
    """A round rim pressed into a small lip of muscle, bonded or sliding, with air behind it near the axis."""
    columns = np.concatenate([np.linspace(opening, 3.0, 5), np.linspace(3.2, 5.0, 9), [5.5, 6.5, 8.0, 10.0]])
    mesh = bodies.grid(columns, [-4.0, -2.8, -1.6, -0.8, -0.3, 0.0])
    fixed = bodies.nothing_fixed(mesh)
    others = ()
    if sliding:
        teeth = bodies.chain((15.0, -4.0, 0.0), (-1.0, -4.0, 0.0))
        others = (Pair("teeth", teeth, mesh.back, False),)
    else:
        fixed[mesh.back[mesh.node_columns >= 1.5 - 1e-9]] = True
    if opening == 0.0:
        fixed[mesh.inner_edge, 0] = True
    air = AirPressure.behind(mesh, 1.5, breath)
    material = bodies.tissue(len(mesh.quads), 0.03, poisson, second=0.007, active=0.01)
    model = bodies.body(mesh, material, fixed, bodies.torus(4.0, 1.2), friction, others, air)
    state = bodies.at_rest(model)
    if sliding:
        seen = state.pairs[1]
        state = replace(state, pairs=(state.pairs[0], replace(seen, active=np.ones(len(mesh.back), bool))))
    found = None
    for travel in (0.15, 0.4, 0.8):
        found = bodies.settle(model, bodies.with_feet_settled(model, state), travel=travel, residual=1e-11)
        state = found.state
    return model, state


@pytest.mark.parametrize(
    "how",
    [{}, {"poisson": 0.4}, {"friction": 0.2}, {"sliding": True, "opening": 0.5}, {"breath": 0.002}],
    ids=["incompressible", "compressible", "friction", "sliding", "breath"],
)
def test_no_wave_at_all_is_the_axisymmetric_tangent(how):
    model, state = pressed(**how)
    system = linearise(model, state, bodies.frames(model, state))
    per_travel, standing = system.step_to_travel(1.0), system.step_to_travel(0.0)
    base = Base(model, state)
    (found,) = base.harmonic(0).answers([Cause(Descent())])
    scale = np.abs(per_travel.u).max()
    assert np.abs(found.u[:, ::2] - (per_travel.u - standing.u)).max() < 2e-9 * scale
    assert np.abs(found.u[:, 1]).max() == 0.0
    change = per_travel.p - standing.p
    assert np.abs(found.p - change).max() < 2e-9 * np.abs(change).max()
    force = -found.forces[base.touches[0].at, 2].sum()
    # the base's own stiffness, a slope for its steps, is left at the small compliance that eliminates nu = 1/2
    assert force == pytest.approx(system.stiffness, rel=1e-9 if model.missing_compliance is None else 3e-4)


@pytest.mark.parametrize("how", [{}, {"breath": 0.002}], ids=["symmetric", "air"])
def test_the_compiled_solver_answers_as_the_plain_one(how):
    model, state = pressed(**how)
    library = model.elements.library
    if library is None:
        pytest.skip("no compiled kernels here")
    harmonic = Base(model, state).harmonic(1)
    rng = np.random.default_rng(5)
    wanted = rng.normal(size=(len(harmonic.system.known), 3))
    found, plain = (factorised(harmonic.system, one)(wanted) for one in (library, None))
    assert np.abs(found - plain).max() < 1e-8 * np.abs(plain).max()
    assert np.abs(harmonic.system.masked_product(found) - wanted).max() < 1e-7


def test_a_singular_harmonic_is_refused():
    model, state = pressed()
    system = Base(model, state).harmonic(1).system
    with pytest.raises(np.linalg.LinAlgError):
        factorised(replace(system, blocks=0.0 * system.blocks, known=np.zeros_like(system.known)), None)
