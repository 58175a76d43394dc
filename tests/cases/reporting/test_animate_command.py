"""The rim pressed home as a picture that moves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from typer.testing import CliRunner

from labrum.cases.case_file.reading import read_case
from labrum.cases.command import app
from labrum.simulate.accuracy.refinement import ANSWER
from labrum.simulate.load_path.press import press
from labrum.simulate.load_path.through_forces import through_forces
from labrum.simulate.solving import silent


def test_a_frame_for_every_force(tmp_path: Path) -> None:
    words = ["animate", "thin-wide", "--frames", "5", "--out", str(tmp_path / "a.gif"), "-q"]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    with Image.open(tmp_path / "a.gif") as picture:
        assert picture.n_frames == 5


@pytest.mark.slow  # two processes are started, and each rim is pressed twice
def test_two_rims_pressed_at_once_are_those_pressed_one_by_one(tmp_path: Path) -> None:
    made = []
    for workers in ("1", "2"):
        out = tmp_path / f"{workers}.gif"
        words = ["animate", "thin-narrow", "thin-wide", "--frames", "3", "--workers", workers, "--out", str(out), "-q"]
        assert CliRunner().invoke(app, words).exit_code == 0
        made.append(out.read_bytes())
    assert made[0] == made[1]


def test_equilibria_through_forces_are_those_of_a_press_to_each() -> None:
    problem = read_case("thin-wide").problem
    forces = [2.0, 9.0, 20.0]
    way = through_forces(problem, forces, ANSWER, silent)
    assert [pressed.equilibrium.force for pressed in way] == pytest.approx(forces, rel=1e-8)
    for force, pressed in zip(forces, way, strict=True):
        alone = press(replace(problem, load=replace(problem.load, force=force)), ANSWER, silent)
        # the coarsest grids that are read, fitted on two ways: what is left is theirs
        assert pressed.equilibrium.state.travel == pytest.approx(alone.equilibrium.state.travel, rel=2e-3)


def test_what_stands_there_is_not_written_over(tmp_path: Path) -> None:
    kept = tmp_path / "kept.gif"
    kept.write_bytes(b"mine")
    done = CliRunner().invoke(app, ["animate", "demo", "--out", str(kept)])
    assert done.exit_code == 2
    assert "--force" in done.stderr
    assert kept.read_bytes() == b"mine"


def test_a_bad_case_is_told_as_everywhere(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("schema = 1\n")
    assert CliRunner().invoke(app, ["animate", str(bad)]).exit_code == 3
