"""Figures for a column, a page and a slide: as wide as said, letters as large as said, in every format."""

from __future__ import annotations

import io
import re

import pytest
from PIL import Image

from labrum.reports.figures.pressure import pressure_figure
from labrum.reports.figures.section import section_figure
from labrum.reports.house_style.paper import AS_USUAL, PRINT_SIZES, PrintSize, laid_out, sheet_width
from labrum.reports.house_style.saving import as_bytes
from labrum.reports.house_style.style import WIDTH_IN

MM_A_POINT = 25.4 / 72.0


def drawn(outcome, size):
    with laid_out(size):
        return pressure_figure(outcome, "A rim of some name", "A caution.")


@pytest.mark.parametrize("name", PRINT_SIZES)
def test_every_format_is_as_wide_as_said(outcome, name):
    size = PRINT_SIZES[name]
    figure = drawn(outcome, size)
    svg = as_bytes(figure, "svg", size).decode()
    assert float(re.search(r'<svg[^>]*\bwidth="([\d.]+)pt"', svg)[1]) * MM_A_POINT == pytest.approx(size.width_mm, 1e-3)
    page = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ", as_bytes(figure, "pdf", size))
    assert float(page[1]) * MM_A_POINT == pytest.approx(size.width_mm, rel=1e-3)
    png = Image.open(io.BytesIO(as_bytes(figure, "png", size)))
    assert png.width / size.dots_per_inch * 25.4 == pytest.approx(size.width_mm, rel=0.01)
    assert png.info["dpi"][0] == pytest.approx(size.dots_per_inch, rel=1e-3)


def test_letters_are_as_large_as_said(outcome):
    size = PrintSize(170.0, 12.0)
    label = drawn(outcome, size).axes[0].yaxis.label
    assert label.get_fontsize() * size.scale == pytest.approx(12.0)


@pytest.mark.parametrize("name", PRINT_SIZES)
def test_words_stay_on_the_sheet_and_the_profile_under_its_pressure(outcome, words_of, name):
    for draw in (pressure_figure, section_figure):
        with laid_out(PRINT_SIZES[name]):
            figure = draw(outcome, "A rim of some name", "A caution.")
        for word in words_of(figure):
            assert word.box.x0 >= -1, word.text
            assert word.box.x1 <= figure.bbox.width + 1, word.text
    above, below = drawn(outcome, PRINT_SIZES[name]).axes
    assert above.get_position().x0 == pytest.approx(below.get_position().x0, abs=2e-3)
    assert above.get_position().x1 == pytest.approx(below.get_position().x1, abs=2e-3)


def test_without_a_size_nothing_changes_and_a_size_ends_with_its_block(outcome):
    assert sheet_width(WIDTH_IN) == WIDTH_IN
    with laid_out(PRINT_SIZES["slide"]):
        assert sheet_width(WIDTH_IN) != WIDTH_IN
    figure = pressure_figure(outcome)
    assert figure.get_size_inches()[0] == WIDTH_IN
    assert as_bytes(figure, "pdf") == as_bytes(figure, "pdf", AS_USUAL)
