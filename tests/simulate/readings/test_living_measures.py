"""The numbers of a living lip and of a rim's edges, on states, contacts and problems whose right value is known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.rims.rim import Rim, RimDimensions, rim_from_dimensions
from labrum.simulate import solve
from labrum.simulate.contact.surroundings import edge_springs
from labrum.simulate.equilibrium.traction import Traction
from labrum.simulate.living.contraction import contraction_between
from labrum.simulate.load_path.muscle import tissue_of
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.problem import Accuracy, Layer, Lip, Load, Problem
from labrum.simulate.readings.aperture import aperture_stiffness, wall_shares
from labrum.simulate.readings.crest import crest_height, wall_reach
from labrum.simulate.readings.rim_edges import crown_of, edge_to_crown, inner_edge_of_contact
from tests import bodies

DRAWN = RimDimensions(16.5, 5.2, 0.45, 0.6, 6.0, 8.0, 1.8, 60.0, 10.0)
RIM = rim_from_dimensions(DRAWN)


def touch(rim: Rim, foot: Any, pressure: Any) -> Traction:
    """A contact whose nodes stand on the rim at arc lengths ``foot`` with these pressures, in no equilibrium."""
    foot, pressure = np.asarray(foot, float), np.asarray(pressure, float)
    none = np.zeros(len(foot))
    return Traction(
        rim.curve.at(foot), rim.curve.normal_at(foot), foot, none, none, none, pressure, none, pressure, pressure > 0.0
    )


# -- contraction --------------------------------------------------------------------------------------------------


OPENING, OUTER, HEIGHT = 1.5, 4.0, 2.0


def muscle_lip(opening: float = OPENING) -> Problem:
    layers = (
        Layer("skin", 0.5, 1.0, (0.0, 0.0), 0.5, False),
        Layer("core", 1.5, 1.0, (0.0, 0.0), 0.5, True, 0.8),
    )
    return Problem("known", RIM, Lip(layers, OUTER, opening, "sliding", 0.0, "free"), Load(1, 0, 0, 0.5), Accuracy())


def standing(problem: Problem, columns: int, motion: Any, travel: float = 0.0) -> Any:
    """A grid of so many columns on which every resting point has moved by ``motion(r, z)`` (k, 2)."""
    mesh = bodies.grid(
        np.linspace(problem.lip.opening_radius, OUTER, columns + 1), [-HEIGHT, -1.2, -0.5, 0.0], [1, 1, 0]
    )
    model = bodies.body(mesh, tissue_of(problem.lip, mesh, 0.5), bodies.nothing_fixed(mesh))
    return model, replace(bodies.at_rest(model, travel), u=motion(*mesh.nodes.T))


def test_the_opening_is_read_at_its_narrowest_and_at_the_skin() -> None:
    """A waist at z = -0.9, between nodes, that narrows by 0.4 mm there and widens by 0.067 at the skin."""
    problem = muscle_lip()

    def waisted(depth: float) -> Any:
        return lambda r, z: np.column_stack([-depth * (1.0 - ((z + 0.9) / 0.8) ** 2) * OPENING / r, 0.0 * z])

    ends = [standing(problem, 5, waisted(depth)) for depth in (0.1, 0.5)]
    found = contraction_between(problem, *ends)
    assert found.aperture == pytest.approx(0.4, rel=1e-6)
    assert found.skin == pytest.approx(0.4 * (1.0 - (0.9 / 0.8) ** 2), rel=1e-9)
    assert found.skin < 0.0


def test_without_an_opening_the_ring_at_two_millimetres_is_read() -> None:
    problem = muscle_lip(0.0)
    ends = [standing(problem, 8, lambda r, z, k=k: np.column_stack([-k * r, 0.0 * z])) for k in (0.0, 0.1)]
    found = contraction_between(problem, *ends)
    assert (found.aperture, found.skin) == pytest.approx((0.2, 0.2), rel=1e-9)


def test_shortening_weighs_the_muscles_own_volume_across_grids() -> None:
    """Hoop stretch falls by 0.2 r: active stress times 0.2 times the integral of r over the core; skin counts not."""
    problem = muscle_lip()
    ends = [
        standing(problem, columns, lambda r, z, k=k: np.column_stack([-k * r**2, 0.0 * z]))
        for columns, k in ((7, 0.05), (5, 0.25))
    ]
    core = 2.0 * np.pi * (OUTER**3 - OPENING**3) / 3.0 * 1.5
    assert contraction_between(problem, *ends).shortening == pytest.approx(0.5 * 0.8 * 0.2 * core, rel=1e-9)


def test_the_crests_rise_counts_from_the_high_points_plane() -> None:
    problem = muscle_lip()
    ends = [
        standing(problem, 6, lambda r, z, k=k: np.column_stack([0.0 * r, k * (1.0 - r / OUTER)]), travel)
        for k, travel in ((0.2, 1.0), (0.6, 0.7))
    ]
    rise = 0.4 * (1.0 - OPENING / OUTER)
    assert contraction_between(problem, *ends).crest == pytest.approx(rise - 0.3, rel=1e-9)
    assert crest_height(*ends[0], problem.rim) == pytest.approx(0.2 * (1.0 - OPENING / OUTER), rel=1e-12)


# -- the opening's stiffness --------------------------------------------------------------------------------------


def ring(edge: str, poisson: float = 0.3) -> Any:
    mesh = bodies.grid(np.geomspace(1.0, 3.0, 9), [-0.8, -0.3, 0.0])
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.back[0], 1] = True
    lip = Lip((Layer("one", 0.8, 1.0, (0.0, 0.0), poisson, False),), 3.0, 1.0, "sliding", 0.0, edge)
    model = bodies.body(mesh, bodies.tissue(len(mesh.quads), 1.0, poisson), fixed)
    model = replace(model, springs=edge_springs(lip, mesh))
    return model, bodies.at_rest(model, bodies.FAR)


def test_the_opening_of_a_ring_is_as_stiff_as_lame_says() -> None:
    """Free: 2 pi a h p over u = p a / E ((b^2 + a^2) / (b^2 - a^2) + nu), plane stress. Endless: 4 pi G h."""
    lame = 2.0 * np.pi * 0.8 * 2.6 / ((9.0 + 1.0) / (9.0 - 1.0) + 0.3)
    assert aperture_stiffness(*ring("free")) == pytest.approx(lame, rel=1e-4)
    assert aperture_stiffness(*ring("continuing")) == pytest.approx(4.0 * np.pi * 0.8, rel=1e-4)
    assert aperture_stiffness(*ring("continuing", 0.5)) == pytest.approx(4.0 * np.pi * 0.8, rel=1e-4)


@dataclass(frozen=True)
class WallLoad:
    """A dead radial load, N over the full circle, spread over the resting opening's wall, in the air's place."""

    mesh: Any
    whole: float

    def nodal_forces(self, u: Any) -> Any:
        out = np.zeros_like(u)
        out[self.mesh.inner_edge, 0] = self.whole * wall_shares(np.diff(self.mesh.rows))
        return out

    def added(self, u: Any, condensed: Any) -> Any:
        force, loads = condensed.force.copy(), self.nodal_forces(u)
        for e in range(len(self.mesh.rows) - 1):
            local = np.array([0, 7, 3]) if e == 0 else np.array([7, 3])  # a shared node once
            force[e, 2 * local] -= loads[self.mesh.quads[e, local], 0]
        return replace(condensed, force=force)


def test_the_opening_under_a_rim_is_as_stiff_as_two_equilibria_say() -> None:
    """A pressed lip at large strain, with friction, on a smooth support: a small load one way and the other."""
    mesh = bodies.grid(np.linspace(0.6, 3.0, 21), np.linspace(-1.5, 0.0, 7))
    fixed = bodies.nothing_fixed(mesh)
    fixed[mesh.back, 1] = True
    fixed[-mesh.nodes_per_column :, 0] = True
    tissue = bodies.tissue(len(mesh.quads), 1.0, 0.49, 0.3)
    model = bodies.body(mesh, tissue, fixed, bodies.torus(1.7, 0.5), 0.2)
    state = bodies.at_rest(model)
    for travel in (0.15, 0.3, 0.45):
        state = bodies.settle(model, bodies.with_feet_settled(model, state), travel=travel, residual=1e-12).state
    shares, moved = wall_shares(np.diff(mesh.rows)), []
    for load in (1e-4, -1e-4):
        found = bodies.settle(replace(model, air=WallLoad(mesh, load)), state, residual=1e-12).state
        assert np.array_equal(found.pairs[0].active, state.pairs[0].active)
        moved.append(float(shares @ found.u[mesh.inner_edge, 0]))
    assert aperture_stiffness(model, state) == pytest.approx(2e-4 / (moved[0] - moved[1]), rel=1e-4)


# -- edges --------------------------------------------------------------------------------------------------------


def test_the_crown_lies_between_bite_and_shoulder() -> None:
    """Drawn by dimensions the pieces are floor, wall, bite, two crowns, shoulder, outside; an outline reads alike."""
    crown, offset = crown_of(RIM), RIM.curve.offset
    assert crown is not None
    assert (crown.first, crown.last) == (offset[3], offset[5])
    outline = rim_from_outline([tuple(row) for row in RIM.curve.vertices[1:]])
    again = crown_of(outline)
    assert again is not None
    assert again.last - again.first == pytest.approx(crown.last - crown.first)
    quarter = np.tan(np.pi / 8.0)
    wire = rim_from_outline([(8.25, 2.5, quarter), (10.75, 0.0, quarter), (13.25, 2.5, 0.0), (13.25, 5.0, 0.0)])
    half = rim_from_outline([(8.25, 6.0, 0.0), (8.25, 2.5, 1.0), (13.25, 2.5, 0.0), (13.25, 6.0, 0.0)])
    assert crown_of(half) is None
    assert crown_of(wire) is None  # two quarters of one circle are edges both


def test_edges_over_crown_is_the_ratio_of_their_peaks() -> None:
    """A bite of 60 kPa, a shoulder of 90, a middle of 45; 80 on the crown's ends belongs to neither."""
    crown = crown_of(RIM)
    assert crown is not None
    (low, high), step = crown.middle, 0.02
    foot = np.arange(RIM.cup_end + 0.05, crown.last + 1.0, step)
    pressure = np.where(foot < crown.first, 0.060, np.where(foot > crown.last, 0.090, 0.080))
    pressure[(foot > low - 2 * step) & (foot < high + 2 * step)] = 0.045
    assert edge_to_crown(RIM, touch(RIM, foot, pressure)) == pytest.approx(2.0)
    bite_only = np.where(foot < crown.first, 0.060, 0.0)
    assert edge_to_crown(RIM, touch(RIM, foot, bite_only)) is None


