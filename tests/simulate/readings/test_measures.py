"""The numbers read off a solution, on cases where the right one is known independently."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid

from labrum.cases.case_file.reading import case_from_table
from labrum.meshes.grids.quadratic import shape_functions
from labrum.meshes.rims.outline import rim_from_outline
from labrum.simulate import solve
from labrum.simulate.closed_forms.half_space import plane_strain_modulus
from labrum.simulate.closed_forms.layer import bonded
from labrum.simulate.closed_forms.rings import Base, RingContact, ring_under_force, round_profile
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.traction import Traction, traction
from labrum.simulate.living.breath_and_muscle import enlivened, free_contraction
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.build import Stage, model_on, resting_grid, resting_state
from labrum.simulate.load_path.press import Pressed, press
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Accuracy, Layer, Lip, Load, Problem
from labrum.simulate.readings.fields import largest_stretch
from labrum.simulate.readings.measures import cup_reading
from labrum.simulate.readings.pressure import pressure_reading
from labrum.simulate.solving import silent
from labrum.simulate.tissue.elements import POINTS

RIM = {
    "inner_diameter_mm": 16.5, "width_mm": 5.2, "high_point": 0.45, "bite_radius_mm": 0.6, "inner_crown_radius_mm": 6.0,
    "outer_crown_radius_mm": 8.0, "shoulder_radius_mm": 1.8, "cup_wall_angle_deg": 60.0, "cup_depth_mm": 10.0,
}  # fmt: skip


def drawn(lip: dict[str, object], load: dict[str, float]) -> Problem:
    return case_from_table({"schema": 1, "title": "measures", "rim": RIM, "lip": lip, "load": load}).problem


@pytest.fixture(scope="module")
def spilling() -> tuple[Problem, Pressed]:
    """An incompressible, slippery lip pressed hard: tissue spills past the bite."""
    layer = {
        "name": "gel", "thickness_mm": 11.5, "shear_modulus_kpa": 30.0, "stiffening_kpa": [7.0, 0.0],
        "poisson_ratio": 0.5,
    }  # fmt: skip
    load = {"force_n": 30.0, "muscle_activation": 0.3}
    problem = drawn({"layer": [{**layer, "muscle": True}], "backing": "sliding"}, load)
    pressed, _ = enlivened(problem, press(problem, Fineness(), silent), silent)
    return problem, pressed


def sampled_volume(model: Model, state: State, inside: float, above: float, rested_outside: float) -> float:
    """Volume beyond a plane, inside a cylinder, of tissue that rested outside a radius: J summed over fine
    points.
    """
    grid, count = model.elements.grid, 24
    t = (np.arange(count) + 0.5) / count * 2.0 - 1.0
    local = np.column_stack([np.repeat(t, count), np.tile(t, count)])
    n, n_xi, n_eta = shape_functions(local)
    place = (grid.nodes + state.u)[grid.quads]
    x = np.einsum("ga,eai->egi", n, place)
    d_xi, d_eta = np.einsum("ga,eai->egi", n_xi, place), np.einsum("ga,eai->egi", n_eta, place)
    area = np.abs(d_xi[..., 0] * d_eta[..., 1] - d_xi[..., 1] * d_eta[..., 0]) * 4.0 / count**2
    rest = grid.origins[:, :1] + 0.5 * grid.sizes[:, :1] * local[:, 0]
    chosen = (x[..., 0] < inside) & (x[..., 1] > above) & (rest > rested_outside)
    return float(np.sum(2 * np.pi * x[..., 0] * area * chosen))


def test_the_volume_balance_closes(spilling: tuple[Problem, Pressed]) -> None:
    """What stands past the bite is what was there at rest, plus what was drawn in, less what left: to 0.1 %.

    Incompressible tissue keeps its volume, so the part drawn in and the part that was inside all along add up
    to the whole, counted by fine points over the deformed elements, independently of the clipped boundaries the
    measures use.
    """
    problem, pressed = spilling
    model, state = pressed.model, pressed.equilibrium.state
    cup = cup_reading(model, state, problem.rim, traction(model, state))
    bite, plane = problem.rim.bite[0], problem.rim.bite[1] - state.travel
    stayed = sampled_volume(model, state, bite, plane, 0.0) - sampled_volume(model, state, bite, plane, bite)
    drawn_in = sampled_volume(model, state, bite, plane, bite)
    assert stayed + drawn_in == pytest.approx(cup.volume, rel=1e-3)
    assert cup.drawn_in > 0.0
    assert drawn_in == pytest.approx(cup.drawn_in, abs=1e-3 * cup.volume)


def test_incompressible_tissue_keeps_its_volume(spilling: tuple[Problem, Pressed]) -> None:
    problem, pressed = spilling
    model, state = pressed.model, pressed.equilibrium.state
    whole = sampled_volume(model, state, np.inf, -np.inf, -1.0)
    assert whole == pytest.approx(np.pi * problem.lip.radius**2 * problem.lip.thickness, rel=1e-4)


@pytest.fixture(scope="module")
def light() -> tuple[Outcome, RingContact]:
    """A round ring lightly pressed into a wide bonded layer, and the same by the integral equation of linear
    contact.
    """
    outline = [(8.75, 4.0, 0.0), (8.75, 2.0, 1.0), (12.75, 2.0, 0.0), (12.75, 4.0, 0.0)]
    shear, thickness, force = 0.05, 20.0, 0.4
    lip = Lip((Layer("block", thickness, shear, (0.0, 0.0), 0.5, False),), 70.0, 0.0, "bonded", 0.0, edge="free")
    problem = Problem("ring", rim_from_outline(outline), lip, Load(force, 0.0, 0.0, 0.0), Accuracy())
    modulus, backing = plane_strain_modulus(3.0 * shear, 0.5), Base(thickness, bonded(0.5))
    known = ring_under_force(round_profile(10.75, 2.0), 10.75, force, modulus, 1.0, backing)
    return solve(problem), known


def test_the_felt_diameter_of_a_light_ring(light: tuple[Outcome, RingContact]) -> None:
    outcome, known = light
    felt = 2.0 * trapezoid(known.pressure * known.radii**2, known.radii) / trapezoid(
        known.pressure * known.radii, known.radii
    )
    assert outcome.measures.felt_diameter_mm == pytest.approx(felt, rel=3e-4)


def test_the_extent_and_sink_of_a_light_ring(light: tuple[Outcome, RingContact]) -> None:
    outcome, known = light
    m = outcome.measures
    assert m.sink_mm == pytest.approx(known.sink, rel=0.01)
    assert m.contact_inner_radius_mm == pytest.approx(known.inner, abs=0.03 * (known.outer - known.inner))
    assert m.contact_outer_radius_mm == pytest.approx(known.outer, abs=0.03 * (known.outer - known.inner))


def test_the_width_a_light_ring_touches(light: tuple[Outcome, RingContact]) -> None:
    outcome, known = light
    assert outcome.measures.contact_width_mm == pytest.approx(known.outer - known.inner, rel=0.01)


def test_the_crest_over_the_high_point_of_a_light_ring(light: tuple[Outcome, RingContact]) -> None:
    """The crest is the middle, which sinks an eighth as far as the ring, by the integral equation's own surface."""
    outcome, known = light
    crest = -known.surface(np.linspace(0.0, outcome.rim.bite[0], 400)[1:]).min()
    assert outcome.measures.height_past_high_point_mm == pytest.approx(known.sink + crest, rel=2e-3)


