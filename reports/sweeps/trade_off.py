"""What is won and what is paid: every rim of a sweep, and those that no other beats."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from labrum.meshes.arrays import Floats
from labrum.reports.house_style.style import (
    INK,
    METAL,
    PAPER,
    QUIET,
    SEQUENTIAL,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.reports.sweeps.findings import TradeOff


@house_style()
def trade_off_figure(drawn: TradeOff, title: str = "", note: str = "") -> Figure:
    """Draw the first two measures against each other, the third as colour; those that none beats are numbered."""
    figure = sheet(3.7, title, note)
    axes = figure.add_subplot()
    chosen = list(drawn.best)
    others = np.setdiff1d(np.arange(len(drawn.values)), chosen)
    handles = axes.plot(
        *drawn.values[others, :2].T, linestyle="none", marker="o", markersize=4, color=METAL,
        markeredgecolor=QUIET, markeredgewidth=0.5, label="beaten by another rim",
    )  # fmt: skip
    front = drawn.values[chosen]
    label = "beaten by none (numbered as in the table)"
    look: dict[str, Any] = {"edgecolors": INK, "linewidths": 0.8, "s": 62, "zorder": 3, "label": label}
    if front.shape[1] > 2:
        marks = axes.scatter(front[:, 0], front[:, 1], c=front[:, 2], cmap=SEQUENTIAL, **look)
        figure.colorbar(marks, ax=axes).set_label(drawn.names[2])
    else:
        marks = axes.scatter(front[:, 0], front[:, 1], color=PAPER, **look)
    _number(axes, front)
    label_axes(axes, drawn.names[0], drawn.names[1])
    axes.margins(0.08)
    legend_below(figure, [*handles, marks], columns=1)
    return finish(figure, title, note)


def _number(axes: Axes, front: Floats) -> None:
    for number, (x, y) in enumerate(front[:, :2], 1):
        label = axes.annotate(str(number), (x, y), (5, 4), textcoords="offset points", size=8, color=INK, zorder=4)
        label.set_path_effects([withStroke(linewidth=2.0, foreground=PAPER)])
