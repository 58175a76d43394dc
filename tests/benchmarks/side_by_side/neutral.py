"""What the libraries' scripts share, in plain NumPy: the question, meshes, load steps, readings, time and answer."""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any, Protocol

import numpy as np

PEAK_PERCENT = 1.0  # the accuracy asked for
FINER = 0.65  # an element's length by the rim over that on the mesh before
LEAST_STEP = 1e-3  # mm of travel


class Unsettled(RuntimeError):
    """Newton's iteration found no equilibrium in this step."""


@dataclass(frozen=True)
class Piece:
    """A line of the rim, or an arc (``centre`` and ``radius`` given) that bulges towards the tissue; mm.

    Travelling from ``start`` to ``end`` the metal is on the left; ``tangent`` is the direction at the start.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    tangent: tuple[float, float]
    centre: tuple[float, float] | None
    radius: float | None


@dataclass(frozen=True)
class Layer:
    """Thickness mm, shear modulus, second and third stiffening constant and bulk modulus MPa."""

    name: str
    thickness: float
    shear: float
    second: float
    third: float
    bulk: float


@dataclass(frozen=True)
class Question:
    """A rim pressed with ``force`` N into a bonded disc of layers, the top one first; lines of a grid that suits it."""

    force: float
    radius: float
    layers: tuple[Layer, ...]
    pieces: tuple[Piece, ...]
    columns: np.ndarray
    rows: np.ndarray

    @property
    def faces(self) -> np.ndarray:
        """Heights of the faces of the layers, from the back to the surface at 0."""
        return -np.cumsum([0.0] + [layer.thickness for layer in self.layers])[::-1]

    def layer_at(self, height: float) -> int:
        """Number of the layer at a height, not on a face."""
        return len(self.layers) - int(np.searchsorted(self.faces, height))


@dataclass(frozen=True)
class Samples:
    """Along the pressed surface from the axis outwards: place mm, contact pressure MPa, distance from the rim mm."""

    radius: np.ndarray
    pressure: np.ndarray
    gap: np.ndarray


class Press(Protocol):
    """A mesh with a state on it, in a library's own terms."""

    elements: int
    unknowns: int
    iterations: int
    travel: float
    force: float

    def to_travel(self, travel: float) -> None:
        """Equilibrium with the rim (nearly) so far down; raises `Unsettled` and then leaves the state as it was."""

    def to_force(self, force: float) -> None:
        """Equilibrium under the force; raises `Unsettled` and then leaves the state as it was."""

    def begin_from(self, other: Any) -> None:
        """Take over the state on another mesh."""

    def samples(self) -> Samples:
        """Read the contact."""


Make = Callable[[Question, np.ndarray, np.ndarray, int], Press]  # columns, rows, order of the elements


@dataclass(frozen=True)
class Guide:
    """How a library is guided: order of the elements, every how many lines of our grid it keeps, the travels before
    the force.
    """

    order: int
    columns: float
    rows: float
    travels: tuple[float, ...]


@dataclass(frozen=True)
class Lengths:
    """A mesh by the drawing: an element's length as an angle on the arc it will meet (rad) and as a share of the
    rim's width, whichever is less; its growth per mm of distance; height over length of the surface row; the longest,
    mm. ``first`` and ``longest_step`` mm of travel, ``order`` of the elements.
    """

    order: int
    angle: float
    share: float
    growth: float = 0.28
    aspect: float = 1.0
    longest: float = 2.5
    first: float = 0.05
    longest_step: float = 0.6

    def times(self, factor: float) -> Lengths:
        """Elements ``factor`` times as long by the rim, and less so the further away, where little depends on them."""
        angle, share, growth = self.angle * factor, self.share * factor, self.growth * factor**0.5
        return replace(self, angle=angle, share=share, growth=growth)


def read(path: Path) -> Question:
    """Read a question from its file."""
    raw = json.loads(path.read_text(encoding="utf-8"))
    return Question(
        raw["force"],
        raw["radius"],
        tuple(Layer(**layer) for layer in raw["layers"]),
        tuple(Piece(**piece) for piece in raw["pieces"]),
        np.array(raw["columns"]),
        np.array(raw["rows"]),
    )


def thinned(lines: np.ndarray, every: float, kept: Sequence[float]) -> np.ndarray:
    """Every so many-th of ``lines`` (in between where that is no whole number), those ``kept`` always among them."""
    places = [int(np.argmin(np.abs(lines - line))) for line in kept]
    parts = [[float(lines[places[0]])]]
    for start, stop in pairwise(places):
        count = max(1, round((stop - start) / every))
        parts.append(list(np.interp(np.linspace(start, stop, count + 1)[1:], np.arange(len(lines)), lines)))
    return np.concatenate(parts)


def laid_out(question: Question, lengths: Lengths) -> tuple[np.ndarray, np.ndarray]:
    """Columns and rows by the drawing of the rim and the thicknesses of the layers alone."""
    places = np.linspace(0.0, question.radius, 5001)
    sizes = np.full_like(places, lengths.longest)
    arcs = [piece for piece in question.pieces if piece.radius is not None]
    width = arcs[-1].end[0] - arcs[0].start[0]
    for arc in arcs:
        away = np.maximum(np.maximum(arc.start[0] - places, places - arc.end[0]), 0.0)
        sizes = np.minimum(sizes, min(lengths.angle * arc.radius, lengths.share * width) + lengths.growth * away)
    columns = _spaced(places, sizes)
    first = lengths.aspect * sizes.min()
    parts = [np.array([question.faces[0]])]
    for lower, upper in pairwise(question.faces):
        heights = np.linspace(lower, upper, 1001)
        parts.append(_spaced(heights, np.minimum(first - lengths.growth * heights, lengths.longest))[1:])
    return columns, np.concatenate(parts)


