"""The pressure plot and the ring map show the profile, and mark what the measures say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex

from labrum.reports.figures import pressure, ring_map
from labrum.reports.figures.pressure import AGAINST_RADIUS, ALONG_RIM, LipBand, pressure_figure, pressure_table


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
    assert mark[1] == pytest.approx(outcome.measures.peak_pressure_kpa, rel=3e-3)  # between nodes


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
    axes, profile = pressure_figure(outcome).axes
    assert (profile.get_xlabel(), axes.get_ylabel()) == ("radius, r (mm)", "contact pressure, p (kPa)")
    assert profile.get_ylabel() == "rim, s (mm)"
    assert axes.get_ylim()[0] == 0.0
    assert axes.get_ylim()[1] > outcome.measures.peak_pressure_kpa
    (axes,) = pressure_figure(outcome, along=ALONG_RIM).axes
    assert axes.get_xlabel() == "arc length along the rim outwards from its high point, ℓ (mm)"


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


def test_the_rims_profile_lies_under_its_pressure_on_the_same_axis(outcome):
    axes, profile = pressure_figure(outcome).axes
    assert axes.get_xlim() == profile.get_xlim()
    boxes = [a.get_position() for a in (axes, profile)]
    assert (boxes[0].x0, boxes[0].x1) == pytest.approx((boxes[1].x0, boxes[1].x1), abs=1e-3)
    assert profile.get_aspect() == 1.0
    line = profile.get_lines()[0].get_xydata()
    assert line[:, 1].min() == pytest.approx(0.0, abs=0.005)


def test_the_error_is_a_halo_of_the_peaks_estimate_or_the_curves(outcome):
    rough = replace(outcome, measures=replace(outcome.measures, peak_pressure_error_percent=5.0))
    for drawn, percent in ((outcome, 1.0), (rough, 5.0)):
        figure = pressure_figure(drawn)
        words = [t.get_text() for t in figure.legends[0].get_texts()]
        assert f"error, ± {percent:g} % of the peak" in words
        tops = [c.get_paths()[0].vertices[:, 1].max() for c in figure.axes[0].collections]
        assert max(tops) == pytest.approx((1.0 + 0.01 * percent) * drawn.pressure_profile[:, 1].max())


def test_bands_reach_from_the_least_to_the_largest_of_the_lips_tried(outcome, six):
    bands = [LipBand("stiffness halved to doubled", six[:2]), LipBand("friction 0.05 to 0.5", six[2:3])]
    figure = pressure_figure(outcome, bands=bands)
    words = [t.get_text() for t in figure.legends[0].get_texts()]
    assert {"stiffness halved to doubled", "friction 0.05 to 0.5"} < set(words)
    band = figure.axes[0].collections[1].get_paths()[0].vertices
    assert band[:, 1].max() == pytest.approx(max(o.pressure_profile[:, 1].max() for o in six[:2]), rel=0.01)
    assert figure.axes[0].get_ylim()[1] > max(o.pressure_profile[:, 1].max() for o in six[:3])


def test_pressure_on_the_cups_wall_is_hatched_and_named(outcome):
    on_rim = outcome.contact.on_rim & (outcome.contact.place[:, 0] > outcome.rim.bite[0] + 0.3)
    touched = replace(outcome, contact=replace(outcome.contact, on_rim=on_rim))
    figure = pressure_figure(touched)
    assert "on the cup's wall" in [t.get_text() for t in figure.legends[0].get_texts()]
    (wall,) = [c for c in figure.axes[0].collections if c.get_hatch()]
    assert wall.get_paths()[0].vertices[:, 0].max() == pytest.approx(outcome.rim.bite[0] + 0.3, abs=0.1)
    assert "on the cup's wall" not in [t.get_text() for t in pressure_figure(outcome).legends[0].get_texts()]


def test_the_axis_of_pressure_may_be_fixed(outcome):
    for along in (AGAINST_RADIUS, ALONG_RIM):
        assert pressure_figure(outcome, along=along, pressure_to_kpa=300.0).axes[0].get_ylim() == (0.0, 300.0)
    assert ring_map.ring_figure(outcome, pressure_to_kpa=300.0).axes[1].get_ylim() == (0.0, 300.0)


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
