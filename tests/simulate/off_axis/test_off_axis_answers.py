"""What a pressed rim answers to a posture: symmetry, scaling, every kind of lip, and how far the answers hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate.accuracy.refinement import ANSWER, held
from labrum.simulate.contact.supports import teeth_curve
from labrum.simulate.living.breath_and_muscle import enlivened, final_stage
from labrum.simulate.load_path.build import Stage
from labrum.simulate.load_path.press import HOME, press
from labrum.simulate.main_job.effort import Effort
from labrum.simulate.off_axis.answers import DEGREE, Posture, off_axis
from labrum.simulate.off_axis.arch import bowl_curve, on_arch
from labrum.simulate.off_axis.harmonic import Base, Cause
from labrum.simulate.off_axis.motions import Shift, Tilt, arch_relief
from labrum.simulate.off_axis.readings import contact_of, peak_under, pressure_wave, work_of
from labrum.simulate.solving import silent

RIM = {
    "inner_diameter_mm": 16.5, "width_mm": 5.2, "high_point": 0.45, "inner_crown_radius_mm": 6.0, "bite_radius_mm": 0.6,
    "outer_crown_radius_mm": 8.0, "shoulder_radius_mm": 1.8, "cup_wall_angle_deg": 60.0, "cup_depth_mm": 10.0,
}  # fmt: skip
LIVING = {"mouth_pressure_kpa": 3.0, "muscle_activation": 0.4, "friction": 0.15}


def asked(lip=None, **load):
    table = {
        "schema": 1, "title": "invented", "rim": RIM,
        "lip": {"type": "average", **(lip or {})}, "load": {"force_n": 15.0, **load},
    }  # fmt: skip
    return case_from_table(table).problem


def pressed(problem):
    """The problem's press on a grid that is read."""
    found, _ = enlivened(problem, press(problem, Effort().path, silent), silent)
    for fineness in (ANSWER, ANSWER.sharper()):
        found = held(problem, found, fineness, final_stage(problem), silent, HOME)
    return found


@pytest.fixture(scope="module")
def plain():
    problem = asked()
    return problem, pressed(problem)


def test_tilt_and_shift_are_coupled_alike_both_ways(plain):
    """Without friction stiffness is a second derivative: moment by shift is side force by tilt."""
    _, found = plain
    base = Base(found.model, found.equilibrium.state)
    tilt, shift = Tilt(-base.state.travel), Shift()
    turned, moved = base.harmonic(1).answers([Cause(tilt), Cause(shift)])
    there = work_of(base, turned, tilt, shift, tilt.height)
    back = work_of(base, moved, shift, tilt, tilt.height)
    assert there == pytest.approx(back, abs=1e-7 * work_of(base, turned, tilt, tilt, tilt.height))


def test_a_tilt_moves_load_but_makes_none_and_the_wave_carries_it(plain):
    _, found = plain
    base = Base(found.model, found.equilibrium.state)
    contact = contact_of(base)
    cause = Cause(Tilt(-base.state.travel))
    (turned,) = base.harmonic(1).answers([cause])
    wave = pressure_wave(base, contact, turned, cause, 1)
    # the moment of the load's wave about the axis is the rocking stiffness, near enough: forces lie low on the rim
    r = contact.place[contact.active, 0]
    moment = 0.5 * r @ -turned.forces[base.touches[0].at, 2]
    assert moment == pytest.approx(work_of(base, turned, cause.motion, cause.motion, cause.motion.height), rel=0.05)
    assert wave.load > 0.0
    assert np.abs(turned.u[found.model.pattern.fixed.all(axis=1)]).max() == 0.0