def test_what_stands_past_the_bite_stands_past_the_high_point_by_the_bites_own_height() -> None:
    outcome = solve(drawn({"type": "fleshy"}, {"force_n": 20.0}))
    m = outcome.measures
    assert m.past_bite
    assert m.height_past_high_point_mm == pytest.approx(m.intrusion_height_mm + outcome.rim.bite[1], abs=1e-12)


def test_the_bearing_area_of_a_light_ring(light: tuple[Outcome, RingContact]) -> None:
    """Half an ellipse of pressure over a narrow ring bears like 3 pi^2 / 32 of its area (F^2 over the integral
    of p^2).
    """
    m = light[0].measures
    assert m.bearing_area_mm2 == pytest.approx(3.0 * np.pi**2 / 32.0 * m.contact_area_mm2, rel=0.03)
    assert m.edge_concentration == pytest.approx(4.0 / np.pi, rel=0.03)


def test_the_drift_is_that_of_two_solves() -> None:
    lip, load = {"type": "average"}, {"force_n": 10.0}
    low, high = solve(drawn(lip, load)), solve(drawn(lip, {"force_n": 20.0}))
    moved = high.measures.felt_diameter_mm - low.measures.felt_diameter_mm
    assert low.measures.felt_drift_mm_per_10n == pytest.approx(moved, abs=2e-3)


def test_largest_stretch_is_the_largest_singular_value() -> None:
    rng = np.random.default_rng(4)
    f = np.array([1, 0, 0, 1, 1]) + 0.4 * rng.normal(size=(50, 5))
    f[:, 4] = np.abs(f[:, 4])
    whole = np.zeros((50, 3, 3))
    whole[:, 0, 0], whole[:, 0, 1], whole[:, 1, 0], whole[:, 1, 1], whole[:, 2, 2] = f.T
    assert largest_stretch(f) == pytest.approx(np.linalg.svd(whole, compute_uv=False).max(axis=1))


