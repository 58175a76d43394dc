"""The whole linearised system against differences of the residual, one Newton step at a time.

A step taken from x must solve the linearised equations: the slope of every residual along the step is minus the
residual itself. Tissue, air, springs, contact with its curvature, friction stuck and sliding, and the rim's travel
all enter the slope, so a missing term shows.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.simulate.contact.air import AirPressure
from labrum.simulate.contact.signorini import Pair
from labrum.simulate.equilibrium.linearised import linearise
from labrum.simulate.equilibrium.model import look, rim_force
from tests import bodies

MU = 0.4


@pytest.fixture(params=[0.3, 0.5], ids=["compressible", "incompressible"])
def model(request):
    """A disc under a round rim, with air behind its middle, springs beside it and a second, fixed curve below."""
    mesh = bodies.grid(np.linspace(0.0, 2.0, 5), [-1.0, -0.55, 0.0])
    fixed = bodies.disc_fixed(mesh)
    fixed[mesh.back] = [False, False]
    fixed[mesh.back[-2:]] = True
    fixed[mesh.inner_edge, 0] = True
    curve = bodies.torus(1.1, 0.6)
    below = Pair("teeth", bodies.line((4.0, -1.0), (-1.0, -1.0)), mesh.back[3:-2], False)
    air = AirPressure.behind(mesh, 1.0, 0.05)
    tissue = bodies.tissue(len(mesh.quads), 1.0, request.param, 0.2, 0.1, 0.1)
    whole = bodies.body(mesh, tissue, fixed, curve, MU, (below,), air)
    springs = np.zeros(mesh.nodes.shape)
    springs[mesh.back[1:3]] = [0.7, 0.4]
    springs[mesh.surface[4:]] = [0.3, 0.8]  # under the rim too, where directions turn
    return replace(whole, springs=springs)


def touching(model, stuck, travel=0.08):
    """A state off balance, nodes near the curve made to touch it; ``stuck`` tells which of them stick."""
    random = np.random.default_rng(11)
    mesh = model.elements.grid
    u = np.where(model.pattern.fixed, 0.0, 0.02 * random.uniform(-1.0, 1.0, mesh.nodes.shape))
    state = replace(bodies.at_rest(model), u=u, travel=travel, p=0.1 * random.uniform(-1, 1, (len(mesh.quads), 3)))
    seen = look(model, state)
    pairs = []
    for pair, status, near in zip(model.pairs, state.pairs, seen, strict=True):
        active = near.distance < 0.06
        assert 2 <= active.sum() < len(active) or not pair.moving
        pairs.append(
            replace(
                status,
                active=active,
                stuck=active & stuck(np.cumsum(active)) & pair.moving,
                direction=np.where(np.arange(len(active)) % 2, 1.0, -1.0) * (pair.friction > 0.0),
                anchor=near.arc_length + 0.01 * random.uniform(-1.0, 1.0, len(active)),
            )
        )
    return replace(state, pairs=tuple(pairs))


def residuals(model, state):
    """Every equation's miss: balance and friction (N), volume (mm3), gaps and slides (mm)."""
    seen = look(model, state)
    forces = model.elements.forces(state.u, state.p)
    nodal = bodies.reactions(model, state)
    free = nodal.copy()
    gaps, slides = [], []
    for pair, status, near in zip(model.pairs, state.pairs, seen, strict=True):
        on = status.active
        tangent = np.column_stack([-near.normal[:, 1], near.normal[:, 0]])
        along = np.einsum("ki,ki->k", tangent, nodal[pair.nodes])
        across = np.einsum("ki,ki->k", near.normal, nodal[pair.nodes])
        sliding = along + pair.friction * status.direction * across
        free[pair.nodes[on]] = np.column_stack([np.where(status.stuck, 0.0, sliding), 0.0 * along])[on]
        gaps.append(near.distance[on])
        slides.append((near.arc_length - status.anchor)[status.stuck])
    free[model.pattern.fixed] = 0.0
    return np.concatenate([free.ravel(), forces.volume.ravel()]), np.concatenate(gaps), np.concatenate(slides)


def moved_along(state, step, share):
    return replace(
        state,
        u=state.u + share * step.u,
        p=state.p + share * step.p,
        travel=state.travel + share * step.travel,
    )


def slope_along(rule, state, step, size=1e-5):
    return (rule(moved_along(state, step, size)) - rule(moved_along(state, step, -size))) / (2 * size)


STICKING = {
    "slips": lambda count: np.zeros(len(count), bool),
    "sticks": lambda count: np.ones(len(count), bool),
    "half sticks": lambda count: count % 2 == 0,
}


