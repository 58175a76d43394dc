"""The moving picture: a frame for every solved state, on axes that stand still."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from labrum.reports.figures.animation import (
    PIXELS_WIDE,
    Film,
    MovieFrame,
    Scene,
    frame_figure,
    movie_frame,
    write_animation,
)
from tests.reports import sample_outcome as sample


@pytest.fixture(scope="module")
def film(outcome):
    """Four frames on the way in."""
    made = [sample.Invented(force=20 * k**1.6, sink=3 * k, middle=-0.6 * k) for k in (0.25, 0.5, 0.75, 1.0)]
    frames = tuple(movie_frame(sample.invent(sample.demo_rim(), m)) for m in made)
    return Film("A", outcome.rim, frames)


@pytest.fixture(scope="module")
def picture(film, tmp_path_factory):
    path = tmp_path_factory.mktemp("film") / "press.gif"
    return write_animation([film], path, "A rim", "A caution", frame_ms=120, hold_ms=900)


def test_every_state_is_a_frame_and_the_last_one_is_held(picture):
    with Image.open(picture) as gif:
        assert gif.n_frames == 4
        assert gif.info["loop"] == 0
        times = []
        for number in range(4):
            gif.seek(number)
            times.append(gif.info["duration"])
    assert times == [120, 120, 120, 900]


def test_it_is_as_large_as_a_slide(picture):
    with Image.open(picture) as gif:
        wide, tall = gif.size
    assert wide == PIXELS_WIDE
    assert 0.56 * wide <= tall <= 0.75 * wide


def test_paper_stays_white_and_the_rim_comes_down(picture):
    metal_rows = []
    with Image.open(picture) as gif:
        for number in range(4):
            gif.seek(number)
            dots = np.asarray(gif.convert("RGB")).astype(int)
            assert tuple(dots[-1, -1]) == (255, 255, 255)
            metal = np.all(np.abs(dots - [0xD3, 0xD6, 0xDC]) <= 2, axis=2)
            rows = np.flatnonzero(metal.sum(axis=1) > 20)
            metal_rows.append(rows[rows < 0.7 * len(dots)].max())  # the legend has metal too
    assert np.all(np.diff(metal_rows) > 5)


def test_the_same_frames_give_the_same_bytes(picture, film, tmp_path):
    again = write_animation([film], tmp_path / "again.gif", "A rim", "A caution", frame_ms=120, hold_ms=900)
    assert again.read_bytes() == picture.read_bytes()


def test_axes_hold_every_frame_and_do_not_move(film):
    stage = Scene.holding([film])
    limits = set()
    for number, frame in enumerate(film.frames):
        above, below = frame_figure([film], number, stage).axes
        limits.add((above.get_xlim(), above.get_ylim(), below.get_xlim(), below.get_ylim()))
        assert above.get_ylim()[1] > frame.pressure_kpa.max()
        words = f"{frame.force_n:.1f} N, sunk {frame.sink_mm:.2f} mm, peak {frame.pressure_kpa.max():.0f} kPa"
        assert above.get_title(loc="left") == f"A\n{words}"
        assert "(kPa)" in above.get_ylabel()
        assert below.get_xlabel().endswith("(mm)")
        assert below.get_ylabel().endswith("(mm)")
    assert len(limits) == 1


def test_two_rims_share_every_axis_and_their_radii_stand_under_each_other(film):
    other = replace(film, name="B", frames=tuple(replace(f, pressure_kpa=2 * f.pressure_kpa) for f in film.frames))
    axes = frame_figure([film, other], 3, Scene.holding([film, other])).axes
    profiles = [a for a in axes if a.get_title(loc="left")]
    sections = [a for a in axes if a not in profiles]
    for alike in (profiles, sections):
        assert np.ptp([(*a.get_xlim(), *a.get_ylim()) for a in alike], axis=0) == pytest.approx(0.0, abs=1e-9)
    for profile, section in zip(profiles, sections, strict=True):
        ends = [(a.get_window_extent().x0, a.get_window_extent().x1) for a in (profile, section)]
        assert ends[0] == pytest.approx(ends[1], abs=0.5)
        assert profile.get_xlim() == section.get_xlim()
        box, (low, high), (left, right) = section.get_window_extent(), section.get_ylim(), section.get_xlim()
        assert box.height / (high - low) == pytest.approx(box.width / (right - left), rel=1e-3)


def test_a_frame_shows_its_own_pressure_layers_and_tissue_past_the_bite(film):
    frame = film.frames[3]
    above, below = frame_figure([film], 3, Scene.holding([film])).axes
    drawn = above.get_lines()[0].get_ydata()
    pressed = frame.pressure_kpa > 0
    assert np.array_equal(drawn[pressed], frame.pressure_kpa[pressed])
    labels = [patch.get_label() for patch in below.patches]
    assert {*frame.section.layer_names, "past the bite", "rim, cut"} <= set(labels)
    legend = {text.get_text() for text in above.figure.legends[0].get_texts()}
    assert {*frame.section.layer_names, "tissue past the bite", "rim, cut", "contact pressure, p"} == legend


def test_what_is_no_film_is_refused(film, tmp_path):
    for films in ([], [replace(film, frames=())], [film, replace(film, frames=film.frames[:2])], [film] * 3):
        with pytest.raises(ValueError, match="allowed one or two films of one length"):
            write_animation(films, tmp_path / "none.gif")
    with pytest.raises(ValueError, match=r"got shape \(3, 3\), allowed \(3, 2\)"):
        MovieFrame(film.frames[0].section, np.zeros((3, 3)), np.zeros(3), 0.0, 1.0)