def test_the_way_to_the_cup_of_a_lip_at_rest() -> None:
    """The crest of a flat lip is its middle: the cup's nearest place is found on a finely sampled profile."""
    problem = drawn({"type": "average"}, {"force_n": 20.0})
    model = model_on(problem, resting_grid(problem, Fineness()), Stage("rest"))
    cup = cup_reading(model, resting_state(model), problem.rim, _untouched(model))
    curve = problem.rim.curve
    nearest = np.hypot(*curve.at(np.linspace(0.0, curve.length, 100_000)).T).min()
    assert cup.touches is False
    assert cup.clearance == pytest.approx(nearest, abs=1e-6)
    assert (cup.volume, cup.height) == (0.0, 0.0)


def _untouched(model: Model) -> Traction:
    return traction(model, resting_state(model))


def test_a_rim_that_barely_touches_leaves_the_lip_free() -> None:
    problem = drawn({"type": "average"}, {"force_n": 0.05, "muscle_activation": 0.05})
    _, contraction = enlivened(problem, press(problem, Fineness(), silent), silent)
    assert contraction is not None
    freedom = contraction.over(free_contraction(problem, Fineness(), silent))
    assert (freedom.aperture, freedom.shortening) == pytest.approx((1.0, 1.0), abs=0.02)


def test_a_bonded_lip_never_lifts_off_and_a_sliding_one_does() -> None:
    """A disc with a free edge curls up outside the rim; one that goes on is held down by the jaw."""
    load = {"force_n": 10.0}
    bonded, sliding, going_on = (
        solve(drawn({"type": "thin", **lip}, load))
        for lip in ({}, {"backing": "sliding", "edge": "free"}, {"backing": "sliding"})
    )
    assert bonded.measures.lift_off_area_mm2 is None
    assert sliding.measures.lift_off_area_mm2 is not None
    assert 0.0 < sliding.measures.lift_off_area_mm2 < np.pi * 27.0**2
    assert going_on.measures.lift_off_area_mm2 is not None
    assert going_on.measures.lift_off_area_mm2 < 0.1 * sliding.measures.lift_off_area_mm2


def test_sticking_grows_with_friction() -> None:
    shares = [
        solve(drawn({"type": "thin"}, {"force_n": 10.0, "friction": mu})).measures.sticking_share
        for mu in (0.0, 0.1, 1.0)
    ]
    assert shares[0] is None
    assert shares[1] is not None
    assert shares[2] is not None
    assert shares[1] < shares[2] <= 1.0


def test_the_pressure_reading_of_nothing() -> None:
    problem = drawn({"type": "average"}, {"force_n": 20.0})
    model = model_on(problem, resting_grid(problem, Fineness()), Stage("rest"))
    reading = pressure_reading(problem.rim, _untouched(model))
    assert (reading.peak, reading.force, reading.area) == (0.0, 0.0, 0.0)
    assert len(POINTS) == 9


def test_the_profile_reaches_the_peak_and_passes_every_node() -> None:
    """Its highest point is the peak that is told; the nodes' own pressures alternate about it, by little."""
    outcome = solve(drawn({"type": "average"}, {"force_n": 20.0}))
    radius, pressure = outcome.pressure_profile.T
    assert np.all(np.diff(radius) >= 0.0)
    assert pressure[0] == pressure[-1] == 0.0
    assert pressure.max() == pytest.approx(outcome.measures.peak_pressure_kpa, rel=2e-3)
    on = np.flatnonzero(outcome.contact.pressure_kpa > 0.0)[2:-2]  # within half an element of an end a node is far off
    read = np.interp(outcome.contact.place[on, 0], radius, pressure)
    np.testing.assert_allclose(read, outcome.contact.pressure_kpa[on], atol=0.02 * pressure.max())


def test_contact_that_ends_where_the_wall_begins_is_no_touch_of_the_cup() -> None:
    """In this press contact ends 1 um short of the joint on fine grids; on the default grid one node lies past it.

    So with a free edge; tissue that goes on pushes the lip further up the wall.
    """
    problem = drawn({"type": "fleshy", "edge": "free"}, {"force_n": 20.0})
    coarse, fine = solve(problem), solve(replace(problem, accuracy=Accuracy(0.2)))
    assert (coarse.contact.pressure_kpa[~coarse.contact.on_rim] != 0.0).sum() <= 1
    assert coarse.measures.touches_cup is fine.measures.touches_cup is False
    assert coarse.measures.cup_clearance_mm == pytest.approx(fine.measures.cup_clearance_mm, rel=1e-3)
