"""The pressure plot and the ring map show the profile, and mark what the measures say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex

from labrum.reports.figures import pressure, ring_map
from labrum.reports.figures.pressure import AGAINST_RADIUS, ALONG_RIM, pressure_figure, pressure_table


def lines(figure):
    return {line.get_label(): line for line in figure.axes[0].get_lines()}


def starting(marks, words):
    return next(line for label, line in marks.items() if label.startswith(words))


@pytest.mark.parametrize("along", [AGAINST_RADIUS, ALONG_RIM], ids=["radius", "arc"])
def test_the_peak_is_marked_at_the_drawn_profiles_maximum(outcome, along):
    marks = lines(pressure_figure(outcome, along=along))
    curve = marks["pressure"].get_xydata()
    (mark,) = starting(marks, "peak").get_xydata()
    assert mark == pytest.approx(curve[np.argmax(curve[:, 1])])
    assert mark[1] == pytest.approx(outcome.measures.peak_pressure_kpa)


def test_the_peak_stays_marked_when_it_lies_elsewhere(outcome):
    profile = outcome.pressure_profile.copy()
    profile[40, 1] = 300.0
    marks = lines(pressure_figure(replace(outcome, pressure_profile=profile)))
    assert starting(marks, "peak").get_xydata()[0] == pytest.approx(profile[40])


def test_against_the_radius_every_measure_stands_where_it_is(outcome):
    m = outcome.measures
    marks = lines(pressure_figure(outcome))
    assert np.array_equal(marks["pressure"].get_xydata(), outcome.pressure_profile)
    assert starting(marks, "felt diameter").get_xdata() == pytest.approx([m.felt_diameter_mm / 2] * 2)
    assert starting(marks, "bite").get_xdata() == pytest.approx([8.25] * 2)
    ends = starting(marks, "contact").get_xydata()
    assert ends == pytest.approx(np.array([[m.contact_inner_radius_mm, 0.0], [m.contact_outer_radius_mm, 0.0]]))
    assert starting(marks, "mean").get_ydata() == pytest.approx([m.mean_pressure_kpa] * 2)


def test_the_legend_says_the_numbers(outcome):
    m = outcome.measures
    said = [t.get_text() for t in pressure_figure(outcome).legends[0].get_texts()]
    assert f"peak {m.peak_pressure_kpa:.1f} kPa ± 0.6 % at r = {m.peak_radius_mm:.2f} mm" in said
    assert f"felt diameter {m.felt_diameter_mm:.2f} mm" in said
    assert f"mean {m.mean_pressure_kpa:.1f} kPa" in said


def test_axes_carry_quantity_symbol_and_unit(outcome):
    (axes,) = pressure_figure(outcome).axes
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("radius, r (mm)", "contact pressure, p (kPa)")
    assert axes.get_ylim()[0] == 0.0
    assert axes.get_ylim()[1] > outcome.measures.peak_pressure_kpa
    (axes,) = pressure_figure(outcome, along=ALONG_RIM).axes
    assert axes.get_xlabel() == "arc length along the rim outwards from its high point, s (mm)"


def test_along_the_rim_the_high_point_is_nought_and_the_bite_its_arc_away(outcome):
    curve, rim = outcome.rim.curve, outcome.rim
    high, bite = curve.nearest([[rim.high_point_radius, 0.0], rim.bite]).arc_length
    assert ALONG_RIM.bite(outcome) == pytest.approx(bite - high)
    assert ALONG_RIM.place(outcome, rim.high_point_radius) == pytest.approx(0.0, abs=0.02)


def test_along_the_rim_lengths_exceed_the_radii_they_span(outcome):
    arc = ALONG_RIM.profile(outcome)[:, 0]
    assert np.all(np.diff(arc) > 0)
    assert np.ptp(arc) > np.ptp(outcome.pressure_profile[:, 0])


def test_pressure_on_the_cup_wall_is_not_drawn_along_the_rim(outcome):
    contact = outcome.contact
    pressure_kpa, on_rim = contact.pressure_kpa.copy(), contact.on_rim.copy()
    pressure_kpa[5], on_rim[5] = 500.0, False
    touched = replace(outcome, contact=replace(contact, pressure_kpa=pressure_kpa, on_rim=on_rim))
    assert np.array_equal(ALONG_RIM.profile(touched), ALONG_RIM.profile(outcome))


def test_the_table_is_the_drawn_profile(outcome):
    table = pressure_table(outcome)
    assert table.columns == ("radius_mm", "pressure_kpa")
    assert np.array_equal(np.array(table.rows), outcome.pressure_profile)


def test_the_ring_is_coloured_by_the_pressure_at_its_radius(outcome):
    figure = ring_map.ring_figure(outcome)
    axes, bar = figure.axes
    (rings,) = axes.collections
    reach = [path.vertices[:, 0].max() for path in rings.get_paths()]
    assert np.all(np.diff(reach) < 0), "smaller discs lie on larger ones"
    r, p = outcome.pressure_profile.T
    assert reach[0] == pytest.approx(r[-1])
    assert reach[-1] == pytest.approx(r[0])
    assert to_hex(rings.get_facecolor()[-1]) == "#ffffff"
    half_way = (reach[50] + reach[51]) / 2
    colour = ring_map.colormaps[ring_map.SEQUENTIAL](np.interp(half_way, r, p) / p.max())
    assert rings.get_facecolor()[50] == pytest.approx(colour, abs=1 / 128)
    assert bar.get_ylabel() == pressure.PRESSURE_AXIS
    assert bar.get_ylim() == pytest.approx((0.0, outcome.measures.peak_pressure_kpa))


def test_the_ring_map_shows_the_makers_circles_round_the_axis_at_one_scale(outcome):
    figure = ring_map.ring_figure(outcome)
    axes = figure.axes[0]
    circles = {line.get_label(): np.hypot(*line.get_xydata().T) for line in axes.get_lines()}
    felt = starting(circles, "felt diameter")
    assert felt == pytest.approx(outcome.measures.felt_diameter_mm / 2)
    assert starting(circles, "bite") == pytest.approx(8.25)
    assert starting(circles, "outside") == pytest.approx(13.45)
    assert starting(circles, "peak") == pytest.approx(outcome.measures.peak_radius_mm)
    assert axes.get_aspect() == 1.0
    assert "player's side" in axes.get_title(loc="left")
    assert axes.get_xlabel().endswith("(mm)")