def test_what_is_not_asked_for_is_none_and_all_amounts_scale(plain):
    problem, found = plain
    bare = off_axis(problem, found, Posture(), silent)
    assert (bare.arch, bare.stiffer, bare.thicker, bare.warnings) == (None, None, None, ())
    one = off_axis(problem, found, Posture(lower_stiffer=0.01, lower_thicker=0.002), silent)
    two = off_axis(problem, found, Posture(lower_stiffer=0.02, lower_thicker=0.004), silent)
    for small, large in ((one.stiffer, two.stiffer), (one.thicker, two.thicker)):
        assert large.lower_share - 0.5 == pytest.approx(2.0 * (small.lower_share - 0.5))
        assert large.felt_offset_mm == pytest.approx(2.0 * small.felt_offset_mm)
        assert small.lower_share > 0.5
        assert small.pressures.peak_kpa > small.pressures.other_peak_kpa
    assert one.tilted.peak_kpa_per_degree == pytest.approx(bare.tilted.peak_kpa_per_degree, rel=1e-8)


def test_the_peak_of_a_small_tilt_goes_with_its_rate(plain):
    problem, found = plain
    tilted = off_axis(problem, found, Posture(), silent).tilted
    straight = peak_under(tilted.tilt, 0.0, 1.0)[0]
    down, up = (1e3 * (peak_under(tilted.tilt, 0.05 * DEGREE, side)[0] - straight) for side in (1.0, -1.0))
    assert down == pytest.approx(0.05 * tilted.peak_kpa_per_degree, rel=0.06)
    assert up == pytest.approx(-0.05 * tilted.peak_kpa_per_degree, rel=0.06)
    assert tilted.tilt_for_ten_percent_deg == pytest.approx(10.0 / tilted.peak_percent_per_degree)
    assert 0.0 < tilted.holds_to_deg <= tilted.tilt_to_lift_deg


def test_where_a_tilt_ceases_to_hold_pressure_is_just_gone_inside_the_contact(plain):
    problem, found = plain
    tilted = off_axis(problem, found, Posture(), silent).tilted
    wave, amount = tilted.tilt, tilted.holds_to_deg * DEGREE
    radius, base, change = (k[wave.active] for k in (wave.radius, wave.base, wave.change))
    width = np.ptp(radius)
    places = np.linspace(radius[0] + 0.1 * width, radius[-1] - 0.1 * width, 201)  # a tenth at either end left out
    bell = norm.pdf(radius[:, None], radius, 0.02 * width) * np.gradient(radius)
    left = [np.interp(places, radius, bell @ k / bell.sum(axis=1)) for k in (base, change)]
    least = left[0] - amount * np.abs(left[1])
    assert least.min() == pytest.approx(0.0, abs=1e-9 * wave.base.max())
    assert (least >= 0.0).sum() >= len(places) - 1  # the place itself may round below nought
    inside = np.abs(radius - 0.5 * (radius[0] + radius[-1])) < 0.4 * width
    assert (base - amount * np.abs(change))[inside].min() > -0.02 * wave.base.max()  # nor do nodes pull


def test_beyond_where_it_holds_it_warns(plain):
    problem, found = plain
    many = off_axis(problem, found, Posture(10.0, 24.0, 2.0, 0.5), silent)
    assert [any(word in k for k in many.warnings) for word in ("tilt", "stiffer", "thicker", "arch")] == [True] * 4


def test_the_answers_are_those_of_a_finer_grid(plain):
    problem, found = plain
    fine = held(problem, found, found.fineness.refined(0.6), Stage("press"), silent, HOME)
    here, there = (off_axis(problem, k, Posture(), silent).tilted for k in (found, fine))
    assert here.peak_percent_per_degree == pytest.approx(there.peak_percent_per_degree, rel=0.02)
    assert here.rocking_stiffness_nmm_per_deg == pytest.approx(there.rocking_stiffness_nmm_per_deg, rel=0.01)
    assert here.tilt_to_lift_deg == pytest.approx(there.tilt_to_lift_deg, rel=0.01)
    assert here.holds_to_deg == pytest.approx(there.holds_to_deg, rel=0.02)


