"""People's words: safe in a file, and never wider than the room they have."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from labrum.reports.house_style.words import fitted, plain, short

latin = st.text(st.characters(min_codepoint=32, max_codepoint=0x17F), max_size=120)


def drawn_width_in(text, size, weight="normal"):
    """Width as drawn by the raster backend, at a resolution where hinting matters little."""
    figure = Figure(dpi=1200)
    words = figure.text(0, 0, text, size=size, weight=weight, family="DejaVu Sans", parse_math=False)
    return words.get_window_extent(FigureCanvasAgg(figure).get_renderer()).width / 1200


def test_control_characters_and_line_ends_become_spaces():
    assert plain("a\tb\n c\x07\u2028d\ud800 \uffff") == "a b c d"


@pytest.mark.parametrize("weight", ["normal", "bold"])
@pytest.mark.parametrize("text", ["WWWW mmmm", "illicit fill", "r = 8.37 mm, 20 N"])
def test_text_fits_the_width_it_is_drawn_at_and_no_less(text, weight):
    wide = drawn_width_in(text, 10.0, weight)
    assert short(text, wide * 1.01, 10.0, weight) == text
    assert short(text, wide * 0.99, 10.0, weight).endswith("…")


@given(latin, st.floats(0.5, 3.0), st.integers(1, 3))
def test_no_line_is_too_wide_and_no_word_is_made_up(text, width, lines):
    rows = fitted(text, width, 8.0, lines)
    assert len(rows) <= lines
    assert all(short(row, width, 8.0) == row for row in rows)
    kept = "".join(rows).replace(" ", "")
    whole = plain(text).replace(" ", "")
    assert kept == whole or (kept.endswith("…") and whole.startswith(kept[:-1]))


def test_lines_break_between_words_and_inside_a_word_only_where_it_is_too_long():
    assert fitted("one two three four", 0.55, 8.0, 9) == ["one two", "three", "four"]
    assert "".join(fitted("Donaudampfschiff", 0.5, 8.0, 9)) == "Donaudampfschiff"
    assert fitted("  \n ", 1.0, 8.0, 2) == []
    assert short("", 1.0, 8.0) == ""
