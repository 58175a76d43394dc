"""The main job with a posture: measures where they were asked for, and the press left as it was."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest

from labrum.cases.case_file.reading import read_case
from labrum.simulate import solve
from labrum.simulate.measures.catalogue import CATALOGUE, OFF_AXIS
from labrum.simulate.off_axis import answers
from labrum.simulate.postures.asked import Posture, over_the_mean
from labrum.simulate.problem import NotConverged

ASKED = [name for name, measure in CATALOGUE.items() if measure.heading == OFF_AXIS]


@pytest.fixture(scope="module")
def problem():
    return read_case("demo").problem


@pytest.fixture(scope="module")
def straight(problem):
    return solve(problem)


@pytest.fixture(scope="module")
def asked(problem):
    return solve(replace(problem, posture=Posture(1.0, 60.0, over_the_mean(1.2), over_the_mean(0.95))))


def test_nothing_is_told_where_nothing_is_asked(straight):
    assert straight.off_axis is None
    assert [getattr(straight.measures, name) for name in ASKED] == [None] * len(ASKED)


def test_all_is_told_but_what_takes_friction(asked):
    absent = [name for name in ASKED if getattr(asked.measures, name) is None]
    assert absent == ["sideways_stiffness_n_per_mm", "sideways_holds_to_mm"]


def test_the_press_stays_as_it_was(straight, asked):
    for field in fields(straight.measures):
        if field.name not in ASKED and field.name != "errors":
            assert getattr(asked.measures, field.name) == getattr(straight.measures, field.name)
    errors = straight.measures.errors
    assert {name: asked.measures.errors[name] for name in errors if name not in ASKED} == {
        name: error for name, error in errors.items() if name not in ASKED
    }


def test_the_measures_are_the_answers(straight, asked):
    told, found = asked.measures, asked.off_axis
    assert told.rocking_stiffness_nmm_per_deg == found.tilted.rocking_stiffness_nmm_per_deg
    assert told.lower_lip_share - 0.5 == pytest.approx(
        found.stiffer.lower_share - 0.5 + found.thicker.lower_share - 0.5
    )
    both = found.lips.pressures
    assert both.wave.load == pytest.approx(
        sum(one.pressures.amount * one.pressures.wave.load for one in (found.stiffer, found.thicker))
    )
    risen = told.tilted_peak_kpa / straight.measures.peak_pressure_kpa - 1.0
    assert 100.0 * risen == pytest.approx(told.peak_percent_per_degree, rel=0.1)
    assert told.front_teeth_peak_kpa == found.arch.other_peak_kpa
    assert found.arch.wave.load < 0.0  # the corners carry less, though the bite may press there as hard
    assert told.arch_holds_to_mm < 60.0


def test_an_arch_that_cannot_be_stood_on_costs_its_own_measures_only(problem, monkeypatch):
    def lost(*asked):
        raise NotConverged(1.0, "it folds", "press less")

    monkeypatch.setattr(answers, "on_arch", lost)
    found = solve(replace(problem, posture=Posture(arch_radius_mm=60.0)))
    assert found.measures.corners_peak_kpa is None
    assert found.measures.tilt_to_lift_deg > 0.0
    assert any("arch" in text and "it folds" in text for text in found.warnings)


def test_waves_that_cannot_be_solved_leave_the_press_standing(problem, monkeypatch):
    def lost(*asked):
        raise NotConverged(1.0, "it buckles", "press less")

    monkeypatch.setattr(answers, "off_axis", lost)
    found = solve(replace(problem, posture=Posture()))
    assert found.off_axis is None
    assert any("it buckles" in text for text in found.warnings)
