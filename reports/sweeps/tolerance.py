"""What tolerances do: how a measure spreads, and which parameter's fault it is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from labrum.reports.house_style.style import (
    INK,
    METAL,
    SERIES,
    WIDE_IN,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.reports.house_style.words import short
from labrum.reports.sweeps.findings import Spread

SHARE_ROW_IN = 0.28


@house_style()
def tolerance_figure(
    spreads: Sequence[Spread], nominal: float, measure: str, title: str = "", note: str = ""
) -> Figure:
    """Draw, for each cause apart, the spread about the nominal and the shares of its variance."""
    rows = [max(3, len(spread.parameters)) for spread in spreads]
    figure = sheet(0.75 * len(spreads) + SHARE_ROW_IN * sum(rows) + 0.3, title, note, WIDE_IN)
    grid = figure.add_gridspec(len(spreads), 2, height_ratios=rows)
    low = min(float(np.min(spread.values)) for spread in spreads)
    high = max(float(np.max(spread.values)) for spread in spreads)
    for row, spread in enumerate(spreads):
        _draw_spread(figure.add_subplot(grid[row, 0]), spread, nominal, measure, (low, high))
        _draw_shares(figure.add_subplot(grid[row, 1]), spread)
    handles = [
        Line2D([], [], color=INK, linewidth=1.2, label="nominal"),
        Line2D([], [], color=INK, linewidth=0.9, linestyle=(0, (4, 2)), label="nine in ten lie between"),
        Patch(color=SERIES[0].colour, label="from the slopes at the nominal rim"),
        Patch(color=SERIES[1].colour, hatch="////", fill=False, label="over the whole tolerances"),
    ]
    legend_below(figure, handles)
    return finish(figure, title, note)


def _draw_spread(axes: Axes, spread: Spread, nominal: float, measure: str, ends: tuple[float, float]) -> None:
    room = 0.04 * (ends[1] - ends[0] or 1.0)
    bins = np.linspace(ends[0] - room, ends[1] + room, _bins(len(spread.values)) + 1)
    axes.hist(spread.values, bins=list(bins), color=METAL, edgecolor=INK, linewidth=0.6)
    axes.axvline(nominal, color=INK, linewidth=1.2)
    for edge in np.quantile(spread.values, (0.05, 0.95)):
        axes.axvline(edge, color=INK, linewidth=0.9, linestyle=(0, (4, 2)))
    axes.set_title(short(spread.name, 2.9, 9.5, "bold"))
    label_axes(axes, measure, "cases", grid=False)


def _bins(count: int) -> int:
    """As many columns as a few or many cases fill (the square-root rule), within what the width holds."""
    return int(np.clip(2 * np.ceil(np.sqrt(count) / 2), 6, 18))


def _draw_shares(axes: Axes, spread: Spread) -> None:
    order = np.argsort(spread.by_sobol)
    places = np.arange(len(order))
    axes.barh(places + 0.19, 100 * spread.by_slopes[order], height=0.36, color=SERIES[0].colour)
    axes.barh(
        places - 0.19, 100 * spread.by_sobol[order], height=0.36, fill=False, edgecolor=SERIES[1].colour, hatch="////"
    )
    label_axes(axes, "share of the peak's spread (variance, %)", "", grid=False)
    axes.set_yticks(places, [short(spread.parameters[place], 1.5, 8.0) for place in order])
    axes.set_xlim(0.0, 100.0)
