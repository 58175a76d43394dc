"""A solver that does not solve, and a way to run the command with it."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner, Result

from labrum.cases.command import app
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Contact, Outcome, Section, StepRecord
from labrum.simulate.problem import Problem, Progress
from tests.some_measures import some_measures

CASE = """\
schema = 1
title = "A trial"

[rim]
inner_diameter_mm = 16.5
width_mm = 5.2

[lip]
type = "average"

[load]
force_n = 20.0
"""


@pytest.fixture
def case_text() -> str:
    """The shortest useful case; its lines are counted on by tests of faults."""
    return CASE


def made_up_measures() -> Measures:
    return some_measures(
        peak_pressure_kpa=123.456,
        peak_radius_mm=8.7,
        peak_pressure_error_percent=0.6,
        mean_pressure_kpa=60.0,
        contact_area_mm2=330.0,
        bearing_area_mm2=210.0,
        edge_concentration=2.06,
        skin_stretch_max=1.7,
        contact_inner_radius_mm=8.1,
        contact_outer_radius_mm=13.0,
        felt_diameter_mm=20.9,
        felt_drift_mm_per_10n=0.1,
        sink_mm=3.2,
        past_bite=np.bool_(True),
        intrusion_height_mm=0.8,
        intrusion_volume_mm3=140.0,
        drawn_in_volume_mm3=20.0,
        touches_cup=False,
        cup_clearance_mm=8.5,
        closing_travel_ratio=None,
    )


def made_up_section() -> Section:
    """Two unit cells side by side, pressed down by a tenth of their height."""
    r, z = np.meshgrid(np.linspace(0.0, 2.0, 5), np.linspace(-1.0, 0.0, 3))
    rest = np.column_stack([r.ravel(), z.ravel()])
    first = np.array([0, 2, 12, 10, 1, 7, 11, 5, 6])
    n = len(rest)
    return Section(
        rest=rest,
        deformed=rest * [1.0, 0.9],
        quads=np.array([first, first + 2]),
        layer=np.array([0, 1]),
        layer_names=("skin", "core"),
        cauchy_kpa=np.arange(4.0 * n).reshape(n, 4),
        stretch=np.linspace(1.0, 2.0, n),
    )


def made_up_history() -> tuple[StepRecord, ...]:
    return (
        StepRecord("touch", 0.5, 0.1, 900, 2, (1e-1, 1e-5, 1e-10), (4, 0)),
        StepRecord("press", 20.0, 3.2, 900, 1, (1e-3, 1e-9), (1,)),
    )


def made_up_outcome(problem: Problem) -> Outcome:
    return Outcome(
        rim=problem.rim,
        measures=made_up_measures(),
        force_n=problem.load.force,
        pressure_profile=np.array([[8.1, 0.0], [8.7, 123.456], [13.0, 0.0]]),
        lip_surface=np.array([[0.0, 0.0, 0.5], [25.0, 25.0, 0.0]]),
        contact=Contact(np.zeros((2, 2)), np.zeros((2, 2)), np.zeros(2), np.zeros(2), np.ones(2, dtype=bool)),
        section=made_up_section(),
        history=made_up_history(),
        unknowns=900,
        newton_iterations=3,
        solve_seconds=0.25,
        largest_penetration_mm=1e-9,
        warnings=("a made-up warning",),
    )


def pretend_to_solve(problem: Problem, progress: Callable[[Progress], None]) -> Outcome:
    progress(Progress("press", 10.0, 1, 1e-3, 1.6, 900))
    progress(Progress("press", 20.0, 2, 1e-9, 3.2, 900))
    return made_up_outcome(problem)


def pretend_to_draw(outcome: Outcome, title: str, folder: Path, note: str, **how: Any) -> list[Path]:
    path = folder / "pressure.svg"
    path.write_text(f"<svg><!-- {title}: {note} --></svg>")
    return [path]


@pytest.fixture
def outcome_of() -> Callable[[Problem], Outcome]:
    """Turn a problem into a made-up outcome."""
    return made_up_outcome


@pytest.fixture
def labrum(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[..., Result]:
    """Run the command in a folder of its own; ``solver`` and ``draw`` stand in for the real ones."""

    def run(*words: str, solver: Any = pretend_to_solve, draw: Any = pretend_to_draw) -> Result:
        monkeypatch.chdir(tmp_path)
        monkeypatch.setattr("labrum.simulate.solve", solver, raising=False)
        monkeypatch.setitem(sys.modules, "labrum.reports.figures.catalogue",
                            SimpleNamespace(write_figures=draw, write_lip_bands=lambda *outcomes, **how: []))
        return CliRunner().invoke(app, list(words))

    return run


@pytest.fixture
def plan_file(tmp_path: Path) -> Callable[[str], Path]:
    """Write the text of a plan about the shipped demo case and return its path."""

    def write(text: str, name: str = "plan.toml") -> Path:
        path = tmp_path / name
        path.write_text('schema = 1\ncase = "demo"\n' + text)
        return path

    return write
