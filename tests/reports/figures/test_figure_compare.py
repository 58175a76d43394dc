"""Several rims at one scale, told apart by more than colour."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.reports.figures.side_by_side import MOST_SIDE_BY_SIDE, compare_figure, compare_table, overlay_figure
from labrum.reports.house_style.style import SERIES

NAMES = ["Round", "Demo", "Sharp", "Wide", "Narrow", "Flat"]


def panels(figure):
    """Pressure and section panels, rim after rim."""
    above = [a for a in figure.axes if a.get_title(loc="left")]
    below = [a for a in figure.axes if a not in above and a.get_label() != "<colorbar>"]
    return above, below


@pytest.fixture(scope="module")
def drawn(six):
    """Comparisons of one to six rims."""
    return {count: compare_figure(six[:count], NAMES[:count]) for count in range(1, 7)}


@pytest.mark.parametrize("count", range(1, 7))
def test_every_rim_gets_two_panels_at_the_scale_of_all(six, drawn, count):
    above, below = panels(drawn[count])
    assert len(above) == len(below) == count
    assert len({a.get_xlim() for a in above + below}) == 1
    assert len({a.get_ylim() for a in above}) == len({a.get_ylim() for a in below}) == 1
    assert above[0].get_ylim()[1] > max(o.measures.peak_pressure_kpa for o in six[:count])
    assert {a.get_aspect() for a in below} == {1.0}


@pytest.mark.parametrize("count", range(1, 7))
def test_a_rims_pressure_stands_right_above_its_section(drawn, count):
    figure = drawn[count]
    figure.draw_without_rendering()
    for upper, lower in zip(*panels(figure), strict=True):
        box, other = upper.get_position(original=False), lower.get_position(original=False)
        assert (box.x0, box.x1) == pytest.approx((other.x0, other.x1), abs=1e-3)
        assert box.y0 > other.y1


def test_a_rims_own_profile_stands_out_from_the_others(six, drawn):
    above, _ = panels(drawn[6])
    for number, (axes, outcome) in enumerate(zip(above, six, strict=True)):
        own = [line for line in axes.get_lines() if line.get_color() == SERIES[number].colour]
        assert np.array_equal(own[0].get_xydata(), outcome.pressure_profile)
        assert own[1].get_marker() == SERIES[number].marker
        assert own[1].get_xydata()[0] == pytest.approx(
            [outcome.measures.peak_radius_mm, outcome.measures.peak_pressure_kpa]
        )
        assert len(axes.get_lines()) == len(six) + 2


def test_captions_say_each_rims_name_and_numbers(six, drawn):
    above, _ = panels(drawn[6])
    assert [a.get_title(loc="left") for a in above] == NAMES
    said = [t.get_text() for t in above[2].texts]
    m = six[2].measures
    assert f"peak {m.peak_pressure_kpa:.1f} kPa at r = {m.peak_radius_mm:.2f} mm" in said
    assert f"felt diameter {m.felt_diameter_mm:.2f} mm" in said


def test_outer_axes_carry_symbols_and_units(drawn):
    above, below = panels(drawn[6])
    assert [a.get_ylabel() for a in above] == ["pressure, p (kPa)", "", ""] * 2
    assert [a.get_ylabel() for a in below] == ["height, z (mm)", "", ""] * 2
    assert [a.get_xlabel() for a in below] == [""] * 3 + ["radius, r (mm)"] * 3


def test_the_overlay_tells_rims_apart_by_colour_dashes_and_marker(six):
    figure = overlay_figure(six, NAMES)
    lines = figure.axes[0].get_lines()
    for line, outcome, look in zip(lines, six, SERIES, strict=True):
        assert np.array_equal(line.get_xydata(), outcome.pressure_profile)
        assert (line.get_color(), line.get_marker()) == (look.colour, look.marker)
        assert line.get_markevery() == [np.argmax(outcome.pressure_profile[:, 1])]
    said = [t.get_text() for t in figure.legends[0].get_texts()]
    assert all(text.startswith(name + ": peak") for text, name in zip(said, NAMES, strict=True))


@pytest.mark.parametrize("draw", [compare_figure, overlay_figure, compare_table])
def test_more_rims_than_can_be_told_apart_are_refused(six, draw):
    assert MOST_SIDE_BY_SIDE == 6
    with pytest.raises(ValueError, match="got 7, allowed 1 to 6"):
        draw([*six, six[0]], [*NAMES, "one more"])
    with pytest.raises(ValueError, match="got 0, allowed 1 to 6"):
        draw([], [])
    with pytest.raises(ValueError, match="names: got 1, allowed one for each of the 2 rims"):
        draw(six[:2], ["one"])


def test_the_table_stacks_the_profiles_under_their_names(six):
    table = compare_table(six[:2], NAMES[:2])
    assert table.columns == ("rim", "radius_mm", "pressure_kpa")
    second = np.array([row[1:] for row in table.rows if row[0] == "Demo"])
    assert np.array_equal(second, six[1].pressure_profile)
