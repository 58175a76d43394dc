"""The way to the solution: force against sink, and how each step's residual fell."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from labrum.reports.house_style.figure_data import Table, table
from labrum.reports.house_style.style import INK, PAPER, SERIES, finish, house_style, label_axes, legend_below, sheet
from labrum.simulate.outcome import Outcome, StepRecord

FORCE_AXIS = "force on the rim, F (N)"
SINK_AXIS = "sink of the rim below the resting lip, d (mm)"
RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
QUIETEST = 1e-17
"""A residual of nought cannot stand on a logarithmic axis; it is drawn here."""


@house_style()
def history_figure(outcome: Outcome, title: str = "", note: str = "") -> Figure:
    """Draw the force against the sink at every equilibrium on the way, the stages told apart.

    A step that lies on earlier ones has a ring for each of them around its mark.

    Parameters
    ----------
    outcome
        A converged press.
    title, note
        People's words above and below the drawing; either may be empty.
    """
    figure = sheet(3.0, title, note)
    axes = figure.add_subplot()
    path = np.array([(step.sink_mm, step.force_n) for step in outcome.history]).reshape(-1, 2)
    axes.plot(*path.T, color=INK, linewidth=0.9, zorder=1)
    handles, hidden = [], _hidden(path)
    for stage, look in zip(stages(outcome.history), SERIES * len(outcome.history), strict=False):
        mine = [n for n, step in enumerate(outcome.history) if step.stage == stage]
        mark: dict[str, Any] = {"marker": look.marker, "linestyle": "none"}
        handles += axes.plot(
            *path[mine].T, color=look.colour, markeredgecolor=PAPER, markersize=7,
            label=f"{stage}: {counted(len(mine))}", **mark,
        )  # fmt: skip
        for n in mine:
            if hidden[n]:
                axes.plot(*path[n], color="none", markeredgecolor=look.colour, markersize=7 + 5 * hidden[n], **mark)
    label_axes(axes, SINK_AXIS, FORCE_AXIS)
    axes.set_xlim(left=min(0.0, float(path[:, 0].min(initial=0.0))))
    axes.set_ylim(0.0, 1.08 * max(outcome.force_n, 1e-9))
    legend_below(figure, handles, columns=3)
    return finish(figure, title, note)


def _hidden(path: np.ndarray) -> list[int]:
    """How many earlier steps each would hide, by lying on them: on its way a step may be solved on several grids."""
    near = 0.01 * np.ptp(path, axis=0)
    return [int((np.abs(path[:n] - place) <= near).all(axis=1).sum()) for n, place in enumerate(path)]


def counted(steps: int) -> str:
    """Say how many steps, in words a person would use."""
    return "1 step" if steps == 1 else f"{steps} steps"


def power_of_ten(value: float) -> str:
    """Write a power of ten as people do, in letters that stay text in an SVG."""
    return "10" + f"{round(np.log10(value)):d}".translate(RAISED)


def stages(history: tuple[StepRecord, ...]) -> list[str]:
    """Return the stages' names in the order they were passed through."""
    return list(dict.fromkeys(step.stage for step in history))


@house_style()
def residual_figure(outcome: Outcome, title: str = "", note: str = "") -> Figure:
    """Draw the relative residual after each iteration, one line a step: steep ends are quadratic convergence.

    Takes what :func:`history_figure` does.
    """
    figure = sheet(3.0, title, note)
    axes = figure.add_subplot()
    axes.set_yscale("log")
    last, touched = len(outcome.history) - 1, False
    for number, step in enumerate(outcome.history):
        look = SERIES[0] if number == last else SERIES[3]
        touched |= bool(np.any(np.asarray(step.residuals) < QUIETEST))
        words = f"last step, {step.force_n:g} N" if number == last else "steps before" if number == 0 else "_"
        axes.plot(
            np.arange(1, len(step.residuals) + 1),
            np.maximum(step.residuals, QUIETEST),
            color=look.colour,
            linestyle=look.dashes,
            marker=look.marker,
            linewidth=1.6 if number == last else 0.8,
            markersize=6 if number == last else 3,
            zorder=3 if number == last else 2,
            label=words,
        )
    label_axes(axes, "iteration within a step, k", "residual relative to the load, |R|/|F|")
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: power_of_ten(value)))
    if touched:
        axes.text(0.99, 0.03, "a residual of nought is drawn lowest", transform=axes.transAxes, ha="right", size=8)
    legend_below(figure, axes.get_legend_handles_labels()[0])
    return finish(figure, title, note)


def history_table(outcome: Outcome) -> Table:
    """Return one row an equilibrium: stage, force, sink, unknowns, iterations and last residual."""
    steps = outcome.history
    return table(
        stage=[s.stage for s in steps],
        force_n=[s.force_n for s in steps],
        sink_mm=[s.sink_mm for s in steps],
        unknowns=[s.unknowns for s in steps],
        iterations=[s.iterations for s in steps],
        last_residual=[s.residuals[-1] if s.residuals else float("nan") for s in steps],
    )


def residual_table(outcome: Outcome) -> Table:
    """Return one row an iteration: step, iteration, relative residual."""
    rows = [(n, k, r) for n, s in enumerate(outcome.history, 1) for k, r in enumerate(s.residuals, 1)]
    steps, iterations, residuals = zip(*rows, strict=True) if rows else ((), (), ())
    return table(step=steps, iteration=iterations, relative_residual=residuals)
