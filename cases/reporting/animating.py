"""The job of ``labrum animate``: press one or two rims through the same shares of their forces, and draw that."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import read_all
from labrum.cases.exits import DONE, CannotDo, NoEquilibrium
from labrum.cases.manner import USUAL, Manner
from labrum.cases.overwriting import refuse_taken_file
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.leftovers import sweep_files, written_whole
from labrum.cases.solving.result import figure_note, stopped_at
from labrum.cases.solving.run_folder import try_target, usual_stem
from labrum.cases.solving.screen import Narrator, show
from labrum.simulate.problem import NotConverged

if TYPE_CHECKING:
    from labrum.reports.figures.animation import Film

MOST_CASES = 2
PACE = 1.6
"""The power of the frame's share that the force's is: even steps of force would leap at the first touch."""


@dataclass(frozen=True)
class AnimateOrder:
    """What the command line asked for: ``out`` is the file to write, None for the usual place."""

    places: tuple[str, ...]
    out: Path | None = None
    frames: int = 28
    manner: Manner = USUAL


def run_animate(order: AnimateOrder) -> int:
    """Do the job and return its exit code: the file's place goes to stdout, all else to stderr."""
    return conducted(partial(_animate, order), order.manner, reading="case", interrupted="; nothing was written")


def _animate(order: AnimateOrder, narrator: Narrator) -> int:
    if not 1 <= len(order.places) <= MOST_CASES:
        raise CannotDo(f"cases: got {len(order.places)}, allowed 1 or {MOST_CASES}")
    cases = read_all(order.places)
    target = order.out or Path(f"{usual_stem(order.places[0])}.gif")
    refuse_taken_file(target, order.manner.force)
    try_target(target)
    sweep_files(target)
    one = len(cases) == 1
    names = [""] if one else [usual_stem(place) for place in order.places]
    films = [_film(name, case, order.frames, narrator) for name, case in zip(names, cases, strict=True)]
    title = cases[0].problem.title if one else ""
    written_whole(target, _gif(films, title, figure_note(cases[0])))
    show(str(target))
    return DONE


def _film(name: str, case: Case, frames: int, narrator: Narrator) -> Film:
    """Press a case through its forces; raises `NoEquilibrium`."""
    from labrum.reports.figures.animation import Film, frame_on_the_way
    from labrum.simulate.accuracy.refinement import ANSWER
    from labrum.simulate.load_path.through_forces import through_forces

    problem = case.problem
    forces = [problem.load.force * (number / frames) ** PACE for number in range(1, frames + 1)]
    narrator.say(f"pressing: {problem.title}")
    try:
        way = through_forces(problem, forces, ANSWER, narrator.listener(problem))
    except NotConverged as stop:
        raise NoEquilibrium(f"not converged: {problem.title}: {stopped_at(case, stop.force_reached)}") from stop
    names = tuple(layer.name for layer in problem.lip.layers)
    return Film(name, problem.rim, tuple(frame_on_the_way(pressed, names) for pressed in way))


def _gif(films: list[Film], title: str, note: str) -> bytes:
    from labrum.reports.figures.animation import write_animation

    with TemporaryDirectory() as folder:
        return write_animation(films, Path(folder, "way.gif"), title, note).read_bytes()
