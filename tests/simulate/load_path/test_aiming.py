"""The search for a force: on functions whose answer is known, and in a press there and back."""

from __future__ import annotations

import math

import pytest

from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import NotConverged, solve
from labrum.simulate.load_path.aiming import MOST_FORCE_N, force_for

RIM = {"inner_diameter_mm": 16.5, "width_mm": 5.2}


class Counted:
    """A value over the force, and how often it was asked for."""

    def __init__(self, value):
        self.value, self.asked = value, 0

    def __call__(self, force):
        self.asked += 1
        return self.value(force)


@pytest.mark.parametrize("power", [0.3, 0.6, 1.0, 2.0])
@pytest.mark.parametrize("root", [0.5, 18.0, 21.0, 300.0])
def test_the_force_of_a_power_law(root, power):
    value = Counted(lambda force: 3.0 * (force / root) ** power)
    found = force_for(value, 3.0, 20.0, 1e-4)
    assert found.force == pytest.approx(root, rel=1e-4 / power + 1e-6)
    assert found.power == pytest.approx(power, rel=0.35)
    assert value.asked <= 12


def test_a_guess_that_is_right_is_asked_once():
    value = Counted(lambda force: force)
    assert force_for(value, 20.0, 20.0, 1e-3).force == pytest.approx(20.0)
    assert value.asked == 1


def test_a_value_below_nought_on_the_way_does_no_harm():
    """A contracting lip lifts a rim that is pressed softly: its sink is negative."""
    found = force_for(lambda force: math.log(force / 8.0), 0.5, 4.0, 1e-6)
    assert found.force == pytest.approx(8.0 * math.exp(0.5), rel=1e-6)


def test_what_no_force_brings_about_is_an_error():
    with pytest.raises(NotConverged, match=r"forces from 0\.02 to 500 N were tried; at this one .* % of it is there"):
        force_for(lambda force: 1.0 - 1.0 / (1.0 + force), 2.0, 20.0, 1e-3)


def limited(most):
    def value(force):
        if force > most:
            raise NotConverged(most, "the lip folds", "press less")
        return force

    return value


def test_a_force_without_equilibrium_is_gone_round():
    assert force_for(limited(30.0), 29.0, 20.0, 1e-3).force == pytest.approx(29.0, rel=1e-3)


def test_where_no_further_force_has_an_equilibrium_its_cause_is_told():
    with pytest.raises(NotConverged, match="further on there was no equilibrium: the lip folds") as stop:
        force_for(limited(30.0), 60.0, 20.0, 1e-3)
    assert 20.0 <= stop.value.force_reached <= 30.0 < MOST_FORCE_N


@pytest.mark.parametrize("friction", [0.0, 0.15])
def test_a_press_is_found_again_by_what_it_brought_about(friction):
    """The force of 20 N, from the mean pressure and from the sink that it has; all else as under that force."""

    def solved(**load):
        lip = {"type": "average", "backing": "sliding", "tooth_gap_radius_mm": 6.0}
        load = {"friction": friction, "mouth_pressure_kpa": 3.0} | load
        return solve(case_from_table({"schema": 1, "rim": RIM, "lip": lip, "load": load}).problem)

    given = solved(force_n=20.0)
    for name in ("mean_pressure_kpa", "sink_mm"):
        wanted = getattr(given.measures, name)
        found = solved(**{name: wanted})
        assert getattr(found.measures, name) == pytest.approx(wanted, rel=2e-3)
        assert found.force_n == pytest.approx(20.0, rel=5e-3)
        assert found.newton_iterations > given.newton_iterations
        assert found.measures.felt_diameter_mm == pytest.approx(given.measures.felt_diameter_mm, abs=0.01)
