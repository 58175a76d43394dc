"""One house style: sizes, colours, line styles and a figure's words, the same in every file we write."""

from __future__ import annotations

import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.ticker import MaxNLocator

from labrum.reports.house_style.paper import sheet_width
from labrum.reports.house_style.words import FAMILY, fitted

WIDTH_IN = 4.7
WIDE_IN = 7.0
"""Width of a figure (120 mm): reduced to an 85 mm column its smallest letters are still 5.7 points high."""

NARROW_IN = 4.5

INK = "#1b1b1f"
QUIET = "#5a5a62"
PAPER = "#ffffff"
PRESSURE = "#440154"
PRESSURE_FILL = "#b9a3c9"
PAST_BITE = "#f98e09"
METAL = "#d3d6dc"
LAYERS = ("#e3d3a6", "#f5edd8", "#d9cfc4", "#efe3ea")
SEQUENTIAL = "viridis_r"
"""Pale is little and dark is much, so that the map reads the same printed in grey on white paper."""
DIVERGING = "PuOr"
DASHED = (0, (6.0, 2.0))
DASH_DOT = (0, (6.0, 2.0, 1.2, 2.0))
DOTTED = (0, (1.2, 1.6))
TITLE_SIZE = 10.0
NOTE_SIZE = 7.5
TITLE_LINE_IN = 0.18
NOTE_LINE_IN = 0.135
BARE_HEAD_IN = 0.05
"""Free above a drawing that has no title: the layout leaves too little there for the words over square axes."""
ROUND_STEPS = [1, 2, 5, 10]


@dataclass(frozen=True)
class Series:
    """How one of several rims is told apart: by colour, by dashes and by marker, any of which is enough."""

    colour: str
    dashes: Any
    marker: str


SERIES = (
    Series("#440154", "solid", "o"),
    Series("#1fa287", (0, (5, 1.5)), "s"),
    Series("#cc4248", (0, (1.2, 1.2)), "^"),
    Series("#545a6d", (0, (5, 1.5, 1.2, 1.5)), "D"),
    Series("#5601a4", (0, (8, 2)), "v"),
    Series("#000004", (0, (3, 1, 1, 1, 1, 1)), "<"),
)
"""Six colours picked out of viridis, plasma, inferno, magma and cividis by a search for the greatest smallest
difference: to normal sight, to the three dichromacies and in grey, all with a contrast of 3 or more on
white."""

HOUSE_STYLE: Any = {
    "font.family": "sans-serif",
    "font.sans-serif": [FAMILY, "Verdana"],
    "font.size": 8.5,
    "axes.titlesize": 9.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.labelsize": 8.5,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "xtick.labelsize": 8.0,
    "ytick.labelsize": 8.0,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "grid.color": "#dcdce0",
    "grid.linewidth": 0.6,
    "text.color": INK,
    "text.parse_math": False,
    "legend.fontsize": 8.0,
    "legend.frameon": False,
    "legend.handlelength": 2.4,
    "lines.linewidth": 1.6,
    "lines.markersize": 5.0,
    "hatch.linewidth": 0.6,
    "savefig.dpi": 200,
    "svg.hashsalt": "labrum",
    "svg.fonttype": "none",
    "pdf.fonttype": 42,
    "image.cmap": SEQUENTIAL,
}

_one_at_a_time = threading.RLock()


@contextmanager
def house_style() -> Iterator[None]:
    """Draw or write in the house style, and leave the caller's settings as they were.

    Matplotlib keeps its settings in one global table, so threads (a live page draws in several) take turns
    here. Use it as a decorator on whatever makes or writes a figure.
    """
    with _one_at_a_time, matplotlib.rc_context(), warnings.catch_warnings():
        # A title in a script our font lacks is still right in SVG, where the reader's own fonts step in.
        warnings.filterwarnings("ignore", message=r"Glyph .* missing from")
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(HOUSE_STYLE)
        yield


def sheet(height_in: float, title: str, note: str, width_in: float = WIDTH_IN) -> Figure:
    """Open an empty figure, ``height_in`` tall beside its title and note; no labels collide in it."""
    width_in = sheet_width(width_in)
    heading, caution = _heading(title, width_in), _caution(note, width_in)
    words = (0.1 + TITLE_LINE_IN * len(heading) if heading else 0.0) + NOTE_LINE_IN * len(caution)
    return Figure(figsize=(width_in, height_in + words), layout="constrained", facecolor=PAPER)


def _heading(title: str, width_in: float) -> list[str]:
    return fitted(title, 0.97 * width_in, TITLE_SIZE, 2, "bold")


def _caution(note: str, width_in: float) -> list[str]:
    return fitted(note, 0.97 * width_in, NOTE_SIZE, 5)


def finish(figure: Figure, title: str, note: str = "") -> Figure:
    """Write the title above and the caution below (people's words, never mathematics), fix the layout.

    The layout is settled once and then held, so that every format and every second writing comes out alike.
    """
    wide = float(figure.get_size_inches()[0])
    if heading := _heading(title, wide):
        figure.suptitle("\n".join(heading), x=0.01, ha="left", size=TITLE_SIZE, weight="bold")
    _foot(figure, _caution(note, wide), 0.0 if heading else BARE_HEAD_IN)
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    return figure


def _foot(figure: Figure, note: list[str], head_in: float) -> None:
    """Stack the caution and the legend on the sheet's lower edge and lift the drawing above both.

    The layout engine would set the two on top of each other. ``head_in`` inches are kept free above the drawing.
    """
    tall = figure.get_size_inches()[1]
    foot = 0.04 / tall
    if note:
        figure.text(0.01, foot, "\n".join(note), ha="left", va="bottom", size=NOTE_SIZE, color=QUIET)
        foot += (0.04 + NOTE_LINE_IN * len(note)) / tall
    for legend in figure.legends:
        legend.set_bbox_to_anchor((0.0, foot, 1.0, 1.0), transform=figure.transFigure)
        foot += legend.get_window_extent().height / figure.bbox.height + 0.04 / tall
    engine = figure.get_layout_engine()
    if isinstance(engine, ConstrainedLayoutEngine):
        engine.set(rect=(0.0, foot, 1.0, 1.0 - foot - head_in / tall))


def label_axes(axes: Axes, across: str, up: str, grid: bool = True) -> None:
    """Name both axes (quantity, symbol and unit) and fix the ticks' places and look."""
    axes.set_xlabel(across)
    if axes.get_xscale() == "linear":
        axes.xaxis.set_major_locator(MaxNLocator(9, steps=ROUND_STEPS))
    if axes.get_yscale() == "linear":
        axes.yaxis.set_major_locator(MaxNLocator(6, steps=ROUND_STEPS))
    axes.set_ylabel(up)
    axes.tick_params(labelsize=8.0, color=QUIET, labelcolor=INK)
    axes.grid(grid)


def legend_below(figure: Figure, handles: list[Any], columns: int = 2) -> None:
    """Explain the marks under the drawing, where they cover nothing; on a narrow sheet one below another."""
    if figure.get_size_inches()[0] < NARROW_IN:
        columns = 1
    figure.legend(
        handles=handles,
        loc="lower left",
        ncols=columns,
        columnspacing=1.4,
        handletextpad=0.6,
        borderaxespad=0.0,
    )


def round_above(value: float) -> float:
    """The next number above that starts with 1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6 or 8: where an axis may end."""
    decade = 10.0 ** np.floor(np.log10(max(value, 1e-9)))
    return float(next(step * decade for step in (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
                      if step * decade >= value * (1.0 - 1e-12)))
