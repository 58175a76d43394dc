"""Checks 6 and 7: large strain, where no closed form covers the contact, and what could not be had.

- An independent large-strain solver (``large_strain_reference.py``, on scikit-fem) presses a rough die into a
disc. - A sphere goes as deep as its own radius into an incompressible neo-Hookean block: finer grids agree. Du
et al. (arXiv
  2209.05646) give a second-order formula for it; only its abstract could be read (within 1 % of finite elements
  to a depth of one radius), not the formula, so no number of theirs is used. The fall below Hertz is recorded.
- A rim on the average lip at a playing load against a mesh of four times the unknowns.

Left out: NAFEMS LE11 needs thermal strain and a mesh that is no tensor grid, LE7 a spherical shell, and the 2006
contact benchmark with the rounded punch presses two elastic bodies together; none can be posed here. Lame's tube
(``test_inflated_walls.py``) and the two independent solvers stand in their place.
"""

from __future__ import annotations

import numpy as np
import pytest

from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions
from labrum.simulate.accuracy.refinement import ANSWER, reading_of
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.load_path.build import Stage
from labrum.simulate.load_path.press import HOME, StepLengths, hold, press
from labrum.simulate.main_job.effort import Effort
from labrum.simulate.problem import Accuracy, Layer, Lip, Load, Problem
from labrum.simulate.readings.measures import cup_reading
from labrum.simulate.solving import silent
from tests import bodies
from tests.published import large_strain_reference


def die(r):
    """How deep the die goes, mm: two fifths of the disc's height on the axis, nothing at its edge."""
    return 0.2 * (1.0 + np.cos(0.5 * np.pi * r))


def pressed_die(count):
    mesh = bodies.grid(np.linspace(0.0, 2.0, 2 * count + 1), np.linspace(-1.0, 0.0, count + 1))
    fixed = bodies.disc_fixed(mesh)
    fixed[mesh.surface] = True
    moved = np.column_stack([np.zeros(len(mesh.nodes)), -die(mesh.nodes[:, 0]) * (1.0 + mesh.nodes[:, 1])])
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.5, 0.3), fixed)
    state = bodies.held(model, moved, steps=6).state
    force = -bodies.reactions(model, state)[mesh.surface, 1].sum()
    return force, (mesh.nodes + state.u)[-mesh.nodes_per_column :]


def test_rough_die_against_an_independent_solver(compare, rate):
    """Two discretisations on one mesh: what is between them shrinks with it."""
    apart = []
    for count in (4, 8):
        radii, heights = np.linspace(0.0, 2.0, 2 * count + 1), np.linspace(-1.0, 0.0, count + 1)
        other = large_strain_reference.rough_die(radii, heights, die, 1.0, 0.3, 6)
        force, edge = pressed_die(count)
        apart.append(force / other.force - 1.0)
    assert rate(apart) > 1.5
    name = "rough die, two fifths of the height deep"
    compare(f"{name}: force N", force, other.force, 0.5, f"apart at rate {rate(apart):.1f}")
    compare(f"{name}: bulge of the free edge mm", edge[:, 0].max() - 2.0, other.r.max() - 2.0, 1.0)


