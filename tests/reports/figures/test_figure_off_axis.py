"""Figures off the axis: what they show, their words and their numbers."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.text import Text

from labrum.cases.case_file.reading import read_case
from labrum.reports.figures.catalogue import PLOTS, plots_of, write_figures
from labrum.reports.figures.off_axis import (
    RIGHT,
    Steadiness,
    WaveView,
    sides_figure,
    sides_table,
    steadiness_figure,
    steadiness_table,
    wave_views,
    waved_ring_figure,
    waved_ring_table,
)
from labrum.simulate import solve
from labrum.simulate.postures.asked import Posture
from labrum.simulate.postures.found import PressureWave

TITLE, NOTE = "A rim of quite some width with a name of its own", "Stiffness in playing is not measured. " * 3


def wave(order):
    """An even hump of 40 kPa between 8 and 12 mm, as under a line load, changed by 5 kPa at its top per unit."""
    radius = np.linspace(7.0, 13.0, 61)
    base = 0.04 * np.sqrt(np.maximum(1.0 - ((radius - 10.0) / 2.0) ** 2, 0.0))
    change = np.divide(0.005 * 0.04, base, out=np.zeros_like(base), where=base > 1e-9)
    return PressureWave(order, radius, base, change, base > 0.0, 0.25)


TILT = WaveView(wave(1), 2.0, "tilted by 2° towards the lower lip")
ARCH = WaveView(wave(2), 1.0, "on an arch of 24 mm", RIGHT)
LONG = WaveView(
    wave(1), 2.0, "between lips, the lower 1.22 times as stiff and 0.818 times as thick",
    places=("lower lip", "upper lip"), error_kpa=0.8,
)
LINES = [Steadiness(f"width {w:g} mm", [0.3, 0.6, 0.9], [9.0 * w, 8.0 * w, 7.5 * w]) for w in (0.9, 1.0, 1.1)]


def test_the_pressure_goes_with_the_cosine_and_stays_bounded_at_the_ends():
    top = [TILT.pressure_kpa(angle)[30] for angle in (0.0, 60.0, 90.0, 180.0)]
    assert top == pytest.approx([np.sqrt(40.0**2 + 2.0 * 400.0), np.sqrt(40.0**2 + 400.0), 40.0, 30.0])
    assert TILT.pressure_kpa(0.0)[0] == 0.0
    # change times base is 10 x 40 all over, as under a line load: the square of the pressure grows by twice that
    on = TILT.wave.active
    assert TILT.pressure_kpa(0.0)[on] ** 2 == pytest.approx(TILT.pressure_kpa(90.0)[on] ** 2 + 800.0)
    assert TILT.pressure_kpa(180.0).min() == 0.0


def test_the_ring_is_highest_where_it_is_pressed():
    figure = waved_ring_figure(TILT)
    (dot,) = [k for k in figure.axes[0].get_lines() if k.get_marker() == "o"]
    x, y = dot.get_xydata()[0]
    assert (x, y) == pytest.approx((0.0, -10.0), abs=1e-9)  # theta = 0 is down, the lower lip
    table = waved_ring_table(TILT)
    rows = np.array(table.rows, float)
    assert rows[:, 2].max() == pytest.approx(np.sqrt(40.0**2 + 800.0), rel=1e-3)  # between the curve's places
    assert table.columns == ("angle_deg", "radius_mm", "pressure_kpa")


def test_sides_are_told_apart_and_alike_ones_drawn_once():
    three, two = sides_figure(TILT), sides_figure(ARCH)
    words = [t.get_text() for t in three.legends[0].get_texts()]
    assert words == ["at 0°", "at 90°, as without it", "at 180°"]
    assert [t.get_text() for t in two.legends[0].get_texts()] == ["at 0° and 180°", "at 90°", "in between, at 45°"]
    lines = three.axes[0].get_lines()
    assert len({line.get_linestyle() if isinstance(line.get_linestyle(), str) else 0 for line in lines}) > 1
    sides = sides_table(TILT)
    assert set(sides.column("side")) == {"even", "0 deg", "90 deg", "180 deg"}


def test_every_side_falls_to_nought_and_the_pressed_sides_end_moves_out():
    """Under a line load p^2 = (1600 - 400 x^2) kPa^2 at x mm from the middle, and 200 more where it is pressed."""
    slight = WaveView(wave(1), 0.5, "tilted by half a degree")
    for angle, half in ((0.0, np.sqrt(1800.0 / 400.0)), (90.0, 2.0)):
        profile = slight.profile(angle)
        assert profile[[0, -1], 1] == pytest.approx([0.0, 0.0])
        assert profile[[0, -1], 0] == pytest.approx([10.0 - half, 10.0 + half], abs=0.05)
    lifted = TILT.profile(180.0)
    assert lifted[[0, -1], 1] == pytest.approx([0.0, 0.0])
    assert 8.0 < lifted[0, 0] < lifted[-1, 0] < 12.0
    for line in sides_figure(TILT).axes[0].get_lines():
        assert line.get_ydata()[[0, -1]] == pytest.approx([0.0, 0.0])


def test_steadiness_starts_at_nought_and_keeps_its_numbers():
    figure = steadiness_figure(LINES, "bite radius, ρ (mm)", "rocking stiffness, K (N·mm per degree)")
    axes = figure.axes[0]
    assert axes.get_ylim()[0] == 0.0
    assert len(axes.get_lines()) == 3
    table = steadiness_table(LINES)
    assert table.column("stiffness")[:3] == [9.0 * 0.9, 8.0 * 0.9, 7.5 * 0.9]


@pytest.mark.parametrize(
    "draw",
    [
        lambda: waved_ring_figure(TILT, TITLE, NOTE), lambda: waved_ring_figure(ARCH), lambda: sides_figure(TILT),
        lambda: sides_figure(ARCH, TITLE, NOTE), lambda: waved_ring_figure(LONG), lambda: sides_figure(LONG),
        lambda: steadiness_figure(LINES, "bite radius, ρ (mm)", "rocking stiffness, K (N·mm per degree)", TITLE, NOTE),
    ],
)  # fmt: skip
def test_no_words_collide_or_leave_the_sheet(words_of, draw):
    figure = draw()
    words = words_of(figure)
    width, height = figure.bbox.size
    assert all(w.box.x0 >= -1 and w.box.y0 >= -1 and w.box.x1 <= width + 1 and w.box.y1 <= height + 1 for w in words)
    for one, other in combinations(words, 2):
        wide = min(one.box.x1, other.box.x1) - max(one.box.x0, other.box.x0)
        tall = min(one.box.y1, other.box.y1) - max(one.box.y0, other.box.y0)
        assert min(wide, tall) <= 1.0, (one.text, other.text)


def test_long_words_over_the_ring_keep_off_the_colours():
    figure = waved_ring_figure(LONG, TITLE, NOTE)
    ring, bar = figure.axes
    renderer = figure._get_renderer()
    (words,) = [text for text in ring.findobj(Text) if text.get_text().count("\n") == 2]
    assert words.get_window_extent(renderer).x1 < bar.get_window_extent(renderer).x0


@pytest.fixture(scope="module")
def outcome():
    return solve(replace(read_case("demo").problem, posture=Posture(0.0, 80.0, 0.05)))


def test_a_run_draws_what_was_asked_and_nothing_else(outcome, tmp_path):
    names = [f"{word}_{kind}" for word in ("tilted", "unlike", "arched") for kind in ("ring", "sides")]
    assert sorted(set(plots_of(outcome)) - set(PLOTS)) == sorted(names)
    written = write_figures(outcome, TITLE, tmp_path, NOTE, formats=("svg",))
    assert {path.stem for path in written} == {"pressure", "section", *names}
    bare = replace(outcome, off_axis=None)
    assert set(plots_of(bare)) == set(PLOTS)


def test_what_is_drawn_is_what_is_told(outcome):
    views, told = wave_views(outcome), outcome.measures
    assert np.degrees(views["tilted"].amount) == pytest.approx(told.tilt_for_ten_percent_deg)  # no tilt was asked for
    for word, angle, name in (("unlike", 0.0, "lower_lip_peak_kpa"), ("arched", 90.0, "front_teeth_peak_kpa")):
        assert views[word].pressure_kpa(angle).max() == pytest.approx(getattr(told, name), rel=0.01)


def test_the_highest_pressure_has_its_error_beside_it(outcome):
    """That of the measure which is the highest; under a tilt nobody asked for, straight peak and slope together."""
    views, told = wave_views(outcome), outcome.measures
    unlike, arched = ("lower_lip_peak_kpa", "upper_lip_peak_kpa"), ("corners_peak_kpa", "front_teeth_peak_kpa")
    for word, names in (("unlike", unlike), ("arched", arched)):
        highest = max(names, key=lambda name: getattr(told, name))
        assert views[word].error_kpa == told.errors[highest]
    tilt = told.tilt_for_ten_percent_deg
    slope = told.errors["peak_percent_per_degree"] / 100.0 * tilt * told.peak_pressure_kpa
    assert views["tilted"].error_kpa == pytest.approx(1.1 * told.errors["peak_pressure_kpa"] + slope)
    words = [text.get_text() for text in waved_ring_figure(LONG).legends[0].get_texts()]
    assert words[0] == "highest 49.0 ± 0.8 kPa at r = 10.00 mm, lower lip"


def test_the_sides_are_named(outcome):
    axes = sides_figure(wave_views(outcome)["arched"]).axes[0]
    assert [line.get_label() for line in axes.get_lines()] == [
        "at 0° and 180°, corners", "at 90°, front teeth", "in between, at 45°",
    ]  # fmt: skip
