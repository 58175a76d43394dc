"""The command line with the main job alone, ``labrum solve``: no other command is loaded to solve a case."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from labrum.cases.drawing import Drawn
from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import (
    AsJson,
    CaseName,
    Debug,
    Dpi,
    FigureFor,
    FontSize,
    Force,
    PressureTo,
    Quiet,
    Robust,
    Verbose,
    Workers,
    out_folder,
)
from labrum.cases.streams import carried_out

if TYPE_CHECKING:
    from labrum.simulate.conclusions.robustness import Result
    from labrum.simulate.problem import Problem

# The first line keeps the lines after it as they are.
SOLVE_EXAMPLES = """\b
Examples:
  labrum solve demo
  labrum show demo > mine.toml && labrum solve mine.toml --out runs/mine
  labrum solve mine.toml --json | python -m json.tool
  labrum solve demo --robust                      # nine lips: stiffness and friction varied
  labrum solve demo --off-axis                    # how forgiving it is: tilt, shift, what [off_axis] asks for
"""


def _print_version(wanted: bool) -> None:
    if wanted:
        from labrum.cases.solving.provenance import LIBRARIES, library_version, own_version
        from labrum.simulate.compiled import described

        others = ", ".join(f"{name} {library_version(name)}" for name in LIBRARIES)
        print(f"labrum {own_version()} (python {sys.version.split()[0]}, {others})")
        print(described())
        raise typer.Exit


def labrum(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Show versions and exit."),
    ] = False,
) -> None:
    """Press a brass-mouthpiece rim into a soft-tissue lip by finite elements, before machining it.

    Example: labrum solve demo
    """


def solve_command(
    case: CaseName,
    out: Annotated[
        Path | None, out_folder("result, fields and figures", "runs/<case>-<UTC time>, or none with --json")
    ] = None,
    force: Force = False,
    json: AsJson = False,
    robust: Robust = False,
    vibration: Annotated[
        bool, typer.Option("--vibration", help="Also tell how the pressed lip vibrates, and draw that.")
    ] = False,
    all_figures: Annotated[
        bool, typer.Option("--all-figures", help="Draw every figure, as SVG, PDF and PNG, not only the usual two.")
    ] = False,
    off_axis: Annotated[
        bool, typer.Option("--off-axis", help="Also tell what a tilt and a shift do, and all that [off_axis] asks for.")
    ] = False,
    figure_for: FigureFor = "",
    font_size: FontSize = None,
    dpi: Dpi = None,
    pressure_to: PressureTo = None,
    workers: Workers = 0,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Press the rim of CASE into its lip and tell what the lip would feel.

    Exit codes: 0 done; 1 our fault; 2 usage; 3 invalid case; 4 not converged; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.solving.job import Order, run

        drawn = Drawn(figure_for, font_size, dpi, pressure_to)
        manner = Manner(json, quiet, verbose, debug, force)
        order = Order(case, out, robust, all_figures, off_axis, vibration, drawn, manner)
        return run(order, tuple(sys.argv), partial(_each, workers, manner))

    leave(job)


def _each(workers: int, manner: Manner, problems: Sequence[Problem]) -> Iterable[tuple[int, Result]]:
    from labrum.cases.workers.aloud import solver_told
    from labrum.cases.workers.each import solve_each

    return solve_each(problems, workers, solver_told(manner))


def solving_app() -> typer.Typer:
    """A command line that knows ``solve``, to which others may be added."""
    app = typer.Typer(
        add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False, rich_markup_mode=None
    )
    app.callback()(labrum)
    told = "Press a rim into a lip and tell what the lip would feel."
    app.command("solve", short_help=told, epilog=SOLVE_EXAMPLES)(solve_command)
    return app


def only_solve() -> NoReturn:
    """Run the command line where it is known to ask for nothing else."""
    carried_out(solving_app())