def test_the_inner_edge_is_where_pressure_vanishes_unless_contact_climbs_the_wall() -> None:
    foot = RIM.cup_end + 0.1 * np.arange(-2.0, 8.0)
    falling = np.where(foot > RIM.cup_end + 0.25, foot - RIM.cup_end - 0.25, 0.0)
    edge = inner_edge_of_contact(RIM, touch(RIM, foot, falling))
    assert edge == pytest.approx(RIM.curve.at([RIM.cup_end + 0.25])[0, 0], abs=0.01)
    assert inner_edge_of_contact(RIM, touch(RIM, foot, np.ones_like(foot))) is None


def test_wall_reach_is_the_length_that_presses() -> None:
    """From the joint 1.25 mm up the wall, and a patch of 0.4 mm further up: 1.65 mm."""
    foot = RIM.cup_end + 0.1 * np.arange(-40.0, 6.0)
    way = RIM.cup_end - foot
    pressure = np.where(way < 1.25, 1.25 - way, np.where(np.abs(way - 3.0) < 0.2, 0.2 - np.abs(way - 3.0), 0.0))
    assert wall_reach(RIM, touch(RIM, foot, pressure)) == pytest.approx(1.65, abs=1e-9)
    assert wall_reach(RIM, touch(RIM, foot, 0.0 * foot)) == 0.0
    assert wall_reach(replace(RIM, cup_floor=None), touch(RIM, foot, pressure)) is None


