"""The curve of pressure: exact where it can be, no worse than a percent against far finer grids, nought at its ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from labrum.cases.case_file.reading import read_case
from labrum.meshes.grids.interpolation import monotone
from labrum.simulate.accuracy.refinement import held
from labrum.simulate.equilibrium.traction import surface_mass, traction
from labrum.simulate.living.breath_and_muscle import final_stage
from labrum.simulate.load_path.press import HOME
from labrum.simulate.readings.pressure import profile
from labrum.simulate.readings.pressure_line import pressure_lines, profile_of
from labrum.simulate.solving import silent, solve_refined

NEAR_AN_END_MM = 0.1
SHIFT_MM = 0.03


def flat(count, first=8.0, last=13.0):
    return np.column_stack([np.linspace(first, last, count), np.zeros(count)])


def projected(place, shape, touching):
    """Nodal values as the solver recovers them: the shape's integrals over the touching nodes, mass taken off."""
    fine = np.linspace(0, len(place) - 1, 64 * (len(place) - 1) + 1)
    radius = np.interp(fine, np.arange(len(place)), place[:, 0])
    start = np.minimum(2 * (fine // 2).astype(int), len(place) - 3)
    x = fine - start - 1.0
    weight = 2.0 * np.pi * radius * shape(radius) * np.gradient(radius)
    load = np.zeros(len(place))
    for part, value in enumerate((0.5 * x * (x - 1), 1 - x * x, 0.5 * x * (x + 1))):
        np.add.at(load, start + part, weight * value)
    out = np.zeros(len(place))
    out[touching] = np.linalg.solve(surface_mass(place)[np.ix_(touching, touching)], load[touching])
    return out


def test_under_a_line_load_the_ends_and_the_curve_are_found_between_nodes():
    """Half an ellipse of pressure (Hertz: Johnson, Contact Mechanics, 1985, section 4.2; from memory)."""
    place = flat(81, 7.0, 14.0)
    def shape(r):
        return 60.0 * np.sqrt(np.maximum(1.0 - ((r - 10.5) / 2.47) ** 2, 0.0))

    touching = np.abs(place[:, 0] - 10.5) < 2.47
    (line,) = pressure_lines(place, projected(place, shape, touching), touching)
    assert line.place[[0, -1], 0] == pytest.approx([10.5 - 2.47, 10.5 + 2.47], abs=0.01)
    inside = np.abs(line.place[:, 0] - 10.5) < 2.47 - NEAR_AN_END_MM
    assert line.pressure[inside] == pytest.approx(shape(line.place[inside, 0]), abs=0.6)
    assert line.pressure[[0, -1]] == pytest.approx([0.0, 0.0])


def test_a_steady_pressure_over_the_axis_stays_steady():
    place, touching = flat(41, 0.0, 5.0), np.arange(41) < 30
    (line,) = pressure_lines(place, np.where(touching, 3.0, 0.0), touching)
    assert line.place[0, 0] == 0.0
    assert line.pressure[line.place[:, 0] < 3.2] == pytest.approx(3.0)
    assert line.pressure[-1] == 0.0


def test_two_stretches_are_two_lines_with_nothing_between():
    place, touching = flat(41), np.zeros(41, bool)
    touching[3:11], touching[20:35] = True, True
    lines = pressure_lines(place, np.where(touching, 5.0, 0.0), touching)
    assert [line.pressure[[0, -1]].tolist() for line in lines] == [[0.0, 0.0]] * 2
    radius, pressure = profile_of(lines).T
    assert np.all(np.diff(radius) >= 0.0)
    assert np.interp(0.5 * (place[11, 0] + place[19, 0]), radius, pressure) == 0.0


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_the_shortest_stretches_are_drawn_too(count):
    place, touching = flat(21), np.zeros(21, bool)
    touching[8 : 8 + count] = True
    (line,) = pressure_lines(place, np.where(touching, 2.0, 0.0), touching)
    assert line.pressure.max() == pytest.approx(2.0)
    assert line.pressure[[0, -1]] == pytest.approx([0.0, 0.0])
    assert np.all(np.diff(line.at) > 0.0)


def test_nothing_touches_and_nothing_is_drawn():
    assert profile_of(pressure_lines(flat(5), np.zeros(5), np.zeros(5, bool))).shape == (0, 2)


def test_nodal_values_are_read_on_the_line():
    place, touching = flat(21), np.arange(21) % 20 > 4
    (line,) = pressure_lines(place, touching * 1.0, touching)
    assert line.nodal(place[:, 0]) == pytest.approx(line.place[:, 0])
    assert line.nodal(place) == pytest.approx(line.place)


@given(st.lists(st.tuples(st.floats(0.1, 2.0), st.floats(-5.0, 5.0)), min_size=3, max_size=12))
def test_between_the_outermost_knots_it_is_the_librarys_monotone_interpolant(steps):
    widths, values = np.round(np.array(steps).T, 9)  # next to nought the library's own slopes overflow
    knots = np.cumsum(widths)
    places = np.linspace(knots[0], knots[-1], 97)
    own, other = monotone(knots, values, places), PchipInterpolator(knots, values)(places)
    inner = (places >= knots[1]) & (places <= knots[-2])
    assert own[inner] == pytest.approx(other[inner], abs=1e-9)
    assert own.min() >= values.min() - 1e-9
    assert own.max() <= values.max() + 1e-9


def finer(problem, pressed, times):
    """The same equilibrium with every element of the grid shorter by a half, so many times over."""
    for _ in range(times):
        pressed = held(problem, pressed, pressed.fineness.refined(0.5), final_stage(problem), silent, HOME)
    return profile(traction(pressed.model, pressed.equilibrium.state))


@pytest.mark.parametrize(
    ("name", "times"),
    [("demo", 1), ("thin-narrow", 1), ("fleshy-loud", 1), ("thin-wide", 1),
     *(pytest.param(name, 2, marks=pytest.mark.slow) for name in ("demo", "thin-narrow", "fleshy-loud", "living-lip"))],
)  # fmt: skip
def test_the_whole_curve_is_that_of_a_far_finer_grid_to_a_percent_of_the_peak(name, times):
    """Away from both ends; next to them, where the curve is upright, it strays less than SHIFT_MM sideways."""
    problem = read_case(name).problem
    solved, refined = solve_refined(problem)
    told, fine = solved.outcome.pressure_profile, finer(problem, refined.finest, times)
    place = np.linspace(fine[0, 0] - 0.1, fine[-1, 0] + 0.1, 6001)
    own, exact = (np.interp(place, *rows.T, left=0.0, right=0.0) for rows in (told, fine))
    peak = exact.max()
    inside = (place > fine[0, 0] + NEAR_AN_END_MM) & (place < fine[-1, 0] - NEAR_AN_END_MM)
    assert np.abs(own - exact)[inside].max() < 0.01 * peak
    beside = [np.interp(place + s, *fine.T, left=0.0, right=0.0) for s in np.linspace(-SHIFT_MM, SHIFT_MM, 13)]
    assert np.maximum(own - np.max(beside, axis=0), np.min(beside, axis=0) - own).max() < 0.005 * peak


def test_the_curve_carries_the_force():
    """Without shear the axial load is the integral of pressure over the area seen along the axis."""
    outcome = solve_refined(read_case("demo").problem)[0].outcome
    radius, pressure = outcome.pressure_profile.T
    steps = 0.5 * (pressure[1:] + pressure[:-1]) * np.pi * np.diff(radius**2)
    assert 1e-3 * steps.sum() == pytest.approx(outcome.force_n, rel=3e-3)


def test_half_a_curve_is_as_smooth_as_a_whole_one():
    """No corner: the slope of the square changes by little from point to point (it jumps by half at a node's own)."""
    outcome = solve_refined(read_case("demo").problem)[0].outcome
    radius, pressure = outcome.pressure_profile.T
    even = np.linspace(11.8, 13.0, 200)
    slope = np.gradient(np.interp(even, radius, pressure), even)
    assert np.abs(np.diff(slope)).max() < 0.12 * np.ptp(slope)
