"""The drawing says every dimension with its tolerance, true to scale, on a sheet that never changes."""

from __future__ import annotations

import re
from math import inf

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from labrum.meshes.machining.dimensions import Band, Dimension, iso_2768, no_tolerance, same_for_lengths, with_own
from labrum.meshes.machining.lathe_view import UNITS
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.rims.rim import Rim, RimDimensions, rim_from_dimensions
from labrum.reports.drawings.marks import dimension_text, largest_scale, scale_words, spread_within
from labrum.reports.drawings.sheet import INVENTED_STAMP, NO_VALUE, SHOP_CAUTION, SheetWords, drawing_figure
from labrum.reports.house_style.saving import as_bytes

DEMO = rim_from_dimensions(RimDimensions(16.5, 5.2, 0.45, 0.6, 6.0, 8.0, 1.8, 60.0, 10.0))
TUBA = rim_from_dimensions(RimDimensions(33.0, 8.0, 0.5, 1.0, 9.0, 12.0, 2.5, 55.0, 30.0))
NARROW = rim_from_dimensions(RimDimensions(16.5, 3.0, 0.5, 0.3, inf, inf, 0.8, 89.0, 2.0))
RING = rim_from_outline([[8.25, 6.0, 0.0], [8.25, 2.5, 1.0], [13.25, 2.5, 0.0], [13.25, 6.0, 0.0]])
# Measured a little way into the cup and down the outside, no farther.
WALL = np.array([1.0, -np.sqrt(3.0)])
INWARD = DEMO.curve.start[2] - 0.4 * WALL
TRACE = rim_from_outline([(*INWARD, 0.0), *DEMO.curve.vertices[2:-1], (13.45, 3.0, 0.0)], "trace")
SHALLOW = rim_from_outline([(*INWARD, 0.0), *DEMO.curve.vertices[2:-1], (13.45, 3.0, 0.0)])


def sheet(rim: Rim = DEMO, **changes: object) -> Figure:
    words = {"title": "A rim", "unit": UNITS["mm"], "rule": same_for_lengths(0.02, -0.02),
             "tolerances": "0.02 mm on lengths", "invented": False, "diameter": True}
    return drawing_figure(rim, SheetWords(**{**words, **changes}))  # type: ignore[arg-type]


def said(figure: Figure) -> list[str]:
    return [t.get_text() for t in figure.findobj(Text) if t.get_text()]


def test_every_dimension_stands_there_with_its_tolerance() -> None:
    words = " | ".join(said(sheet()))
    for expected in ("Ø16.500 ±0.020 inner", "Ø21.180 ±0.020 high point", "Ø26.900 ±0.020 outer", "R0.600 ±0.020",
                     "R6.000 ±0.020", "R8.000 ±0.020", "R1.800 ±0.020", "0.527 ±0.020 bite point", "10.000 ±0.020",
                     "60.00°*", "(5.200) width", "(2.340) high point"):
        assert expected in words
    assert NO_VALUE in words


def test_single_tolerances_and_inches() -> None:
    rule = with_own(iso_2768("m"), {"inner_diameter": Band(0.0254, -0.0), "cup_wall_angle": Band(0.5, -0.25)})
    words = " | ".join(said(sheet(unit=UNITS["inch"], rule=rule)))
    assert "Ø0.6496 +0.0010/0 inner" in words
    assert "60.00° +0.50°/\N{MINUS SIGN}0.25°" in words
    assert "R0.0236 ±0.0079" in words
    assert "Units: inch" in words


def test_a_bite_below_half_a_millimetre_has_no_iso_value_and_says_so() -> None:
    words = said(sheet(NARROW, rule=iso_2768("m")))
    assert "R0.300*" in words
    assert NO_VALUE in words


@pytest.mark.parametrize("invented", [True, False])
def test_the_title_block(invented: bool) -> None:
    words = said(sheet(title="Rim $7_x$ for <Ümläut> & co", invented=invented))
    assert "Rim $7_x$ for <Ümläut> & co" in words
    assert (INVENTED_STAMP in words) is invented
    assert any(SHOP_CAUTION in w for w in words)
    assert "Tolerances: 0.02 mm on lengths." in words


def test_the_cup_is_called_a_stand_in_only_where_dimensions_drew_it() -> None:
    assert "stand-in" in " ".join(said(sheet()))
    assert "stand-in" not in " ".join(said(sheet(RING)))


@pytest.mark.parametrize("ending", ["svg", "pdf"])
def test_a_second_drawing_gives_the_same_bytes_without_a_date(ending: str) -> None:
    once = as_bytes(sheet(), ending)
    assert once == as_bytes(sheet(), ending)
    assert not re.search(rb"CreationDate|dc:date|20[2-9]\d-\d\d", once)


