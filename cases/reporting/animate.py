"""The command that shows a rim being pressed home. Kept light: whatever is heavy is loaded by the job."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Annotated

import typer

from labrum.cases.options import CaseName, Debug, Quiet, path_option

if TYPE_CHECKING:
    from labrum.cases.solving.screen import Narrator

MOVIE_STEP = 0.006
"""Travel from frame to frame over the lip's thickness: a press on a shipped lip has 24 frames or more."""
ANIMATE_EXAMPLES = """\b
Examples:
  labrum animate demo
  labrum animate mine.toml --out pressed-home.gif
"""


def animate(
    case: CaseName,
    out: Annotated[Path | None, path_option(help="The GIF to write; must be new. Default: <case>.gif, here.")] = None,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Draw the rim of CASE being pressed home: a GIF with one frame for every equilibrium on the way.

    The frames are those of the coarsest grid a peak is read on, before the refinement that bounds its error. Exit
    codes: 0 done; 1 our fault; 2 usage; 3 invalid case; 4 not converged; 130 interrupted.
    """
    from labrum.cases.exits import Ending, ended
    from labrum.cases.solving.screen import Narrator

    target = out or Path(f"{Path(case).stem}.gif")
    work = partial(_drawn, case, target)
    raise typer.Exit(ended(work, Narrator(sys.stderr, quiet), Ending(debug, reading="case")))


def _drawn(place: str, target: Path, narrator: Narrator) -> int:
    from labrum.cases.case_file.reading import read_case
    from labrum.cases.exits import DONE, NOT_CONVERGED
    from labrum.cases.solving.leftovers import sweep_files, written_whole
    from labrum.cases.solving.run_folder import UnusableFolder, try_target

    found = read_case(place)
    if target.exists() or not target.parent.is_dir():
        raise UnusableFolder(f"cannot write {target}: it exists already, or its folder does not")
    try_target(target)
    sweep_files(target)
    from labrum.cases.solving.result import figure_note
    from labrum.cases.solving.screen import show
    from labrum.reports.figures.animation import frame_on_the_way, write_animation
    from labrum.simulate.accuracy.refinement import ANSWER
    from labrum.simulate.load_path.press import HOME, Pressed, StepLengths, press
    from labrum.simulate.problem import NotConverged

    problem, way = found.problem, list[Pressed]()
    try:
        # shorter steps than a solve takes, each a true equilibrium, for a smoother picture
        press(problem, ANSWER, narrator.progress, StepLengths(first=MOVIE_STEP, longest=MOVIE_STEP), HOME, way.append)
    except NotConverged as stop:
        narrator.tell(f"labrum: not converged: {stop}")
        return NOT_CONVERGED
    frames = [frame_on_the_way(pressed) for pressed in way]
    with TemporaryDirectory() as folder:
        drawn = Path(folder, "way.gif")
        write_animation(frames, problem.rim, problem.lip.thickness, drawn, problem.title, figure_note(found))
        written_whole(target, drawn.read_bytes())
    show(str(target))
    return DONE


def add_animate(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("animate", short_help="Draw a rim being pressed home, as a GIF.", epilog=ANIMATE_EXAMPLES)(animate)
