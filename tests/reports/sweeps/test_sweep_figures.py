"""Figures of sweeps: what stands on them, and that words neither collide nor leave the sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure

from labrum.reports.house_style.saving import as_bytes
from labrum.reports.sweeps.bands import BandWords, band_figure, band_table, band_words, curve_table
from labrum.reports.sweeps.findings import BandCurve, BandEnd, MeasureMap, Spread, TradeOff
from labrum.reports.sweeps.map import MapWords, map_figure, map_table
from labrum.reports.sweeps.tolerance import tolerance_figure
from labrum.reports.sweeps.trade_off import trade_off_figure

WORDS = BandWords("peak pressure (kPa)", "kPa", 2.0, 0.5)


def curve(label: str, narrow: float, wide: float) -> BandCurve:
    widths = np.linspace(4.5, 7.0, 6)
    where = np.linspace(4.75, 6.75, 201)
    ends = [BandEnd(x, x - 0.05, x + 0.1) for x in (narrow, wide)]
    return BandCurve(label, widths, 3000 / widths**2, None, None, where, 600 / where**3, *ends)


def bands(count: int) -> Figure:
    curves = [curve(f"thin lip, contour {number}", 5.2 + 0.1 * number, np.inf) for number in range(count)]
    return band_figure(curves, WORDS, "Wide enough", "A caution.")


def a_map(error: float | None = None) -> MeasureMap:
    across, up = np.linspace(4.5, 6.5, 41), np.linspace(0.4, 1.2, 41)
    value = 60 + 10 * (6.5 - across)[None, :] + 5 * (1.2 - up)[:, None]
    solved = np.array([[x, y, 60 + 10 * (6.5 - x) + 5 * (1.2 - y)] for x in (4.5, 6.5) for y in (0.4, 1.2)])
    return MeasureMap(across, up, value, (70 - value) / 20, solved, error)


MAP_WORDS = MapWords("width (mm)", "bite radius (mm)", "peak pressure (kPa)", ("peak pressure ≤ 70 kPa",), "trumpet",
                     (4.5, 6.0), (0.2, 1.0))  # fmt: skip


def a_trade_off(measures: int) -> Figure:
    values = np.array([[50, 2.4, 0.92], [60, 2.1, 0.93], [80, 2.0, 0.95], [82, 2.2, 0.91]])[:, :measures]
    names = ["peak pressure (kPa)", "intrusion height (mm)", "closing travel"][:measures]
    return trade_off_figure(TradeOff(values, [0, 1, 2], names), "Trade-off", "A caution.")


def a_tolerance() -> Figure:
    values = np.linspace(80, 88, 32)
    first = Spread("machining", values, ["width", "bite radius", "high point"], np.array([0.5, 0.3, 0.2]),
                   np.array([0.45, 0.35, 0.2]))  # fmt: skip
    second = Spread("the lip", values, ["stiffness"], np.array([1.0]), np.array([1.0]))
    return tolerance_figure([first, second], 83.0, "peak pressure (kPa)", "Tolerances", "A caution.")


DRAWN: dict[str, Callable[[], Figure]] = {
    "one band": lambda: bands(1),
    "six bands": lambda: bands(6),
    "nine bands": lambda: bands(9),
    "map": lambda: map_figure(a_map(), MAP_WORDS, "Map", "A caution."),
    "map by process": lambda: map_figure(a_map(1.234), MAP_WORDS, "Map", "A caution."),
    "trade-off of two": lambda: a_trade_off(2),
    "trade-off of three": lambda: a_trade_off(3),
    "tolerance": a_tolerance,
}


@pytest.mark.parametrize("name", DRAWN)
def test_every_word_is_on_the_sheet(name: str, words_of: Callable[[Figure], list[Any]]) -> None:
    figure = DRAWN[name]()
    sheet = figure.bbox
    for word in words_of(figure):
        assert word.box.x0 >= sheet.x0 - 1, word.text
        assert word.box.x1 <= sheet.x1 + 1, word.text
        assert word.box.y0 >= sheet.y0 - 1, word.text
        assert word.box.y1 <= sheet.y1 + 1, word.text


@pytest.mark.parametrize("name", ["six bands", "map", "tolerance"])
def test_the_same_figure_is_the_same_file(name: str) -> None:
    assert as_bytes(DRAWN[name](), "svg") == as_bytes(DRAWN[name](), "svg")


def test_a_band_is_drawn_between_its_ends() -> None:
    figure = band_figure([curve("a", 5.25, 6.5)], WORDS)
    bar = figure.axes[2].patches[1]
    assert (bar.get_x(), bar.get_x() + bar.get_width()) == pytest.approx((5.25, 6.5))


def test_a_band_without_an_end_reaches_the_widest_tried_and_says_so() -> None:
    drawn = [curve("a", 5.25, np.inf), curve("b", -np.inf, -np.inf)]
    bars = band_figure(drawn, WORDS).axes[2].patches
    assert bars[1].get_x() + bars[1].get_width() == pytest.approx(7.0)
    table = band_table(drawn)
    assert table.column("too_wide_above_mm") == ["more than 6.75", "less than 4.75"]
    assert table.column("too_narrow_below_mm") == ["5.25 (5.20 to 5.35)", "less than 4.75"]


def test_beyond_six_groups_only_the_bands_are_drawn() -> None:
    assert len(bands(6).axes) == 3
    assert len(bands(7).axes) == 1


def test_the_numbers_of_the_lines_are_those_drawn() -> None:
    table = curve_table([curve("a", 5.25, 6.5)])
    assert table.column("worth_of_a_tenth_more")[0] == ""  # the gain cannot be told at the ends
    assert table.column("worth_of_a_tenth_more")[2] == pytest.approx(600 / 5.5**3, rel=1e-3)


def test_the_map_hatches_what_is_not_acceptable_and_dots_what_was_solved() -> None:
    axes = map_figure(a_map(), MAP_WORDS).axes[0]
    assert [line for line in axes.lines if line.get_marker() == "." and len(line.get_xdata()) == 4]
    assert any(getattr(c, "hatches", [None])[0] == "////" for c in axes.collections)
    assert map_table(a_map(), ("w", "b", "p")).column("p") == [84.0, 80.0, 64.0, 60.0]


def test_the_rims_that_none_beats_are_numbered_in_order(words_of: Callable[[Figure], list[Any]]) -> None:
    said = [word.text for word in words_of(a_trade_off(3))]
    assert [text for text in said if text in ("1", "2", "3", "4")] == ["1", "2", "3"]


def test_the_parameter_that_matters_most_stands_on_top() -> None:
    labels = [tick.get_text() for tick in a_tolerance().axes[1].get_yticklabels()]
    assert labels == ["high point", "bite radius", "width"]


@pytest.mark.parametrize(
    ("narrow", "wide", "said"),
    [
        (5.25, 6.5, "too narrow below 5.25 mm, wide enough from 5.25 to 6.50 mm, too wide above"),
        (5.25, np.inf, "too narrow below 5.25 mm, wide enough above; "
         "too wide nowhere of the widths tried, 4.5 to 7 mm"),
        (-np.inf, 6.5, "wide enough up to 6.50 mm, too wide above"),
        (-np.inf, np.inf, "wide enough everywhere; too wide nowhere of the widths tried, 4.5 to 7 mm"),
        (np.inf, np.inf, "too narrow everywhere of the widths tried, 4.5 to 7 mm"),
        (-np.inf, -np.inf, "too wide everywhere of the widths tried, 4.5 to 7 mm"),
        (6.0, 5.5, "too narrow below 6.00 mm, and nowhere wide enough: above 5.50 mm a wider rim no longer pays"),
    ],
)
def test_the_band_is_said_in_words_with_both_ends(narrow: float, wide: float, said: str) -> None:
    assert band_words(curve("a", narrow, wide)) == said


def test_one_width_is_said_and_drawn_where_no_band_can_be_told(words_of: Callable[[Figure], list[Any]]) -> None:
    knee = replace(curve("a", 6.0, 5.9), about=BandEnd(5.95, 5.85, 6.1))
    words = "wide enough at about 5.95 (5.85 to 6.10) mm: its two ends are too near to tell a band"
    assert band_words(knee) == words
    assert band_table([knee]).column("wide_enough_about_mm") == ["5.95 (5.85 to 6.10)"]
    said = [word.text for word in words_of(band_figure([knee], WORDS))]
    assert {"too narrow", "too wide", "5.95"} < set(said)
    assert "6.00" not in said


def test_the_bars_parts_are_named(words_of: Callable[[Figure], list[Any]]) -> None:
    said = [word.text for word in words_of(band_figure([curve("a", 5.25, 6.2)], WORDS))]
    assert {"too narrow", "wide enough", "too wide", "5.25", "6.20"} < set(said)


def test_axes_start_at_nought_where_nought_means_none() -> None:
    values = np.array([[50.0, 21.0], [60.0, 20.0]])
    names = ["peak pressure (kPa)", "felt diameter (mm)"]
    axes = trade_off_figure(TradeOff(values, [0, 1], names, (True, False))).axes[0]
    assert axes.get_xlim()[0] == 0.0
    assert axes.get_ylim()[0] > 19.0


def test_rims_in_one_place_share_a_label(words_of: Callable[[Figure], list[Any]]) -> None:
    values = np.array([[50.0, 2.0], [50.2, 1.999], [80.0, 1.0]])
    names = ["peak pressure (kPa)", "intrusion height (mm)"]
    said = [word.text for word in words_of(trade_off_figure(TradeOff(values, [0, 1, 2], names)))]
    assert "1, 2" in said
