"""Every solver of the chain against SuperLU with pivoting (Li 2005, ACM Trans. Math. Softw. 31:302): real systems."""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace

import numpy as np
import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate.compiled.loading import KINDS, extension, load
from labrum.simulate.compiled.multifrontal import Elimination
from labrum.simulate.contact.signorini import frame_of
from labrum.simulate.equilibrium.linearised import linearise
from labrum.simulate.equilibrium.model import look
from labrum.simulate.equilibrium.sparse import Banded, Multifrontal, Pivoting, factorise, standard_solvers
from labrum.simulate.equilibrium.system import System
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.build import Stage, model_on
from labrum.simulate.load_path.press import press
from labrum.simulate.solving import silent
from tests import bodies

built = pytest.mark.skipif(extension() is None, reason="no compiled kernels were built")
RIM = {
    "inner_diameter_mm": 16.5, "width_mm": 5.2, "high_point": 0.45, "bite_radius_mm": 0.6, "inner_crown_radius_mm": 6.0,
    "outer_crown_radius_mm": 8.0, "shoulder_radius_mm": 1.8, "cup_wall_angle_deg": 60.0, "cup_depth_mm": 10.0,
}  # fmt: skip
LAYER = {"name": "gel", "thickness_mm": 9.0, "shear_modulus_kpa": 30.0, "stiffening_kpa": [7.0, 0.0]}
CASES = {
    "bonded": ({"type": "average"}, {"force_n": 10.0}),
    "friction": ({"type": "average"}, {"force_n": 10.0, "friction": 0.3}),
    "incompressible": ({"layer": [{**LAYER, "poisson_ratio": 0.5}]}, {"force_n": 5.0}),
    "sliding": ({"type": "fleshy", "backing": "sliding", "tooth_gap_radius_mm": 6.0}, {"force_n": 5.0}),
    "gap": ({"type": "average", "tooth_gap_radius_mm": 6.0}, {"force_n": 5.0}),
    "opening": ({"type": "thin", "opening_radius_mm": 1.5}, {"force_n": 5.0, "friction": 0.2}),
}


@pytest.fixture(scope="module", params=CASES)
def system(request: pytest.FixtureRequest) -> System:
    """A system in the middle of an iteration: the rim home, then pushed on by 0.02 mm, with breath behind the gap."""
    lip, load_ = CASES[request.param]
    problem = case_from_table({"schema": 1, "title": request.param, "rim": RIM, "lip": lip, "load": load_}).problem
    pressed = press(problem, Fineness(), silent)
    state = replace(pressed.equilibrium.state, travel=pressed.equilibrium.state.travel + 0.02)
    model = model_on(problem, pressed.model.elements.grid, Stage("breath", 0.0, 0.004))
    if problem.load.friction > 0.0:  # half of the touching nodes slip
        pairs = [replace(s, stuck=s.stuck & (np.arange(len(s.stuck)) % 2 == 0), direction=np.ones(len(s.stuck)))
                 for s in state.pairs]
        state = replace(state, pairs=tuple(pairs))
    seen = look(model, state)
    frames = tuple(frame_of(p, s, k) for p, s, k in zip(model.pairs, state.pairs, seen, strict=True))
    return linearise(model, state, frames).system


def wanted_for(system: System) -> np.ndarray:
    wanted = np.random.default_rng(6).normal(size=(2, *system.known.shape))
    return np.where(system.known, 0.0, wanted)


def assert_solves_as_well(system: System, solve) -> None:
    wanted = wanted_for(system)
    reference = Pivoting(True).factorise(system)(wanted)
    np.testing.assert_allclose(solve(wanted), reference, rtol=0.0, atol=1e-9 * np.abs(reference).max())
    one = solve(wanted[:1])
    np.testing.assert_allclose(one[0], reference[0], rtol=0.0, atol=1e-9 * np.abs(reference).max())


@built
@pytest.mark.parametrize("kind", KINDS)
def test_the_multifrontal_solver_solves_what_superlu_does(system: System, kind: str) -> None:
    library = load(kind)
    if library is None:
        pytest.skip("this processor cannot run it")
    assert_solves_as_well(system, Multifrontal(library).factorise(system))


@built
def test_wherever_the_bisection_stops_the_answer_is_the_same(system: System) -> None:
    grid, turned = system.pattern.grid, system.directions
    frame = np.full(len(system.known), -1, np.int32)
    frame[turned.nodes] = np.arange(len(turned.nodes))
    for leaf in (1, 2, 7, 16):
        elimination = Elimination.of(load("portable"), (len(grid.columns) - 1, len(grid.rows) - 1), leaf)
        found = elimination.factorise(
            system.stiffness, system.known, system.added, system.skew, frame, turned.trial, turned.test
        )
        assert_solves_as_well(system, found.solve)


