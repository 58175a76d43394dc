"""The job of ``labrum animate``: press one or two rims through the same shares of their forces, and draw that."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import read_all
from labrum.cases.exits import DONE, CannotDo, NoEquilibrium, OurFault
from labrum.cases.manner import USUAL, Manner
from labrum.cases.overwriting import refuse_taken_file
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.leftovers import sweep_files, written_whole
from labrum.cases.solving.result import figure_note, stopped_at
from labrum.cases.solving.run_folder import try_target, usual_stem
from labrum.cases.solving.screen import Narrator, show
from labrum.cases.workers.aloud import told_aloud
from labrum.cases.workers.pool import done_in_processes, nothing_opened, processes_for
from labrum.simulate.problem import NotConverged, Progress

if TYPE_CHECKING:
    from labrum.reports.figures.animation import Film

MOST_CASES = 2
PACE = 1.6
"""The power of the frame's share that the force's is: even steps of force would leap at the first touch."""


@dataclass(frozen=True)
class AnimateOrder:
    """What the command line asked for: ``out`` is the file to write, None for the usual place.

    Two rims are pressed by ``workers`` processes, 0 being one a processor.
    """

    places: tuple[str, ...]
    out: Path | None = None
    frames: int = 28
    workers: int = 0
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
    tasks = [Filming(name, case, order.frames) for name, case in zip(names, cases, strict=True)]
    films = _filmed(tasks, order, narrator)
    title = cases[0].problem.title if one else ""
    written_whole(target, _gif(films, title, figure_note(cases[0])))
    show(str(target))
    return DONE


@dataclass(frozen=True)
class Filming:
    """A rim to be pressed through so many frames; ``name`` stands over it."""

    name: str
    case: Case
    frames: int

    def done(self, heard: Callable[[Progress], None]) -> Film:
        """Press it; raises `NoEquilibrium`."""
        from labrum.reports.figures.animation import Film, frame_on_the_way
        from labrum.simulate.accuracy.refinement import ANSWER
        from labrum.simulate.load_path.through_forces import through_forces

        problem = self.case.problem
        forces = [problem.load.force * (number / self.frames) ** PACE for number in range(1, self.frames + 1)]
        try:
            way = through_forces(problem, forces, ANSWER, heard)
        except NotConverged as stop:
            where = stopped_at(self.case, stop.force_reached)
            raise NoEquilibrium(f"not converged: {problem.title}: {where}") from stop
        names = tuple(layer.name for layer in problem.lip.layers)
        return Film(self.name, problem.rim, tuple(frame_on_the_way(pressed, names) for pressed in way))


def _filmed(tasks: list[Filming], order: AnimateOrder, narrator: Narrator) -> list[Film]:
    """Press every rim, each in a process of its own where there may be several; raises `NoEquilibrium`."""
    for task in tasks:
        narrator.say(f"pressing: {task.case.problem.title}")
    if processes_for(len(tasks), order.workers) == 1:
        return [task.done(narrator.listener(task.case.problem)) for task in tasks]
    found: dict[int, Film] = {}
    begin = partial(nothing_opened, partial(_film_or_fault, order.manner.aloud))
    with closing(done_in_processes(begin, tasks, order.workers)) as results:
        for number, result in results:
            if isinstance(result, Exception):
                raise result
            found[number] = result
    return [found[number] for number in range(len(tasks))]


def _film_or_fault(aloud: bool, task: Filming) -> Film | Exception:
    """Press a rim in a worker: what goes wrong is a value, raised where the job is."""
    try:
        return task.done(told_aloud(task.case.problem) if aloud else _unheard)
    except NoEquilibrium as error:
        return error
    except Exception as error:
        return OurFault(f"{type(error).__name__}: {error}")


def _unheard(report: Progress) -> None:
    """Nobody listens in a worker."""


def _gif(films: list[Film], title: str, note: str) -> bytes:
    from labrum.reports.figures.animation import write_animation

    with TemporaryDirectory() as folder:
        return write_animation(films, Path(folder, "way.gif"), title, note).read_bytes()