# -- together -----------------------------------------------------------------------------------------------------


def measured(lip: dict[str, Any], load: dict[str, float], **rim: float) -> Measures:
    table = {"inner_diameter_mm": 16.5, "width_mm": 5.2, **rim}
    case = {"schema": 1, "title": "living measures", "rim": table, "lip": lip, "load": load}
    return solve(case_from_table(case).problem).measures


def test_the_edge_drift_is_that_of_two_solves() -> None:
    low, high = (measured({"type": "thin"}, {"force_n": force}, bite_radius_mm=1.2) for force in (5.0, 15.0))
    moved = 2.0 * (low.contact_inner_radius_mm - high.contact_inner_radius_mm)
    assert moved > 0.05
    assert low.edge_drift_mm_per_10n == pytest.approx(moved, abs=0.03)


def test_a_passive_whole_lip_has_no_number_for_what_it_has_not() -> None:
    m = measured({"type": "average"}, {"force_n": 10.0})
    for name in (
        "closing_travel_ratio", "closing_travel_ratio_skin", "muscle_shortening_ratio", "aperture_stiffness_n_per_mm",
        "height_by_muscle_mm",
    ):  # fmt: skip
        assert getattr(m, name) is None, name
    # two ways to one height: from the bite plane, and from the high point's
    assert m.height_past_high_point_mm is not None
    assert m.intrusion_height_mm == pytest.approx(max(0.0, m.height_past_high_point_mm - RIM.bite[1]), abs=1e-9)