def test_the_banded_solver_solves_what_superlu_does(system: System) -> None:
    if not Banded().suits(system):
        assert not system.symmetric
        return
    assert_solves_as_well(system, Banded().factorise(system))


def test_the_products_are_those_of_the_global_matrix(system: System) -> None:
    """What the factorised matrix makes of a vector, by elements and by SciPy's sparse matrix."""
    x = wanted_for(system)
    pattern = system.pattern
    free = pattern.free & ~system.known
    ours = system.product(np.where(free, x, 0.0)) + system.added * x
    for side in range(2):
        theirs = pattern.spread(system.matrix @ pattern.gather(np.where(free, x[side], 0.0)))
        np.testing.assert_allclose(ours[side][free], theirs[free], rtol=0.0, atol=1e-12 * np.abs(theirs).max())


def test_a_system_called_symmetric_is_and_one_of_slip_is_not(system: System) -> None:
    """Air is told element by element: over a whole face its unsymmetric shares may cancel, and then it errs safely."""
    matrix = system.matrix
    skewness = abs(matrix - matrix.T).max() / abs(matrix).max()
    slips = not np.array_equal(system.directions.trial, system.directions.test)
    assert not (system.symmetric and skewness >= 1e-13)
    assert not (slips and skewness < 1e-13)
    assert system.symmetric or slips or system.skew.any()


@built
def test_negative_pivots_are_the_negative_eigenvalues() -> None:
    """Sylvester's law of inertia, against the dense eigenvalues of a system that has some."""
    mesh = bodies.grid(np.linspace(0.0, 2.0, 8), np.linspace(-1.0, 0.0, 5))
    system = small_system(mesh)
    added = np.where(np.arange(mesh.nodes.size).reshape(-1, 2) % 7 == 0, -60.0, 0.0)
    indefinite = replace(system, added=added)
    values = np.linalg.eigvalsh(indefinite.matrix.toarray())
    negative = int(np.sum(values < 0.0))
    assert 0 < negative < len(values)
    elimination = Elimination.of(load("portable"), (7, 4))
    none, count = np.zeros((0, 2, 2)), len(mesh.nodes)
    found = elimination.factorise(
        indefinite.stiffness, indefinite.known, indefinite.added, indefinite.skew, np.full(count, -1, np.int32), none,
        none,
    )  # fmt: skip
    assert found.negative_pivots == negative
    assert_solves_as_well(indefinite, found.solve)


def small_system(mesh) -> System:
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, 0.4), bodies.disc_fixed(mesh))
    state = bodies.at_rest(model, bodies.FAR)
    return linearise(model, state, bodies.frames(model, state)).system


@dataclass(frozen=True)
class Failing:
    """A solver that is not up to it: it gives up, or its answers are wrong by so much."""

    wrong: float
    name: str = "a stand-in"

    def suits(self, system: System) -> bool:
        return True

    def factorise(self, system: System):
        if self.wrong == 0.0:
            raise np.linalg.LinAlgError("no pivot")
        solve = Pivoting(True).factorise(system)
        return lambda wanted: (1.0 + self.wrong) * solve(wanted)


@pytest.mark.parametrize("wrong", [0.0, 1e-6, np.nan])
def test_what_fails_is_left_to_the_next_solver_with_a_note(caplog, wrong: float) -> None:
    system = small_system(bodies.grid([0.0, 0.7, 1.5, 2.0], [-1.5, -0.6, 0.0]))
    wanted = wanted_for(system)
    with caplog.at_level(logging.WARNING):
        solve, answer, made = factorise(system, wanted, (Failing(wrong), *standard_solvers()))
    assert "a stand-in" in caplog.text
    assert "the next solver is asked" in caplog.text
    np.testing.assert_allclose(np.where(system.known, 0.0, made + system.added * answer), wanted, atol=1e-10)
    np.testing.assert_array_equal(solve(wanted), answer)


def test_a_singular_system_is_an_error() -> None:
    system = small_system(bodies.grid([0.0, 0.7, 1.5, 2.0], [-1.5, -0.6, 0.0]))
    nothing = replace(system, stiffness=np.zeros_like(system.stiffness))
    with pytest.raises(np.linalg.LinAlgError, match="singular"):
        factorise(nothing, wanted_for(nothing), standard_solvers())
