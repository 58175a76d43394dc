"""Simple bodies bent, sheared and buckled by one wave of the angle, against elementary mechanics.

- Simple shear of a block: exact; a thin bonded layer: G A / h, in the limit of a wide one.
- A round column, one end held and the other shifted without turning: Timoshenko's beam, 1 / K = L^3 / (12 E I) + L /
  (k G A), k = 6 (1 + nu) / (7 + 6 nu) (Cowper 1966); under an axial load P the beam-column, P / L / (2 tan(q L / 2) /
  (q L) - 1) with q^2 = P / (E I), which turns soft without bound at Euler's load, pi^2 E I / L^2, less by shear after
  Engesser (Timoshenko & Gere, Theory of Elastic Stability, 1961). All from memory.
- Tissue that is stiffer or thicker: the difference of two presses of the axisymmetric solver (n = 0).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.meshes.grids.grid import Grid
from labrum.simulate.off_axis.harmonic import Base, Cause
from labrum.simulate.off_axis.lips import stiffer, thicker
from labrum.simulate.off_axis.motions import Descent, Shift
from labrum.simulate.off_axis.readings import work_of
from labrum.simulate.off_axis.waves import Waves
from labrum.simulate.tissue.elements import Elements
from tests import bodies

STUCK = 50.0  # friction that lets nothing slip


def test_simple_shear_is_exact():
    mesh = bodies.grid([0.0, 0.7, 1.5, 2.0], [-1.0, -0.6, 0.0])
    elements = Elements(mesh, bodies.tissue(len(mesh.quads), 2.0, 0.5))
    rest = np.zeros((len(mesh.nodes), 2))
    matrices = Waves.about(elements, rest, np.zeros((len(mesh.quads), 3))).matrices(1)
    height = mesh.nodes[:, 1] + 1.0
    field = np.column_stack([height, -height, 0.0 * height])[mesh.quads].reshape(-1, 27)
    forces = np.zeros((len(mesh.nodes), 3))
    np.add.at(forces, mesh.quads.ravel(), np.einsum("eij,ej->ei", matrices.stiffness, field).reshape(-1, 3))
    assert np.abs(np.einsum("eik,ei->ek", matrices.coupling, field)).max() < 1e-12
    top = mesh.surface
    assert (forces[top, 0] - forces[top, 1]).sum() == pytest.approx(2.0 * np.pi * 2.0**2, rel=1e-12)
    inside = np.ones(len(forces), bool)
    inside[np.concatenate([top, mesh.back, np.arange(len(forces))[-mesh.nodes_per_column :]])] = False
    assert np.abs(forces[inside]).max() < 1e-12


def clamped(mesh, poisson, shear=1.0, travel=0.0):
    """A disc or column bonded below, its whole top stuck to a flat rim that has gone down by ``travel`` mm."""
    material = bodies.tissue(len(mesh.quads), shear, poisson)
    model = bodies.body(mesh, material, bodies.disc_fixed(mesh), bodies.line((0.0, 0.0), (1e3, 0.0)), STUCK)
    state = bodies.at_rest(model)
    status = state.pairs[0]
    every = np.ones(len(status.active), bool)
    state = replace(state, pairs=(replace(status, active=every, stuck=every),))
    return Base(model, bodies.settle(model, state, travel=travel).state if travel else state)


def against_shift(base):
    (found,) = base.harmonic(1).answers([Cause(Shift())])
    return work_of(base, found, Shift(), Shift(), -base.state.travel)


def test_a_wide_bonded_layer_shears_by_area_over_thickness(compare):
    lacks = []
    for radius in (10.0, 20.0, 40.0):
        columns = np.concatenate([np.linspace(0.0, radius - 3.0, 6), radius - np.array([2.0, 1.2, 0.6, 0.25, 0.0])])
        mesh = bodies.grid(columns, [-1.0, -0.9, -0.65, -0.35, -0.1, 0.0])
        lacks.append(1.0 - against_shift(clamped(mesh, 0.5)) / (np.pi * radius**2))
    note = "to first order in h / R, what is left by the edge"
    compare("bonded layer, lateral: K h / (G A), extrapolated", 1.0 - (2.0 * lacks[2] - lacks[1]), 1.0, 0.02, note)
    assert np.log2(lacks[1] / lacks[2]) == pytest.approx(1.0, abs=0.1)


LENGTH, RADIUS, SHEAR = 40.0, 1.0, 1.0
POISSON = 0.0  # so that held ends do not keep the column from growing wider, as they would not a beam
YOUNG, AREA, SECOND = 2.0 * SHEAR, np.pi * RADIUS**2, np.pi * RADIUS**4 / 4.0
SHEARED = 6.0 / 7.0 * SHEAR * AREA  # k G A


def column(across, along):
    return bodies.grid(np.linspace(0.0, RADIUS, across + 1), np.linspace(-LENGTH, 0.0, along + 1))


def test_a_column_bends_as_timoshenkos_beam(compare, rate):
    exact = 1.0 / (LENGTH**3 / (12.0 * YOUNG * SECOND) + LENGTH / SHEARED)
    found = np.array([against_shift(clamped(column(n, 6 * n), POISSON)) for n in (1, 2, 4)])
    order = rate(np.diff(found))
    compare("column, end shifted: N/mm", found[-1], exact, 0.5, f"rate {order:.1f}")
    assert order > 1.9


def test_a_column_under_load_buckles_at_eulers_load(compare):
    """The stiffness against a shift falls with the load as the beam-column's, and vanishes at Euler's load."""
    loads, found = [], []
    for share in (0.0, 0.5, 0.95, 1.0):
        euler = np.pi**2 * YOUNG * SECOND / LENGTH**2
        base = clamped(column(2, 20), POISSON, travel=share * euler * LENGTH / (YOUNG * AREA))
        loads.append(float(-base.touches[0].forces[:, 1].sum()))
        found.append(against_shift(base))
    loads, found = np.array(loads), np.array(found)
    half = np.sqrt(loads[1] / (YOUNG * SECOND)) * LENGTH
    exact = loads[1] / LENGTH / (2.0 * np.tan(0.5 * half) / half - 1.0)
    soft = 12.0 * YOUNG * SECOND / LENGTH**3
    compare("column at half Euler's load: K / K unloaded", found[1] / found[0], exact / soft, 0.5, "shear left out")
    critical = loads[2] + found[2] * (loads[3] - loads[2]) / (found[2] - found[3])
    engesser = euler / (1.0 + euler / SHEARED)
    compare("column buckles at N", critical, engesser, 0.5, "strains of 0.15 % there")


def layered_press(rows, scale=1.0, travel=0.5, poisson=0.48):
    """A round rim pressed into a small bonded lip of muscle, all that is passive ``scale`` times as stiff."""
    columns = np.concatenate([np.linspace(0.0, 3.0, 6), np.linspace(3.2, 5.0, 10), [5.5, 6.5, 8.0, 10.0]])
    mesh = Grid(columns, np.asarray(rows), np.zeros(len(rows) - 1, int))
    material = bodies.tissue(len(mesh.quads), 0.03, poisson, second=0.007, active=0.01)
    material = replace(
        material, shear=scale * material.shear, second=scale * material.second,
        third=scale * material.third, inverse_bulk=material.inverse_bulk / scale,
    )  # fmt: skip
    model = bodies.body(mesh, material, bodies.disc_fixed(mesh), bodies.torus(4.0, 1.2))
    state = bodies.at_rest(model)
    for part in (0.3, 0.6, 1.0):
        state = bodies.settle(model, state, travel=part * travel, residual=1e-11).state
    return Base(model, state)


ROWS = np.array([-4.0, -2.8, -1.6, -0.8, -0.3, 0.0])


@pytest.mark.parametrize("poisson", [0.48, 0.5])
@pytest.mark.parametrize("what", ["stiffer", "thicker"])
def test_tissue_all_around_stiffer_or_thicker_is_the_difference_of_two_presses(compare, what, poisson):
    """The back stays where it is; the rim stands still, so it has gone as much further as the surface is higher."""
    step, base = 1e-4, layered_press(ROWS, poisson=poisson)
    cause = stiffer(base, 0) if what == "stiffer" else thicker(base, 0)
    (found,) = base.harmonic(0).answers([cause])
    force = -found.forces[base.touches[0].at, 2].sum()

    def pressed(eps):
        if what == "stiffer":
            return layered_press(ROWS, 1.0 + eps, poisson=poisson)
        return layered_press(ROWS * (1.0 + eps), travel=0.5 + 4.0 * eps, poisson=poisson)

    ahead, behind = pressed(step), pressed(-step)
    assert np.array_equal(ahead.state.pairs[0].active, behind.state.pairs[0].active)
    loads = [float(-k.touches[0].forces[:, 1].sum()) for k in (ahead, behind)]
    difference = (loads[0] - loads[1]) / (2.0 * step)
    compare(f"all {what}, nu {poisson:g}: force over eps", force, difference, 0.01, "two axisymmetric presses")
    places = [k.model.elements.grid.nodes + k.state.u for k in (ahead, behind)]
    moved = (places[0] - places[1]) / (2.0 * step)
    if what == "thicker":  # seen from the back, which here is where the taller lip's own surface is counted from
        moved[:, 1] += 4.0
    assert np.abs(found.u[:, ::2] - moved).max() < 1e-4 * np.abs(moved).max()


def test_a_descent_by_the_whole_field_costs_what_the_press_says():
    base = layered_press(ROWS)
    (found,) = base.harmonic(0).answers([Cause(Descent())])
    further = layered_press(ROWS, travel=0.5 + 1e-4)
    behind = layered_press(ROWS, travel=0.5 - 1e-4)
    loads = [float(-k.touches[0].forces[:, 1].sum()) for k in (further, behind)]
    assert -found.forces[base.touches[0].at, 2].sum() == pytest.approx((loads[0] - loads[1]) / 2e-4, rel=1e-5)
