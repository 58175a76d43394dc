"""A map of a measure over two dimensions of the rim: contours, the acceptable rims, the trade's habits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from matplotlib.patheffects import withStroke

from labrum.meshes.arrays import Floats
from labrum.reports.house_style.figure_data import Table, table
from labrum.reports.house_style.style import (
    INK,
    PAPER,
    PAST_BITE,
    SEQUENTIAL,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.reports.sweeps.findings import MeasureMap

HabitFrame = tuple[float, float]
MAP_LEVELS = 9


@dataclass(frozen=True)
class MapWords:
    """What the drawing says: both axes, the measure and its unit, limits in words, and the trade's habits by axis."""

    across: str
    up: str
    measure: str
    limits: Sequence[str] = ()
    habit: str = ""
    habit_across: HabitFrame | None = None
    habit_up: HabitFrame | None = None
    unit: str = ""


@house_style()
def map_figure(drawn: MeasureMap, words: MapWords, title: str = "", note: str = "") -> Figure:
    """Draw the map: filled contours, the rest hatched away from what is acceptable, habits dashed, a dot a case."""
    figure = sheet(3.7 + 0.16 * len(words.limits), title, note)
    axes = figure.add_subplot()
    filled = axes.contourf(drawn.across, drawn.up, drawn.value, levels=MAP_LEVELS, cmap=SEQUENTIAL)
    bar = figure.colorbar(filled, ax=axes)
    bar.set_label(words.measure)
    _label_lines(axes, drawn, filled)
    solved = _between(drawn, words)
    handles: list[Line2D | Patch] = [Line2D([], [], color=INK, marker=".", linestyle="none", label=solved)]
    axes.plot(*drawn.solved[:, :2].T, color=INK, marker=".", markersize=4, linestyle="none", clip_on=False)
    label_axes(axes, words.across, words.up, grid=False)
    axes.set_xlim(drawn.across[0], drawn.across[-1])
    axes.set_ylim(drawn.up[0], drawn.up[-1])
    if drawn.slack is not None:
        handles += _draw_accepted(axes, drawn, drawn.slack, words.limits)
    if words.habit and (words.habit_across or words.habit_up):
        handles.append(_draw_habits(axes, drawn, words))
    legend_below(figure, handles, columns=1)
    return finish(figure, title, note)


def map_table(drawn: MeasureMap, names: tuple[str, str, str]) -> Table:
    """The solved cases the map rests on, under the names of both dimensions and the measure."""
    return table(**{name: drawn.solved[:, place] for place, name in enumerate(names)})


def _between(drawn: MeasureMap, words: MapWords) -> str:
    if drawn.error is None:
        return "a solved case; linear between them"
    return f"a solved case; between them a smooth guess, ± {drawn.error:.2g} {words.unit}".rstrip()


def _label_lines(axes: Axes, drawn: MeasureMap, filled: QuadContourSet) -> None:
    lines = axes.contour(drawn.across, drawn.up, drawn.value, levels=filled.levels, colors=PAPER, linewidths=0.6)
    for label in axes.clabel(lines, fontsize=8, colors=INK):
        label.set_path_effects([withStroke(linewidth=2.6, foreground=PAPER)])
        label.set_zorder(6)


def _draw_accepted(axes: Axes, drawn: MeasureMap, slack: Floats, limits: Sequence[str]) -> list[Line2D | Patch]:
    share = float(np.nanmean(slack >= 0.0))
    if share < 1.0:
        axes.contourf(drawn.across, drawn.up, slack, levels=[-np.inf, 0.0], colors="none", hatches=["////"])
    if 0.0 < share < 1.0:
        axes.contour(drawn.across, drawn.up, slack, levels=[0.0], colors=PAST_BITE, linewidths=2.2)
    where = "everywhere" if share == 1.0 else "nowhere" if share == 0.0 else "where not hatched"
    heads = [f"acceptable ({where}):", *[""] * (len(limits) - 1)]
    return [
        Line2D([], [], color=PAST_BITE if head else "none", linewidth=2.2, label=f"{head} {limit}".strip())
        for head, limit in zip(heads, limits, strict=True)
    ]


def _draw_habits(axes: Axes, drawn: MeasureMap, words: MapWords) -> Line2D:
    left, right = words.habit_across or (drawn.across[0], drawn.across[-1])
    low, high = words.habit_up or (drawn.up[0], drawn.up[-1])
    look: dict[str, Any] = {"color": INK, "linestyle": (0, (4, 2)), "linewidth": 1.3}
    axes.add_patch(Rectangle((left, low), right - left, high - low, fill=False, **look))
    return Line2D([], [], label=f"usual for {words.habit}: common practice, no source", **look)
