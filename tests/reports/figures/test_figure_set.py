"""Every figure: words that neither collide nor leave the sheet, named axes, and the set a run writes."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib import _pylab_helpers

from labrum.reports.figures.catalogue import PLOTS, write_figures
from labrum.reports.figures.side_by_side import compare_figure, overlay_figure
from tests.reports import sample_outcome as sample

TITLE = "A rim of quite some width with a name that a person gave it in a generous hour, and $5 more"
SYMBOL_AND_UNIT = re.compile(r"[^,].*, \S+( \((mm|kPa|N)\))?")
NOTE = "Lip stiffness in playing is not measured; what is written here rests on a calibration. " * 2


def assert_legible(words, figure):
    """No text overlaps another by more than a dot, none leaves the sheet."""
    width, height = figure.bbox.size
    for word in words:
        box = word.box
        assert box.x0 >= -1, word
        assert box.y0 >= -1, word
        assert box.x1 <= width + 1, word
        assert box.y1 <= height + 1, word
    for one, other in combinations(words, 2):
        wide = min(one.box.x1, other.box.x1) - max(one.box.x0, other.box.x0)
        tall = min(one.box.y1, other.box.y1) - max(one.box.y0, other.box.y0)
        assert min(wide, tall) <= 1.0, (one.text, other.text)


@pytest.mark.parametrize(("name", "title"), [*((name, TITLE) for name in PLOTS), ("pressure", ""), ("section", "")])
def test_no_words_collide_or_leave_the_sheet(outcome, words_of, name, title):
    figure = PLOTS[name].draw(outcome, title, NOTE if title else "")
    words = words_of(figure)
    assert len(words) > 8
    assert_legible(words, figure)


@pytest.mark.parametrize("count", [1, 4, 5, 6])
def test_no_words_collide_in_a_comparison(six, words_of, count):
    names = ["Round", "A rim with quite a long name indeed", "Sharp", "Wide", "Narrow", "Flat"][:count]
    for draw in (compare_figure, overlay_figure):
        figure = draw(six[:count], names, TITLE, NOTE)
        assert_legible(words_of(figure), figure)


def test_names_of_many_thin_layers_do_not_collide(outcome, words_of):
    section = outcome.section
    depth = -section.rest[section.quads[:, 8], 1]
    layer = np.searchsorted([0.2, 0.5, 0.9, 1.2, 2.0, 10.6], depth)
    names = ("outer skin", "inner skin", "fat", "the ring muscle", "fascia", "core", "mucosa")
    thin = replace(outcome, section=replace(section, layer=layer, layer_names=names))
    figure = PLOTS["section"].draw(thin, "", "")
    assert_legible(words_of(figure), figure)


@pytest.mark.parametrize("changes", [{"inner_diameter_mm": 10.0, "width_mm": 3.5}, {"inner_diameter_mm": 25.0}])
def test_small_and_large_rims_are_drawn_as_legibly(words_of, changes):
    rim = sample.demo_rim(**changes, bite_radius_mm=0.3)
    outcome = sample.invent(rim, sample.Invented(force=60.0))
    for name in ("pressure", "section", "ring_map"):
        figure = PLOTS[name].draw(outcome, TITLE, NOTE)
        assert_legible(words_of(figure), figure)


@pytest.mark.parametrize("name", PLOTS)
def test_every_axis_is_named_and_no_figure_stays_open(outcome, name):
    for axes in PLOTS[name].draw(outcome, "", "").axes:
        labels = [axes.get_xlabel(), axes.get_ylabel()]
        if axes.get_label() == "<colorbar>":
            assert sum(map(bool, labels)) == 1
        else:
            if not axes.xaxis.get_tick_params()["labelbottom"]:
                labels = labels[1:]  # its axis across is that of the drawing below it
            assert all(SYMBOL_AND_UNIT.fullmatch(label) for label in labels), labels
            assert any(label.endswith(("(mm)", "(kPa)", "(N)")) for label in labels) or name == "residuals"
    assert not _pylab_helpers.Gcf.figs


def test_every_table_names_units_and_has_rows(outcome):
    for name, plot in PLOTS.items():
        data = plot.numbers(outcome)
        assert data.rows, name
        assert any(column.endswith(("_mm", "_kpa", "_n", "residual")) for column in data.columns), name


def test_a_run_writes_pressure_and_section_with_their_numbers(outcome, tmp_path):
    written = write_figures(replace(outcome, mode=None), "A rim", tmp_path / "figures")
    expected = {f"{name}.{ending}" for name in ("pressure", "section") for ending in ("svg", "png", "csv")}
    assert {p.name for p in written} == expected == {p.name for p in (tmp_path / "figures").iterdir()}


def test_a_run_that_vibrates_shows_its_mode_too(outcome, tmp_path):
    written = write_figures(outcome, "A rim", tmp_path)
    assert {"mode.svg", "mode.png", "mode.csv"} < {path.name for path in written}


def test_the_modes_numbers_move_the_front_into_the_cup(outcome):
    """Whatever its sign was: a mode has none of its own."""
    moves = [
        PLOTS["mode"].numbers(replace(outcome, mode=replace(outcome.mode, shape=way * outcome.mode.shape)))
        for way in (1.0, -1.0)
    ]
    assert moves[0].rows == moves[1].rows
    assert max(moves[0].column("move_z")) == 1.0


def test_other_figures_are_written_when_asked(outcome, tmp_path):
    written = write_figures(outcome, "A rim", tmp_path, names=["stretch"], formats=["pdf"])
    assert [p.name for p in written] == ["stretch.pdf", "stretch.csv"]


def test_an_unknown_figure_is_refused_and_nothing_written(outcome, tmp_path):
    with pytest.raises(ValueError, match="figures: got pressur, allowed pressure, "):
        write_figures(outcome, "A rim", tmp_path / "none", names=["section", "pressur"])
    assert not (tmp_path / "none").exists()
