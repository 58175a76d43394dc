"""All figures of a run at once, each in every format with its numbers beside it."""

from __future__ import annotations

from pathlib import Path

from labrum.reports.figures.catalogue import PLOTS, write_figures
from labrum.simulate.outcome import Outcome


def test_every_figure_in_every_format(outcome: Outcome, tmp_path: Path) -> None:
    formats = ("svg", "pdf", "png")
    written = write_figures(outcome, "all", tmp_path, names=tuple(PLOTS), formats=formats)
    assert {path.name for path in written} == {f"{name}.{ending}" for name in PLOTS for ending in (*formats, "csv")}
    assert all(path.stat().st_size > 100 for path in written)
