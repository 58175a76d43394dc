"""The rim being pressed home: a moving picture of solved states, one a frame, of one rim or of two side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Patch, PathPatch
from PIL import Image

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.rims.rim import Rim
from labrum.reports.figures.pressure import PRESSURE_AXIS
from labrum.reports.figures.section import (
    METAL_LOOK,
    PAST_BITE_LOOK,
    RADIUS_AXIS,
    draw_metal,
    draw_resting_surface,
    draw_tissue,
    pressed_runs,
)
from labrum.reports.house_style.paper import PRINT_SIZES, PrintSize, laid_out
from labrum.reports.house_style.shapes import compound, past_bite_of
from labrum.reports.house_style.style import (
    LAYERS,
    PAPER,
    PRESSURE,
    PRESSURE_FILL,
    QUIET,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.reports.house_style.words import short
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.outcome import Outcome, Section
from labrum.simulate.readings.fields import section_of

LAYOUT = PrintSize(PRINT_SIZES["slide"].width_mm, 14.4)
"""A slide's width, and letters of four fifths of a slide's: two rims stand on it."""
PIXELS_WIDE = 1280
COLOURS = 256
SHAPE = 9.0 / 16.0
"""Least height of a slide over its width."""
HEIGHT_SHARES = (1.0, 2.1)
"""Of the profile of pressure and of the section below it."""
WORDS_IN = 1.1
"""Height that titles, axes' words and the legend take."""
SEEN_BELOW_MM = 2.5
"""Tissue shown below the deepest place of a rim; the rest of the lip is left out."""
MOST_RIMS = 2


@dataclass(frozen=True)
class MovieFrame:
    """One solved state on the way.

    ``section`` is the meshed tissue; ``surface`` (n, 2) deformed (r, z) of its surface from the axis outwards, mm;
    ``pressure_kpa`` (n,) contact pressure there; ``sink_mm`` the rim's travel below the resting lip; ``force_n`` the
    force that holds it there.
    """

    section: Section
    surface: Floats
    pressure_kpa: Floats
    sink_mm: float
    force_n: float

    def __post_init__(self) -> None:
        if self.surface.shape != (len(self.pressure_kpa), 2):
            raise ValueError(f"surface: got shape {self.surface.shape}, allowed ({len(self.pressure_kpa)}, 2)")


@dataclass(frozen=True)
class Film:
    """One rim, in its own frame, and its states in order; ``name`` is people's own word for it."""

    name: str
    rim: Rim
    frames: tuple[MovieFrame, ...]


def movie_frame(outcome: Outcome) -> MovieFrame:
    """Return the frame a converged press ends with."""
    contact = outcome.contact
    return MovieFrame(outcome.section, contact.place, contact.pressure_kpa, outcome.measures.sink_mm, outcome.force_n)


def frame_on_the_way(pressed: Pressed, layer_names: tuple[str, ...]) -> MovieFrame:
    """Return the frame of an equilibrium on the load path, on the grid it was found on."""
    model, found = pressed.model, pressed.equilibrium
    contact = traction(model, found.state)
    section = section_of(model, found.state, layer_names)
    return MovieFrame(section, contact.place, 1e3 * contact.pressure, found.state.travel, found.force)


@dataclass(frozen=True)
class Scene:
    """What stays put while the rims move: limits of all axes in mm and kPa."""

    right: float
    bottom: float
    top: float
    peak: float

    @classmethod
    def holding(cls, films: Sequence[Film]) -> Scene:
        """Choose limits that hold every frame of every film."""
        frames = [frame for film in films for frame in film.frames]
        right = max(film.rim.outer_radius for film in films) + 2.5
        right = min(right, max(float(f.surface[:, 0].max()) for f in frames))
        top = max(2.0, max(float(f.surface[:, 1].max()) for f in frames) + 1.0)
        whole = min(float(f.section.rest[:, 1].min()) for f in frames)
        peak = max(float(f.pressure_kpa.max(initial=0.0)) for f in frames)
        deepest = max(f.sink_mm for f in frames)
        return cls(right, max(whole, -deepest - SEEN_BELOW_MM), top, max(1.15 * peak, 1e-9))


def write_animation(
    films: Sequence[Film], path: Path, title: str = "", note: str = "", frame_ms: int = 150, hold_ms: int = 2500
) -> Path:
    """Write a looping GIF, the size of a slide, of one or two rims being pressed home.

    Parameters
    ----------
    films
        One or two, of as many frames each, at least one; nothing is drawn that was not solved.
    path
        Where to write; its folder must exist.
    title, note
        People's words above and below the drawing; either may be empty.
    frame_ms, hold_ms
        How long a frame stands, and the last one.

    Raises
    ------
    ValueError
        Without frames, with too many films, or where they are not of one length.
    """
    lengths = {len(film.frames) for film in films}
    if not 1 <= len(films) <= MOST_RIMS or len(lengths) != 1 or lengths == {0}:
        got = [len(film.frames) for film in films]
        raise ValueError(f"films: got {got} frames, allowed one or two films of one length, at least one frame")
    stage = Scene.holding(films)
    pictures = [_pixels(frame_figure(films, number, stage, title, note)) for number in range(lengths.pop())]
    palette = _palette(pictures[-1])
    drawn = [_indexed(picture, palette) for picture in pictures]
    times = [frame_ms] * (len(drawn) - 1) + [hold_ms]
    drawn[0].save(path, save_all=True, append_images=drawn[1:], duration=times, loop=0, optimize=False)
    return path