def _spaced(places: np.ndarray, sizes: np.ndarray) -> np.ndarray:
    """Lines from the first to the last place, so far apart as ``sizes`` ask, or a little less."""
    per_step = 0.5 * (1.0 / sizes[1:] + 1.0 / sizes[:-1]) * np.diff(places)
    passed = np.concatenate([[0.0], np.cumsum(per_step)])
    count = max(1, int(np.ceil(passed[-1] - 1e-9)))
    lines = np.interp(np.linspace(0.0, passed[-1], count + 1), passed, places)
    lines[[0, -1]] = places[[0, -1]]
    return lines


def guided(question: Question, make: Make, guide: Guide, finer: float = 1.0) -> list[Press]:
    """Press on the thinned lines of our own grid, in the steps given; then, if asked, on lines so much closer."""

    def on(divided: float) -> Press:
        columns = thinned(question.columns, guide.columns / divided, (0.0, question.radius))
        return make(question, columns, thinned(question.rows, guide.rows / divided, question.faces), guide.order)

    pressed = [on(1.0)]
    for travel in guide.travels:
        pressed[0].to_travel(travel)
    pressed[0].to_force(question.force)
    if finer != 1.0:
        pressed.append(on(finer))
        pressed[1].begin_from(pressed[0])
        pressed[1].to_force(question.force)
    return pressed


def alone(question: Question, make: Make, lengths: Lengths) -> list[Press]:
    """Press on a mesh laid by the drawing; refine it until the peak moves by less than what is asked."""
    pressed = [make(question, *laid_out(question, lengths), lengths.order)]
    _climb(pressed[0], question.force, lengths)
    while True:
        lengths = lengths.times(FINER)
        finer = make(question, *laid_out(question, lengths), lengths.order)
        before, started = pressed[-1], len(pressed)
        pressed.append(finer)
        finer.begin_from(before)
        try:
            finer.to_force(question.force)
        except Unsettled:
            pressed.append(make(question, *laid_out(question, lengths), lengths.order))
            _climb(pressed[-1], question.force, lengths)
        coarse, fine = (peak(press.samples())[0] for press in (pressed[started - 1], pressed[-1]))
        if abs(fine - coarse) <= 0.01 * PEAK_PERCENT * fine:
            return pressed


def _climb(press: Press, force: float, lengths: Lengths) -> None:
    """Go down in steps, longer where they go well and shorter where they fail, then by force."""
    step, stiffness = lengths.first, 0.0
    while True:
        before = press.travel, press.force
        near = press.force + 1.2 * stiffness * step >= force
        try:
            if near:
                press.to_force(force)
                return
            press.to_travel(press.travel + step)
        except Unsettled:
            step *= 0.5
            if step < LEAST_STEP:
                raise
            continue
        stiffness = (press.force - before[1]) / max(press.travel - before[0], LEAST_STEP)
        step = min(1.6 * step, lengths.longest_step)


def peak(samples: Samples) -> tuple[float, float]:
    """Largest contact pressure, MPa, and the radius where it is, mm."""
    at = int(np.argmax(samples.pressure))
    return float(samples.pressure[at]), float(samples.radius[at])


def felt_diameter(samples: Samples) -> float:
    """2 int p r dA / int p dA over the area seen along the axis, mm."""
    around = samples.pressure * samples.radius
    return float(2.0 * _trapezoid(around * samples.radius, samples.radius) / _trapezoid(around, samples.radius))


def _trapezoid(values: np.ndarray, places: np.ndarray) -> float:
    return float(np.sum(0.5 * (values[1:] + values[:-1]) * np.diff(places)))


def answer_as_asked(library: str, version: str, make: Make, guide: Guide, lengths: Lengths) -> None:
    """Read the command line and the question, press in the way asked, write the answer and what it took.

    More than one run is timed after one that is not, and the median is told.
    """
    parser = argparse.ArgumentParser(description=f"Press the rim with {library}.")
    parser.add_argument("question", type=Path)
    parser.add_argument("answer", type=Path)
    parser.add_argument("--way", choices=("guided", "alone"), default="guided")
    parser.add_argument("--runs", type=int, default=1)
    parser.add_argument("--finer", type=float, default=1.0, help="divide every element's length by this")
    asked = parser.parse_args()
    question = read(asked.question)

    def press() -> list[Press]:
        if asked.way == "alone":
            return alone(question, make, lengths.times(1.0 / asked.finer))
        return guided(question, make, guide, asked.finer)

    if asked.runs > 1:
        press()
    times = []
    for _ in range(asked.runs):
        cpu, wall = time.process_time(), time.perf_counter()
        pressed = press()
        times.append((time.process_time() - cpu, time.perf_counter() - wall))
    cpu, wall = np.median(times, axis=0).tolist()
    found = {"library": library, "version": version, "way": asked.way, "cpu_seconds": cpu, "wall_seconds": wall}
    asked.answer.write_text(json.dumps({**found, **_told(pressed)}, indent=1) + "\n", encoding="utf-8")


def _told(pressed: list[Press]) -> dict[str, Any]:
    """What the last press found, and what all of them took."""
    samples = pressed[-1].samples()
    top, place = peak(samples)
    return {
        "peak_pressure_kpa": 1e3 * top,
        "peak_radius_mm": place,
        "sink_mm": pressed[-1].travel,
        "force_n": pressed[-1].force,
        "felt_diameter_mm": felt_diameter(samples),
        "largest_penetration_mm": float(max(0.0, -samples.gap.min())),
        "unknowns": pressed[-1].unknowns,
        "elements": pressed[-1].elements,
        "iterations": sum(press.iterations for press in pressed),
        "peaks_on_the_way_kpa": [1e3 * peak(press.samples())[0] for press in pressed[:-1]],
    }
