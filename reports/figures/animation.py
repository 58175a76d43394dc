"""The rim being pressed home: a moving picture of solved states, one a frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.rims.rim import Rim
from labrum.reports.figures.pressure import PRESSURE_AXIS
from labrum.reports.figures.section import HEIGHT_AXIS, RADIUS_AXIS, draw_metal, draw_resting_surface
from labrum.reports.house_style.style import (
    INK,
    LAYERS,
    PRESSURE,
    PRESSURE_FILL,
    WIDTH_IN,
    finish,
    house_style,
    label_axes,
    sheet,
)
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.outcome import Outcome

DOTS_PER_INCH = 110
COLOURS = 256
MOVIE_PROFILE_IN = 1.2


@dataclass(frozen=True)
class MovieFrame:
    """One solved state on the way.

    ``surface`` (n, 2) deformed (r, z) of the lip's surface from the axis outwards, mm; ``pressure_kpa`` (n,)
    contact pressure there; ``sink_mm`` the rim's travel below the resting lip; ``force_n`` the force that
    holds it there.
    """

    surface: Floats
    pressure_kpa: Floats
    sink_mm: float
    force_n: float

    def __post_init__(self) -> None:
        if self.surface.shape != (len(self.pressure_kpa), 2):
            raise ValueError(f"surface: got shape {self.surface.shape}, allowed ({len(self.pressure_kpa)}, 2)")


def movie_frame(outcome: Outcome) -> MovieFrame:
    """Return the frame a converged press ends with."""
    contact = outcome.contact
    return MovieFrame(contact.place, contact.pressure_kpa, outcome.measures.sink_mm, outcome.force_n)


def frame_on_the_way(pressed: Pressed) -> MovieFrame:
    """Return the frame of an equilibrium on the load path, on the grid it was found on."""
    contact = traction(pressed.model, pressed.equilibrium.state)
    found = pressed.equilibrium
    return MovieFrame(contact.place, 1e3 * contact.pressure, found.state.travel, found.force)


@dataclass(frozen=True)
class Scene:
    """What stays put while the rim moves: limits of the axes in mm and kPa."""

    right: float
    bottom: float
    top: float
    peak: float

    @classmethod
    def holding(cls, rim: Rim, frames: Sequence[MovieFrame], thickness_mm: float) -> Scene:
        """Choose limits that hold every frame."""
        right = min(rim.outer_radius + 4.0, max(float(f.surface[:, 0].max()) for f in frames))
        top = max(2.5, max(float(f.surface[:, 1].max()) for f in frames) + 1.5)
        peak = max(float(f.pressure_kpa.max(initial=0.0)) for f in frames)
        return cls(right, -thickness_mm, top, max(1.15 * peak, 1e-9))


def write_animation(
    frames: Sequence[MovieFrame],
    rim: Rim,
    thickness_mm: float,
    path: Path,
    title: str = "",
    note: str = "",
    frame_ms: int = 150,
    hold_ms: int = 2000,
) -> Path:
    """Write a looping GIF of the rim being pressed home.

    Parameters
    ----------
    frames
        Solved states in order, at least one; nothing is drawn that was not solved.
    rim
        In its own frame.
    thickness_mm
        Of the lip at rest.
    path
        Where to write; its folder must exist.
    title, note
        People's words above and below the drawing; either may be empty.
    frame_ms, hold_ms
        How long a frame stands, and the last one.

    Raises
    ------
    ValueError
        Without frames.
    """
    if not frames:
        raise ValueError("frames: got none, allowed one or more")
    stage = Scene.holding(rim, frames, thickness_mm)
    pictures = [_pixels(frame_figure(frame, rim, stage, title, note)) for frame in frames]
    palette = _palette(pictures[-1])
    drawn = [_indexed(picture, palette) for picture in pictures]
    times = [frame_ms] * (len(drawn) - 1) + [hold_ms]
    drawn[0].save(path, save_all=True, append_images=drawn[1:], duration=times, loop=0, optimize=False)
    return path


@house_style()
def frame_figure(frame: MovieFrame, rim: Rim, stage: Scene, title: str = "", note: str = "") -> Figure:
    """Draw one state: the pressure above, the rim in the lip below, on axes that do not move."""
    tall = (WIDTH_IN - 0.75) * (stage.top - stage.bottom) / stage.right
    figure = sheet(tall + MOVIE_PROFILE_IN + 0.95, title, note)
    above, below = figure.subplots(2, 1, height_ratios=[MOVIE_PROFILE_IN, tall])
    _draw_profile(above, frame, stage)
    _draw_press(below, frame, rim, stage)
    return finish(figure, title, note)


def _draw_profile(axes: Axes, frame: MovieFrame, stage: Scene) -> None:
    radius = frame.surface[:, 0]
    axes.fill_between(radius, frame.pressure_kpa, color=PRESSURE_FILL, linewidth=0)
    axes.plot(radius, np.where(frame.pressure_kpa > 0.0, frame.pressure_kpa, np.nan), color=PRESSURE)
    axes.set(xlim=(0.0, stage.right), ylim=(0.0, stage.peak))
    label_axes(axes, "", PRESSURE_AXIS.replace("contact ", ""))
    axes.tick_params(labelbottom=False)
    words = f"{frame.force_n:.1f} N, sunk {frame.sink_mm:.2f} mm"
    axes.set_title(words, weight="normal", size=8.5)


def _draw_press(axes: Axes, frame: MovieFrame, rim: Rim, stage: Scene) -> None:
    axes.set(xlim=(0.0, stage.right), ylim=(stage.bottom, stage.top), aspect="equal", anchor="N")
    axes.fill(*_body(frame.surface, stage.bottom).T, facecolor=LAYERS[0], edgecolor=INK, linewidth=0.9, zorder=1)
    draw_resting_surface(axes)
    draw_metal(axes, rim, frame.sink_mm, stage.top)
    label_axes(axes, RADIUS_AXIS, HEIGHT_AXIS.replace(" above the resting lip", ""), grid=False)


def _body(surface: Floats, bottom: float) -> Floats:
    below = [[surface[-1, 0], bottom], [surface[0, 0], bottom]]
    return np.vstack([surface, below])


@house_style()
def _pixels(figure: Figure) -> Ints:
    """Return the picture as packed colours, 0xRRGGBB, (height, width)."""
    figure.set_dpi(DOTS_PER_INCH)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    red, green, blue, _ = np.moveaxis(np.asarray(canvas.buffer_rgba()).astype(np.int64), 2, 0)
    return red << 16 | green << 8 | blue


def _palette(picture: Ints) -> Ints:
    """Take a picture's commonest colours, (at most 256,): one palette for all frames does not flicker."""
    colours, count = np.unique(picture, return_counts=True)
    return colours[np.argsort(-count, kind="stable")[:COLOURS]]


def _indexed(picture: Ints, palette: Ints) -> Image.Image:
    """Give every dot the palette's nearest colour: exactly, which keeps white paper white."""
    colours, place = np.unique(picture, return_inverse=True)
    gap = np.linalg.norm(_channels(colours)[:, None, :] - _channels(palette), axis=2)
    image = Image.fromarray(np.argmin(gap, axis=1).astype(np.uint8)[place.reshape(picture.shape)])
    image.putpalette(_channels(palette).astype(np.uint8).tobytes())
    return image


def _channels(colours: Ints) -> Floats:
    return np.column_stack([colours >> 16, colours >> 8 & 255, colours & 255]).astype(np.float64)
