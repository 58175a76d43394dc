"""Files: the same bytes every time, text that stays text, numbers that read back."""

from __future__ import annotations

import csv
import re
import xml.etree.ElementTree as ET

import pytest
from matplotlib.font_manager import findfont, get_font

from labrum.reports.figures.catalogue import PLOTS
from labrum.reports.figures.pressure import pressure_figure, pressure_table
from labrum.reports.figures.section import section_figure, section_table
from labrum.reports.house_style.figure_data import Table, labelled, table, write_csv
from labrum.reports.house_style.saving import FORMATS, as_bytes, inline_svg, save
from labrum.reports.house_style.words import FAMILY

AWKWARD = "costs $5 & <b>more</b> \\frac{$ ]]> -- \x07 ünï 唇"


def read_csv(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.reader(file))


def test_one_call_writes_every_format_and_the_numbers(outcome, tmp_path):
    written = save(pressure_figure(outcome), pressure_table(outcome), tmp_path / "new", "pressure")
    assert [p.name for p in written] == ["pressure.svg", "pressure.pdf", "pressure.png", "pressure.csv"]
    starts = [p.read_bytes()[:5] for p in written]
    assert starts[0] == b"<?xml"
    assert starts[1] == b"%PDF-"
    assert starts[2][1:4] == b"PNG"


@pytest.mark.parametrize("ending", FORMATS)
@pytest.mark.parametrize("draw", [pressure_figure, section_figure])
def test_the_same_outcome_gives_the_same_bytes(outcome, draw, ending):
    figure = draw(outcome, "A rim", "A caution")
    first = as_bytes(figure, ending)
    assert as_bytes(figure, ending) == first, "written twice"
    assert as_bytes(draw(outcome, "A rim", "A caution"), ending) == first, "drawn twice"


@pytest.mark.parametrize("order", [("svg", "png", "pdf"), ("png", "pdf", "svg")])
def test_what_was_written_before_makes_no_difference(outcome, order):
    figure = section_figure(outcome)
    alone = {ending: as_bytes(section_figure(outcome), ending) for ending in order}
    assert {ending: as_bytes(figure, ending) for ending in order} == alone


@pytest.mark.parametrize("ending", FORMATS)
def test_no_file_carries_a_date(outcome, ending):
    content = as_bytes(pressure_figure(outcome), ending)
    assert not re.search(rb"20\d\d-\d\d-\d\d|D:20\d\d|CreationDate|<dc:date>|tIME", content)


def test_text_in_an_svg_is_text(outcome):
    root = ET.fromstring(as_bytes(pressure_figure(outcome, "The demo rim"), "svg"))
    texts = ["".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "The demo rim" in texts
    assert "contact pressure, p (kPa)" in texts
    assert any(t.startswith("peak ") for t in texts)
    assert "sans-serif" in as_bytes(pressure_figure(outcome), "svg").decode(), "a face to fall back on"


def test_every_text_in_every_svg_is_whole_and_its_letters_are_in_the_font(outcome):
    letters = get_font(findfont(FAMILY)).get_charmap()
    for name, plot in PLOTS.items():
        root = ET.fromstring(as_bytes(plot.draw(outcome, "", ""), "svg"))
        texts = ["".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text")]
        assert not list(root.iter("{http://www.w3.org/2000/svg}tspan")), name
        assert {c for c in "".join(texts) if ord(c) not in letters} == set(), name


def test_peoples_words_come_through_unread(outcome):
    root = ET.fromstring(as_bytes(pressure_figure(outcome, AWKWARD), "svg"))
    texts = " ".join("".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text"))
    assert "costs $5 & <b>more</b> \\frac{$ ]]> -- ünï 唇" in texts
    assert as_bytes(pressure_figure(outcome, AWKWARD, AWKWARD), "png")
    assert as_bytes(pressure_figure(outcome, AWKWARD, AWKWARD), "pdf")


def test_a_format_we_do_not_write_is_refused_and_nothing_written(outcome, tmp_path):
    with pytest.raises(ValueError, match="got tiff, allowed svg, pdf, png"):
        save(pressure_figure(outcome), pressure_table(outcome), tmp_path / "none", "p", ["svg", "tiff"])
    assert not (tmp_path / "none").exists()


def test_numbers_read_back_to_the_last_bit(outcome, tmp_path):
    for data in (pressure_table(outcome), section_table(outcome)):
        header, *rows = read_csv(write_csv(data, tmp_path / "data.csv"))
        assert tuple(header) == data.columns
        assert len(rows) == len(data.rows)
        for read, given in zip(rows, data.rows, strict=True):
            assert [v if isinstance(g, str) else float(v) for v, g in zip(read, given, strict=True)] == list(given)


def test_names_with_commas_quotes_and_line_ends_read_back(tmp_path):
    data = table(rim=['a "wide", one', "two\nlines", "唇"], radius_mm=[1.0, 0.1, 1e-300])
    _, *rows = read_csv(write_csv(data, tmp_path / "data.csv"))
    assert [row[0] for row in rows] == data.column("rim")


def test_tables_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match=r"longer|shorter"):
        table(a=[1, 2], b=[1])
    with pytest.raises(ValueError, match="same columns"):
        labelled("part", [("one", Table(("a",), ())), ("two", Table(("b",), ()))])


def test_an_inlined_svg_stands_alone_and_keeps_to_its_own_names(outcome):
    figure = section_figure(outcome, "A rim")
    one, two = (inline_svg(figure, key, 'The "deformed" section of <a> rim') for key in ("one", "two"))
    root = ET.fromstring(one)
    assert root.get("role") == "img"
    assert root.get("aria-label") == 'The "deformed" section of <a> rim'
    assert "<?xml" not in one
    assert "<!DOCTYPE" not in one
    assert "<metadata" not in one
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert all(name.startswith("one-") for name in ids)
    pointed = set(re.findall(r'(?:href="|url\()#([^")]+)', one))
    assert pointed
    assert pointed <= set(ids)
    assert not set(ids) & set(re.findall(r'id="([^"]+)"', two))
    outside = set(re.findall(r"https?://[^\"' <]+", one))
    assert outside <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
