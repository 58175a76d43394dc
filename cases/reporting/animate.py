"""The command that shows rims being pressed home. Kept light: whatever is heavy is loaded by the job."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import Debug, Force, Quiet, Verbose, Workers, out_file

ANIMATE_EXAMPLES = """\b
Examples:
  labrum animate demo
  labrum animate thin-narrow thin-wide            # side by side, under the same forces
  labrum animate mine.toml --out pressed-home.gif
"""


def animate(
    cases: Annotated[
        list[str], typer.Argument(metavar="CASE [CASE]", help="One or two case files or names of shipped cases.")
    ],
    out: Annotated[Path | None, out_file("The GIF", "<first case>.gif, here")] = None,
    force: Force = False,
    frames: Annotated[int, typer.Option(min=2, max=120, help="Equilibria on the way, one a frame.")] = 28,
    workers: Workers = 0,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Draw one rim being pressed home, or two side by side: a GIF with an equilibrium a frame, the size of a slide.

    Two rims go through the same shares of their forces. The frames are those of the coarsest grid a peak is read on,
    before the refinement that bounds its error; breath and muscle are at rest. Exit codes: 0 done; 1 our fault; 2
    usage; 3 invalid case; 4 not converged; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.reporting.animating import AnimateOrder, run_animate

        manner = Manner(quiet=quiet, verbose=verbose, debug=debug, force=force)
        return run_animate(AnimateOrder(tuple(cases), out, frames, workers, manner))

    leave(job)


def add_animate(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("animate", short_help="Draw rims being pressed home, as a GIF.", epilog=ANIMATE_EXAMPLES)(animate)
