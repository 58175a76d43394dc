"""The moving picture: a frame for every solved state, on axes that stand still."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from labrum.reports.figures.animation import MovieFrame, Scene, frame_figure, movie_frame, write_animation
from tests.reports import sample_outcome as sample


@pytest.fixture(scope="module")
def press():
    """Four frames on the way in."""
    made = [sample.Invented(force=20 * k**1.6, sink=3 * k, middle=-0.6 * k) for k in (0.25, 0.5, 0.75, 1.0)]
    return [movie_frame(sample.invent(sample.demo_rim(), m)) for m in made]


@pytest.fixture(scope="module")
def picture(press, outcome, tmp_path_factory):
    path = tmp_path_factory.mktemp("film") / "press.gif"
    return write_animation(press, outcome.rim, 11.5, path, "A rim", "A caution", frame_ms=120, hold_ms=900)


def test_every_state_is_a_frame_and_the_last_one_is_held(picture):
    with Image.open(picture) as film:
        assert film.n_frames == 4
        assert film.info["loop"] == 0
        times = []
        for number in range(4):
            film.seek(number)
            times.append(film.info["duration"])
    assert times == [120, 120, 120, 900]


def test_paper_stays_white_and_the_rim_comes_down(picture):
    metal_rows = []
    with Image.open(picture) as film:
        for number in range(4):
            film.seek(number)
            dots = np.asarray(film.convert("RGB")).astype(int)
            assert tuple(dots[-1, -1]) == (255, 255, 255)
            metal = np.all(np.abs(dots - [0xD3, 0xD6, 0xDC]) <= 2, axis=2)
            metal_rows.append(np.flatnonzero(metal.sum(axis=1) > 20).max())
    assert np.all(np.diff(metal_rows) > 5)


def test_the_same_frames_give_the_same_bytes(picture, press, outcome, tmp_path):
    again = write_animation(
        press, outcome.rim, 11.5, tmp_path / "again.gif", "A rim", "A caution", frame_ms=120, hold_ms=900
    )
    assert again.read_bytes() == picture.read_bytes()


def test_axes_hold_every_frame_and_do_not_move(press, outcome):
    stage = Scene.holding(outcome.rim, press, 11.5)
    limits = set()
    for frame in press:
        above, below = frame_figure(frame, outcome.rim, stage).axes
        limits.add((above.get_xlim(), above.get_ylim(), below.get_xlim(), below.get_ylim()))
        assert above.get_ylim()[1] > frame.pressure_kpa.max()
        assert above.get_title(loc="left") == f"{frame.force_n:.1f} N, sunk {frame.sink_mm:.2f} mm"
        assert "(kPa)" in above.get_ylabel()
        assert below.get_xlabel().endswith("(mm)")
        assert below.get_ylabel().endswith("(mm)")
    assert len(limits) == 1


def test_a_frame_shows_its_own_surface_and_pressure(press, outcome):
    frame = press[1]
    above, below = frame_figure(frame, outcome.rim, Scene.holding(outcome.rim, press, 11.5)).axes
    drawn = above.get_lines()[0].get_ydata()
    pressed = frame.pressure_kpa > 0
    assert np.array_equal(drawn[pressed], frame.pressure_kpa[pressed])
    body = below.patches[0].get_xy()
    assert np.array_equal(body[: len(frame.surface)], frame.surface)


def test_a_film_without_frames_and_a_frame_that_does_not_fit_are_refused(outcome, tmp_path):
    with pytest.raises(ValueError, match="frames: got none"):
        write_animation([], outcome.rim, 11.5, tmp_path / "none.gif")
    with pytest.raises(ValueError, match=r"got shape \(3, 3\), allowed \(3, 2\)"):
        MovieFrame(np.zeros((3, 3)), np.zeros(3), 0.0, 1.0)
