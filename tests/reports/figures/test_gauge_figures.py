"""Figures of gauged rims: they show what was read, say it legibly, and write the same numbers beside it."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from labrum.meshes.gauges.gauge import Gauged, gauged
from labrum.meshes.gauges.reader_scatter import Aim, readers_scatter
from labrum.meshes.gauges.readings import CONVENTIONS, RIM_QUANTITIES
from labrum.meshes.traces.trace import rim_of_points
from labrum.reports.figures.gauged_rim import (
    gauge_figure,
    gauge_table,
    gauged_overlay_figure,
    overlay_table,
    scatter_figure,
    scatter_table,
)
from labrum.reports.house_style.saving import as_bytes, save
from tests import gauge_rims


@pytest.fixture(scope="module")
def two() -> list[Gauged]:
    shapes = (gauge_rims.plain_rim(cup_depth_mm=3.0), gauge_rims.plain_rim(bite_radius_mm=0.4, cup_depth_mm=3.0))
    return [gauged(rim_of_points(gauge_rims.sampled(rim, k, spacing=0.04)), draws=20) for k, rim in enumerate(shapes)]


def words(figure: Figure) -> str:
    FigureCanvasAgg(figure).draw()
    return "\n".join(t.get_text() for t in figure.findobj(Text) if t.get_visible())


def outside(figure: Figure) -> list[str]:
    """Texts that reach beyond the sheet; bare numbers left out, for ticks beyond an axis' ends are not drawn."""
    FigureCanvasAgg(figure).draw()
    sheet = figure.bbox.padded(1.0)
    boxes = [(t.get_text(), t.get_window_extent()) for t in figure.findobj(Text) if re.search("[a-z]", t.get_text())]
    return [text for text, box in boxes
            if box.x0 < sheet.x0 or box.x1 > sheet.x1 or box.y0 < sheet.y0 or box.y1 > sheet.y1]


def test_the_profile_carries_every_reading(two: list[Gauged]) -> None:
    figure = gauge_figure(two[0], "A rim", "a note")
    said = words(figure)
    for convention in CONVENTIONS:
        assert convention.label in said
        assert f"{two[0].reading(convention.name).value:.3f}" in said
    for part in ("width", "high point", "inner crown", "outer crown", "shoulder", "bite radius", "cup wall", "thou"):
        assert part in said
    assert outside(figure) == []


def test_the_table_beside_it_holds_every_reading(two: list[Gauged]) -> None:
    table = gauge_table(two[0])
    assert len(table.rows) == len(CONVENTIONS) + len(RIM_QUANTITIES) + 1
    assert table.column("value")[0] == two[0].diameters[0].value
    assert set(table.column("unit")) == {"mm", "deg", ""}


def test_rims_are_laid_over_each_other_at_the_high_point(two: list[Gauged]) -> None:
    figure = gauged_overlay_figure(two, ["plain", "sharp"], "Two rims", "a note")
    assert outside(figure) == []
    for line, found in zip(figure.axes[0].get_lines()[::2], two, strict=False):
        low = np.argmin(line.get_ydata())
        assert np.abs(line.get_ydata()[low]) < 1e-6
        assert line.get_xdata()[low] == pytest.approx(0.0, abs=0.05)
        assert found.rim.source == "trace"
    # The lower panel's mark stands at the greatest distance between the two outlines.
    place, apart = figure.axes[1].get_lines()[0].get_data()
    mark = figure.axes[1].get_lines()[1].get_data()
    assert float(mark[1][0]) == pytest.approx(apart[np.argmax(np.abs(apart))])
    assert float(mark[0][0]) in place


def test_the_overlay_counts_distance_off_the_first_rim(two: list[Gauged]) -> None:
    table = overlay_table(two, ["plain", "sharp"])
    first = [row for row in table.rows if row[0] == "plain"]
    assert max(abs(float(row[3])) for row in first) < 1e-6
    with pytest.raises(ValueError, match="allowed 2 to 6"):
        gauged_overlay_figure(two[:1], ["one"])


def test_scatter_shows_every_rim_with_its_share_of_readers(two: list[Gauged]) -> None:
    scatters = [readers_scatter(g.rim, Aim(readers=300)) for g in two]
    figure = scatter_figure(scatters, ["plain", "sharp"], "Readers", "a note")
    assert outside(figure) == []
    heights = [p.get_data().values for p in figure.axes[0].patches]
    assert [h.sum() for h in heights] == pytest.approx([100.0, 100.0])
    assert len(scatter_table(scatters, ["plain", "sharp"]).rows) == 600


def test_the_same_figure_is_the_same_file(two: list[Gauged], tmp_path: Path) -> None:
    one, other = (gauge_figure(two[1], "A rim", "a note") for _ in range(2))
    assert as_bytes(one, "svg") == as_bytes(other, "svg")
    assert len(save(one, gauge_table(two[1]), tmp_path, "rim", ("png",))) == 2