@house_style()
def frame_figure(films: Sequence[Film], number: int, stage: Scene, title: str = "", note: str = "") -> Figure:
    """Draw one frame of every film on axes that do not move.

    Two rims stand side by side, the pressure of each above its section; of one the pressure stands beside the section.
    """
    with laid_out(LAYOUT):
        figure = sheet(0.0, title, note)
        wide, words = figure.get_size_inches()
        shares = HEIGHT_SHARES if len(films) > 1 else (0.0, 1.0)
        tall = 0.5 * (wide - 0.5) * (stage.top - stage.bottom) / stage.right
        needed = words + WORDS_IN + tall * sum(shares) / shares[1]
        figure.set_size_inches(wide, max(SHAPE * wide, needed))
        panels = _panels(figure, len(films))
        for film, (profile, press) in zip(films, panels, strict=True):
            _draw_profile(profile, film, number, stage)
            _draw_press(press, film, number, stage)
        for axes in (axes for pair in panels[1:] for axes in pair):
            axes.set_ylabel("")
            axes.tick_params(labelleft=False)
        legend_below(figure, _legend(films), 3)
        finish(figure, title, note)
        for _, press in panels:
            _fill_box(press, stage)
        return figure


def _panels(figure: Figure, films: int) -> list[tuple[Axes, Axes]]:
    """Open the axes of every film: its profile of pressure and its section."""
    if films == 1:
        profile, press = figure.subplots(1, 2)
        return [(profile, press)]
    rows = figure.subplots(2, films, height_ratios=HEIGHT_SHARES)
    for above in rows[0]:
        above.tick_params(labelbottom=False)
    return list(zip(*rows, strict=True))


def _fill_box(axes: Axes, stage: Scene) -> None:
    """Show as much of the lip's depth as the room has at one scale both ways: the radii then stand under each other."""
    box = axes.get_window_extent()
    axes.set(ylim=(stage.top - stage.right * box.height / box.width, stage.top), aspect="equal")


def _draw_profile(axes: Axes, film: Film, number: int, stage: Scene) -> None:
    frame = film.frames[number]
    radius = frame.surface[:, 0]
    axes.fill_between(radius, frame.pressure_kpa, color=PRESSURE_FILL, linewidth=0)
    pressed = np.zeros(len(radius), dtype=bool)
    for run in pressed_runs(frame.pressure_kpa):
        pressed[run] = True
    axes.plot(radius, np.where(pressed, frame.pressure_kpa, np.nan), color=PRESSURE)
    axes.set(xlim=(0.0, stage.right), ylim=(0.0, stage.peak))
    label_axes(axes, RADIUS_AXIS if axes.xaxis.get_tick_params().get("labelbottom", True) else "", "p (kPa)")
    words = f"{frame.force_n:.1f} N, sunk {frame.sink_mm:.2f} mm, peak {frame.pressure_kpa.max():.0f} kPa"
    name = short(film.name, 2.6, 8.5)
    axes.set_title(f"{name}\n{words}" if name else words, weight="normal", size=8.5)


def _draw_press(axes: Axes, film: Film, number: int, stage: Scene) -> None:
    frame = film.frames[number]
    axes.set(xlim=(0.0, stage.right), ylim=(stage.bottom, stage.top))
    draw_tissue(axes, frame.section)
    past = past_bite_of(frame.section, film.rim, frame.sink_mm)
    if past:
        axes.add_patch(PathPatch(compound(past), zorder=1.5, label="past the bite", **PAST_BITE_LOOK))
    draw_resting_surface(axes)
    draw_metal(axes, film.rim, frame.sink_mm, stage.top)
    label_axes(axes, RADIUS_AXIS, "z (mm)", grid=False)


def _legend(films: Sequence[Film]) -> list[Any]:
    names = max((film.frames[0].section.layer_names for film in films), key=len)
    layers = [Patch(facecolor=LAYERS[k % len(LAYERS)], edgecolor=QUIET, linewidth=0.7, label=name)
              for k, name in enumerate(names)]  # fmt: skip
    pressed = Patch(facecolor=PRESSURE_FILL, edgecolor=PAPER, label=PRESSURE_AXIS.partition(" (")[0])
    past = Patch(label="tissue past the bite", **PAST_BITE_LOOK)
    return [*layers, past, Patch(label="rim, cut", **METAL_LOOK), pressed]


@house_style()
def _pixels(figure: Figure) -> Ints:
    """Return the picture as packed colours, 0xRRGGBB, (height, width)."""
    figure.set_dpi(PIXELS_WIDE / float(figure.get_size_inches()[0]))
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