@pytest.mark.parametrize("way", STICKING)
@pytest.mark.parametrize("drive", [{"travel": 0.013}, {"force": 0.9}], ids=["travel", "force"])
def test_step_solves_the_linearised_equations(model, way, drive):
    state = touching(model, STICKING[way])
    step = bodies.step_of(model, state, **drive)
    balance, gaps, slides = residuals(model, state)
    assert np.abs(balance).max() > 1e-2
    slopes = [slope_along(lambda s, k=k: residuals(model, s)[k], state, step) for k in range(3)]
    np.testing.assert_allclose(slopes[0], -balance, atol=2e-6 * np.abs(balance).max())
    np.testing.assert_allclose(slopes[1], -gaps, atol=1e-9)
    # A foot on an arc moves less than a node off it, by gap times bend: the step takes the node's own way.
    seen, status = look(model, state)[0], state.pairs[0]
    share = (1.0 - seen.distance * seen.hessian)[status.stuck]
    np.testing.assert_allclose(slopes[2], -slides * share, atol=1e-9)


@pytest.mark.parametrize("way", STICKING)
def test_step_meets_its_drive(model, way):
    state = touching(model, STICKING[way])

    def force(s):
        return rim_force(model, s, model.elements.forces(s.u, s.p))

    step = bodies.step_of(model, state, force=0.9)
    assert force(state) + slope_along(force, state, step) == pytest.approx(0.9, abs=1e-7)
    assert bodies.step_of(model, state, travel=0.013).travel == 0.013


@pytest.mark.parametrize("way", STICKING)
def test_linearised_reactions_are_the_reactions_one_step_on(model, way):
    state = touching(model, STICKING[way])
    step = bodies.step_of(model, state, travel=0.013)
    nodal = bodies.reactions(model, state)
    nodal = nodal + slope_along(lambda s: bodies.reactions(model, s), state, step)
    frame, pair, on = bodies.frames(model, state)[0], model.pairs[0], state.pairs[0].active
    across = np.einsum("ki,ki->k", frame.normal, nodal[pair.nodes])[on]
    np.testing.assert_allclose(step.reaction[pair.nodes[on], 1], across, atol=1e-6 * np.abs(across).max())


def test_curvature_matters(model):
    """The bend of the curve is a term of its own: without it the same check fails."""
    state = touching(model, STICKING["slips"])
    frame = bodies.frames(model, state)[0]
    on = state.pairs[0].active
    bending = frame.bending(bodies.reactions(model, state)[model.pairs[0].nodes])[on]
    assert np.abs(bending).max() > 0.1


@pytest.mark.parametrize("friction", [0.0, 0.3])
def test_newton_ends_quadratically(friction):
    """Once the contact is found each residual is a few times the square of the one before, down to rounding."""
    mesh = bodies.grid(np.linspace(0.0, 3.0, 25), np.linspace(-1.5, 0.0, 9))
    tissue = bodies.tissue(len(mesh.quads), 1.0, 0.5, 0.3)
    model = bodies.body(mesh, tissue, bodies.disc_fixed(mesh), bodies.torus(1.5, 0.5), friction)
    state = bodies.at_rest(model)
    for travel in (0.1, 0.2, 0.3, 0.4):
        found = bodies.settle(model, state, travel=travel, residual=1e-12)
        state = bodies.with_feet_settled(model, found.state)
        # residuals[k + 1] follows changes[k]; the contact is found where no change follows.
        found_at = max(np.nonzero(found.changes)[0], default=-1) + 2
        run = np.array(found.residuals[found_at:])
        assert len(run) >= 2
        assert np.all(run[1:] < 15.0 * run[:-1] ** 2 + 1e-13)


def test_a_step_from_equilibrium_stays_there(model):
    found = bodies.settle(model, bodies.at_rest(model), travel=0.1, residual=1e-12)
    step = bodies.step_of(model, found.state)
    assert np.abs(step.u).max() < 1e-9
    assert step.travel == 0.0


def chord_of(model, state, there):
    """The system of ``state`` against the forces of ``there``."""
    system = linearise(model, state, bodies.frames(model, state))
    volume = model.elements.forces(there.u, there.p).volume
    return system.with_forces_of(there, bodies.frames(model, there), bodies.reactions(model, there), volume)


@pytest.mark.parametrize("way", STICKING)
@pytest.mark.parametrize("drive", [{"travel": 0.013}, {"force": 0.9}], ids=["travel", "force"])
def test_a_step_by_the_last_matrix_is_newtons_step_where_the_state_stayed(model, way, drive):
    """And one as far off as the state went: of first order, as the chord method is."""
    state = touching(model, STICKING[way])
    step, off = bodies.step_of(model, state, **drive), []
    for share in (0.0, 2e-4, 1e-4):
        there = moved_along(state, step, share)
        chord = chord_of(model, state, there)
        by_chord = chord.step_to_travel(0.013) if "travel" in drive else chord.step_to_force(0.9)
        by_newton = bodies.step_of(model, there, **drive)
        off.append(float(np.linalg.norm(by_chord.u - by_newton.u) + abs(by_chord.travel - by_newton.travel)))
    size = float(np.linalg.norm(step.u))
    assert off[0] < 1e-10 * size
    assert off[1] < 1e-2 * size
    assert off[1] / off[2] == pytest.approx(2.0, rel=0.05)