def sunk_sphere(count, depth, steps):
    """Force over Hertz's of a sphere of radius 1 at ``depth`` in a block 40 wide and deep, mu = 1, nu = 0.5."""
    ratio = 1.5 ** (6.0 / count)
    near = np.linspace(0.0, 1.25, 5 * count // 4 + 1)
    columns = np.concatenate([near, near[-1] + bodies.growing(1.0 / count, ratio, 40.0)[1:]])
    mesh = bodies.grid(columns, -bodies.growing(1.0 / count, ratio, 40.0)[::-1])
    tissue = bodies.tissue(len(mesh.quads), 1.0, 0.5)
    model = bodies.body(mesh, tissue, bodies.disc_fixed(mesh), bodies.sphere(1.0, 1.5))
    state = bodies.at_rest(model)
    for travel in np.linspace(0.0, depth, steps + 1)[1:]:
        found = bodies.settle(model, state, travel=travel, residual=1e-8)
        state = found.state
    return found.force / (16.0 / 3.0 * depth**1.5)


@pytest.mark.parametrize(
    ("depth", "steps", "counts"), [(0.5, 12, (4, 8)), pytest.param(1.0, 40, (8, 16), marks=pytest.mark.slow)]
)
def test_deep_sphere_converges(compare, depth, steps, counts):
    shares = [sunk_sphere(count, depth, steps) for count in counts]
    assert 0.8 < shares[1] < 0.95  # far below Hertz
    compare(f"sphere {depth:g} radii deep: force over Hertz, two grids", shares[0], shares[1], 1.5, "no outside number")


def playing(force, bite, friction=0.0):
    """The average lip at playing stiffness (mu = E / 2(1 + nu)) under a rim of ordinary dimensions."""
    stiffness = {"skin": (1.2, 0.150), "core": (9.4, 0.080), "mucosa": (0.9, 0.050)}
    layers = tuple(
        Layer(name, h, e / 2.99, (0.235 * e / 2.99, 0.0), 0.495, False) for name, (h, e) in stiffness.items()
    )
    rim = rim_from_dimensions(RimDimensions(16.5, 5.2, 0.45, bite, 6.0, 8.0, 1.8, 60.0, 10.0))
    lip = Lip(layers, 25.0, 0.0, "bonded", 0.0, edge="free")
    return Problem("playing", rim, lip, Load(force, 0.0, friction, 0.0), Accuracy(1.0))


@pytest.mark.parametrize(
    ("force", "bite", "friction"),
    [
        (20.0, 0.6, 0.0),
        pytest.param(20.0, 0.6, 0.3, marks=pytest.mark.slow),
        pytest.param(10.0, 0.2, 0.0, marks=pytest.mark.slow),
        pytest.param(40.0, 1.2, 0.0, marks=pytest.mark.slow),
    ],
)
def test_rim_agrees_with_a_mesh_of_four_times_the_unknowns(compare, force, bite, friction):
    problem = playing(force, bite, friction)
    run = press(problem, Effort().path, silent)
    runs = [run]
    for fineness in (ANSWER.sharper(), ANSWER.sharper().refined()):
        runs.append(hold(problem, runs[-1], fineness, Stage("hold"), silent))
    assert runs[2].model.unknowns > 3.0 * runs[1].model.unknowns
    name = f"{force:g} N, bite {bite:g}, friction {friction:g}"
    own, finer = (reading_of(problem.rim, k) for k in runs[1:])
    cups = [
        cup_reading(k.model, k.equilibrium.state, problem.rim, traction(k.model, k.equilibrium.state)) for k in runs
    ]
    compare(f"{name}: peak MPa", own.peak, finer.peak, 1.0, f"{runs[1].model.unknowns} unknowns")
    compare(f"{name}: sink mm", runs[1].equilibrium.state.travel, runs[2].equilibrium.state.travel, 0.1)
    compare(f"{name}: felt radius mm", own.felt_radius, finer.felt_radius, 0.1)
    compare(f"{name}: intrusion volume mm3", cups[1].volume, cups[2].volume, 0.1)


def test_history_of_a_press_ends_quadratically():
    """In every step of a press whose waypoints go to rounding, and on a finer grid, the last residual that is not
    rounding.

    The square's factor is the problem's own scale; across fifteen orders of magnitude a thousand is little. What the
    chord method does after Newton's last, to first order, `test_every_step_ends_quadratically` looks at.
    """
    problem = playing(10.0, 0.6)
    run = press(problem, Effort().path, silent, StepLengths(longest=0.05), HOME)
    history = hold(problem, run, ANSWER, Stage("hold"), silent).history
    assert len(history) >= 4
    quadratic = 0
    for step in history:
        assert step.residuals[-1] < 1e-9
        before, last = step.residuals[: len(step.residuals) - step.chords][-2:]
        assert last < 1e3 * before**2 + 1e-11, step
        quadratic += last < 1e3 * before**2 and before < 1e-3
    assert quadratic >= len(history) // 2