def test_printed_at_full_size_the_scales_are_true() -> None:
    """On A4 at 5:1 the demo's outer diameter of 26.9 mm is 134.5 mm of paper high."""
    figure = sheet()
    np.testing.assert_allclose(figure.get_size_inches() * 25.4, (297.0, 210.0))
    assert "Section 5:1" in said(figure)
    (axes,) = figure.axes
    outlines = [np.array(line.get_data()).T for line in axes.lines if len(line.get_xdata()) > 20]
    tops = [float(o[:, 1].max()) for o in outlines[:2]]
    bottoms = [float(o[:, 1].min()) for o in outlines[:2]]
    assert max(tops) - min(bottoms) == pytest.approx(5 * 26.9, abs=1e-6)
    to_paper = axes.transData.transform([(0, 0), (100, 100)]) / figure.dpi * 25.4
    np.testing.assert_allclose(to_paper[1] - to_paper[0], 100.0)


@pytest.mark.parametrize("rim", [DEMO, TUBA, NARROW, RING, TRACE, SHALLOW],
                         ids=["demo", "tuba", "narrow", "ring", "trace", "shallow"])
def test_no_words_leave_the_frame_or_cover_each_other(rim: Rim) -> None:
    figure = sheet(rim, title="A rim with a name so long that it has to be broken in two, and then some more of it")
    figure.draw_without_rendering()
    boxes = [(t.get_text(), t.get_window_extent()) for t in figure.findobj(Text) if t.get_text()]
    page = figure.bbox
    for words, box in boxes:
        assert box.x0 > page.width * 10 / 297 - 1, words
        assert box.x1 < page.width * 287 / 297 + 1, words
        assert box.y0 > page.height * 10 / 210 - 1, words
        assert box.y1 < page.height * 200 / 210 + 1, words
    hits = [(a, b) for k, (a, one) in enumerate(boxes) for b, two in boxes[k + 1:] if covers(one, two)]
    assert not hits


def covers(one: object, two: object) -> bool:
    """Whether two boxes share more than a hair (a point each way)."""
    wide = min(one.x1, two.x1) - max(one.x0, two.x0)  # type: ignore[attr-defined]
    tall = min(one.y1, two.y1) - max(one.y0, two.y0)  # type: ignore[attr-defined]
    return wide > 3.0 and tall > 3.0


def test_a_fitted_outline_of_many_pieces_sends_the_reader_to_the_files() -> None:
    """Thirty arcs along half a circle: nine have leaders and rows, the rest are told of."""
    angles = np.linspace(np.pi, 2 * np.pi, 31)
    bulge = np.tan(np.pi / 30 / 4)
    rows = [(8.25, 6.0, 0.0), *((10.75 + 2.5 * np.cos(a), 2.5 + 2.5 * np.sin(a), bulge) for a in angles[:-1]),
            (13.25, 2.5, 0.0), (13.25, 6.0, 0.0)]
    words = said(sheet(rim_from_outline(rows)))
    assert sum(w.startswith("R2.500") for w in words) == 9
    assert "and 23 more: all of them stand in the files beside this drawing" in words


def test_a_trace_has_no_cup_depth_of_its_own() -> None:
    assert "0.817 ±0.020" in said(sheet(SHALLOW))
    assert "0.817 ±0.020" not in said(sheet(TRACE))


def test_a_dimension_without_tolerances() -> None:
    assert dimension_text(Dimension("a", "", "diameter", 25.4), None, UNITS["inch"]) == "Ø1.0000"
    assert no_tolerance(Dimension("a", "", "diameter", 25.4)) is None


@pytest.mark.parametrize(("wide", "tall", "scale", "words"), [
    (12.0, 26.9, 5.0, "5:1"), (40.0, 50.0, 1.0, "1:1"), (5.0, 5.0, 10.0, "10:1"), (100.0, 50.0, 0.5, "1:2"),
])
def test_scales_are_the_usual_ones(wide: float, tall: float, scale: float, words: str) -> None:
    assert largest_scale(wide, tall, (72.0, 136.0)) == scale
    assert scale_words(scale) == words


def test_labels_are_moved_apart_and_stay_in_their_room() -> None:
    assert spread_within([50.0, 49.0, 20.0], 9.0, 10.0, 60.0) == [50.0, 41.0, 20.0]
    low = spread_within([12.0, 11.0, 10.5], 9.0, 10.0, 60.0)
    assert low == [28.0, 19.0, 10.0]
    assert spread_within([], 9.0, 10.0, 60.0) == []
    crowded = spread_within([30.0] * 9, 9.0, 10.0, 50.0)
    assert crowded[0] == pytest.approx(50.0)
    assert crowded[-1] == pytest.approx(10.0)
