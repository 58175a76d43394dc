"""The way to the solution, step by step and iteration by iteration."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.reports.figures.history import (
    QUIETEST,
    history_figure,
    history_table,
    power_of_ten,
    residual_figure,
    residual_table,
)


def test_every_step_is_a_mark_and_stages_differ_in_form(outcome):
    figure = history_figure(outcome)
    path, *marks = figure.axes[0].get_lines()
    steps = np.array([(s.sink_mm, s.force_n) for s in outcome.history])
    assert np.array_equal(path.get_xydata(), steps)
    assert np.array_equal(np.vstack([m.get_xydata() for m in marks]), steps)
    assert len({m.get_marker() for m in marks}) == len(marks) == 2
    assert [t.get_text() for t in figure.legends[0].get_texts()] == ["approach: 1 step", "force: 5 steps"]


def test_axes_carry_quantity_symbol_and_unit(outcome):
    (axes,) = history_figure(outcome).axes
    assert axes.get_xlabel() == "sink of the rim below the resting lip, d (mm)"
    assert axes.get_ylabel() == "force on the rim, F (N)"
    assert axes.get_xlim()[0] == 0.0
    assert axes.get_ylim()[0] == 0.0
    (axes,) = residual_figure(outcome).axes
    assert axes.get_yscale() == "log"
    assert axes.get_ylabel().startswith("residual relative to the load")


def test_residuals_are_drawn_iteration_by_iteration(outcome):
    lines = residual_figure(outcome).axes[0].get_lines()
    assert len(lines) == len(outcome.history)
    assert lines[-1].get_ydata() == pytest.approx(outcome.history[-1].residuals)
    assert list(lines[-1].get_xdata()) == [1, 2, 3, 4, 5, 6]


def test_a_residual_of_nought_can_be_drawn(outcome):
    exact = replace(outcome.history[-1], residuals=(1e-3, 0.0))
    (line,) = residual_figure(replace(outcome, history=(exact,))).axes[0].get_lines()
    assert list(line.get_ydata()) == [1e-3, QUIETEST]


def test_the_logarithmic_scale_is_written_in_powers_of_ten():
    assert [power_of_ten(v) for v in (1.0, 1e-4, 1e-12)] == ["10⁰", "10⁻⁴", "10⁻¹²"]


def test_many_stages_can_be_drawn(outcome):
    steps = tuple(replace(s, stage=f"stage {n}") for n, s in enumerate(outcome.history * 2))
    figure = history_figure(replace(outcome, history=steps))
    assert len(figure.legends[0].get_texts()) == 12


def test_tables_hold_every_step_and_every_iteration(outcome):
    table = history_table(outcome)
    assert table.columns == ("stage", "force_n", "sink_mm", "unknowns", "iterations", "last_residual")
    assert table.column("force_n") == [s.force_n for s in outcome.history]
    assert table.column("last_residual") == [s.residuals[-1] for s in outcome.history]
    assert len(residual_table(outcome).rows) == sum(len(s.residuals) for s in outcome.history)
    assert residual_table(replace(outcome, history=())).rows == ()
