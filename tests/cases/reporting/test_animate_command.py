"""The rim pressed home as a picture that moves."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image
from typer.testing import CliRunner

from labrum.cases.case_file.reading import read_case
from labrum.cases.command import app
from labrum.cases.reporting.animate import MOVIE_STEP
from labrum.reports.figures.animation import frame_on_the_way
from labrum.simulate.accuracy.refinement import ANSWER
from labrum.simulate.load_path.press import HOME, Pressed, StepLengths, press
from labrum.simulate.solving import silent


def test_one_frame_for_every_equilibrium(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["animate", "thin-wide", "--out", str(tmp_path / "a.gif"), "-q"])
    assert done.exit_code == 0, done.output
    way: list[Pressed] = []
    problem = read_case("thin-wide").problem
    press(problem, ANSWER, silent, StepLengths(first=MOVIE_STEP, longest=MOVIE_STEP), HOME, way.append)
    with Image.open(tmp_path / "a.gif") as picture:
        assert picture.n_frames == len(way) >= 24
    frames = [frame_on_the_way(pressed) for pressed in way]
    assert [f.force_n for f in frames] == sorted(f.force_n for f in frames)
    assert frames[-1].force_n == pytest.approx(problem.load.force, rel=1e-6)
    assert frames[0].pressure_kpa.max() < frames[-1].pressure_kpa.max()


def test_what_stands_there_is_not_written_over(tmp_path: Path) -> None:
    kept = tmp_path / "kept.gif"
    kept.write_bytes(b"mine")
    done = CliRunner().invoke(app, ["animate", "demo", "--out", str(kept)])
    assert done.exit_code == 2
    assert kept.read_bytes() == b"mine"


def test_a_bad_case_is_told_as_everywhere(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("schema = 1\n")
    assert CliRunner().invoke(app, ["animate", str(bad)]).exit_code == 3