def test_a_coarser_grid_adds_to_the_doubt_of_the_lift_what_it_moves(plain):
    problem, found = plain
    coarse = held(problem, found, ANSWER, final_stage(problem), silent, HOME)
    here, there = (off_axis(problem, k, Posture(), silent) for k in (found, coarse))
    alone, alike, both = (off_axis(problem, found, Posture(), silent, k).moved for k in (None, found, coarse))
    apart = abs(there.tilted.tilt_to_lift_deg - here.tilted.tilt_to_lift_deg)
    assert alike == alone == here.moved
    assert both == {**alone, "tilt_to_lift_deg": pytest.approx(alone["tilt_to_lift_deg"] + apart)}


def test_an_arch_all_but_flat_is_flat_and_its_wave_goes_with_its_curvature(plain):
    problem, found = plain
    state = found.equilibrium.state
    model, flat = on_arch(problem, found, found.fineness, 1e7, silent)
    assert flat.travel == pytest.approx(state.travel, abs=1e-4)
    base = Base(found.model, state)
    far, near = base.harmonic(2).answers([Cause(arch_relief(k), moves=1) for k in (200.0, 100.0)])
    assert near.u == pytest.approx(2.0 * far.u, abs=1e-12)
    back = found.model.elements.grid.back
    r = found.model.elements.grid.nodes[back, 0]
    assert near.u[back, 2] == pytest.approx(-(r**2) / 400.0)
    assert model.unknowns > 0


def test_the_front_carries_more_than_the_corners(plain):
    problem, found = plain
    arch = off_axis(problem, found, Posture(arch_radius_mm=200.0), silent).arch
    assert arch.wave.load < 0.0  # at theta = 0, a corner
    assert arch.holds_to > 0.0


def test_a_bowl_falls_as_the_arch_and_keeps_its_edge_round():
    for gap in (0.0, 4.0):
        lip = replace(asked({"backing": "sliding"}).lip, tooth_gap_radius=gap)
        curve, flat = bowl_curve(lip, 25.0), teeth_curve(lip)
        start = gap + 1.0 if gap else 0.0
        r = np.linspace(start + 0.5, 20.0, 40)
        top = -lip.thickness - (r**2 - start**2) / 100.0
        seen = curve.nearest(np.column_stack([r, top]))
        assert np.abs(seen.distance).max() < 0.25  # a circle and its parabola, at 20 mm of 50
        assert np.abs(seen.distance[r < 8.0]).max() < 0.006
        assert np.abs(curve.turns).max() < 1e-9 or gap == 0.0
        far = bowl_curve(lip, 1e8).nearest(np.column_stack([r, -lip.thickness + 0.0 * r]))
        assert np.abs(far.distance - flat.nearest(np.column_stack([r, -lip.thickness + 0.0 * r])).distance).max() < 1e-5


@pytest.mark.parametrize(
    ("lip", "load"),
    [
        ({"backing": "sliding"}, {}),
        ({"backing": "sliding", "edge": "free"}, {}),
        ({"backing": "sliding", "edge": "held"}, {}),
        ({"backing": "sliding", "opening_radius_mm": 1.5, "tooth_gap_radius_mm": 4.0}, LIVING),
        ({"tooth_gap_radius_mm": 4.0, "opening_radius_mm": 1.5}, {"mouth_pressure_kpa": 3.0}),
        ({}, {"friction": 1.0}),
    ],
    ids=["sliding", "sliding, free edge", "sliding, held edge", "living", "bonded with a gap", "sticking"],
)
def test_every_kind_of_lip_has_an_answer(lip, load):
    problem = asked(lip, **load)
    found = pressed(problem)
    answer = off_axis(problem, found, Posture(1.0, 150.0, 0.1, 0.02), silent)
    tilted = answer.tilted
    assert tilted.rocking_stiffness_nmm_per_deg > 0.0
    assert tilted.peak_percent_per_degree > 0.0
    assert answer.stiffer.lower_share > 0.5
    assert answer.thicker.lower_share > 0.5
    assert answer.arch.wave.load < 0.0
    if load.get("friction") == 1.0:
        assert tilted.sideways_stiffness_n_per_mm > 2.0
