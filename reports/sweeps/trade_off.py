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

SAME_PLACE = 0.035  # of an axis: rims nearer than this share a label


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
    label_axes(axes, drawn.names[0], drawn.names[1])
    axes.margins(0.08)
    _start(axes, drawn)
    _number(axes, front)
    legend_below(figure, [*handles, marks], columns=1)
    return finish(figure, title, note)


def _start(axes: Axes, drawn: TradeOff) -> None:
    """Start an axis at nought where nought means none: so a few percent look like a few percent."""
    starts = [*drawn.from_nought, False, False]
    if starts[0] and drawn.values[:, 0].min() >= 0.0:
        axes.set_xlim(left=0.0)
    if starts[1] and drawn.values[:, 1].min() >= 0.0:
        axes.set_ylim(bottom=0.0)


def _number(axes: Axes, front: Floats) -> None:
    """Number the rims, rims so near each other that one would hide the other in one label."""
    spans = np.maximum(np.ptp(axes.get_xlim()), 1e-12), np.maximum(np.ptp(axes.get_ylim()), 1e-12)
    places = front[:, :2] / np.array(spans)
    groups: list[list[int]] = []
    for number, place in enumerate(places):
        near = next((g for g in groups if np.hypot(*(places[g[0]] - place)) < SAME_PLACE), None)
        (groups.append([number]) if near is None else near.append(number))
    for group in groups:
        words = ", ".join(str(number + 1) for number in group)
        x, y = front[group[0], :2]
        label = axes.annotate(words, (x, y), (6, 5), textcoords="offset points", size=8, color=INK, zorder=4)
        label.set_path_effects([withStroke(linewidth=2.0, foreground=PAPER)])
