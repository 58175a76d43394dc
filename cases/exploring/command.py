"""The commands ``explore`` and ``lessons``. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.options import Debug, Forget, Quiet, Workers, path_option

EXPLORE_EXAMPLES = """\b
Examples:
  labrum explore
  labrum explore mine.toml --port 8750 --no-browser
"""
LESSONS_EXAMPLES = """\b
Examples:
  labrum lessons --out lessons.html
"""

MemoryFile = Annotated[
    Path | None,
    path_option("--memory", help="File that keeps solved cases. Default: explored.sqlite in your cache folder."),
]
PageWorkers = Annotated[
    int, typer.Option(min=0, max=64, help="Solving processes. Default 0: one more than processors, 3 at least.")
]


def explore(
    case: Annotated[
        str, typer.Argument(metavar="CASE", help="A case file or the name of a shipped case to begin with.")
    ] = "demo",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Default 0: any that is free.")] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in a browser.")] = True,
    memory: MemoryFile = None,
    forget: Forget = False,
    workers: PageWorkers = 0,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Open a page on this machine to turn a rim's, a lip's and a load's knobs and see what the lip would feel.

    Its address is printed on stdout; only this machine can reach it. Ctrl-C ends it. Needs the extra "explore":
    pip install 'labrum[explore]'. Exit codes: 0 done; 1 our fault; 2 usage; 3 invalid case.
    """
    from labrum.cases.exploring.start import ExploreOrder, run_explore

    raise typer.Exit(run_explore(ExploreOrder(case, port, browser, memory, forget, workers, quiet, debug)))


def lessons(
    out: Annotated[Path, path_option(help="The file to write.")] = Path("lessons.html"),
    workers: Workers = 0,
    memory: MemoryFile = None,
    forget: Forget = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Solve the lessons' cases and write all lessons as one HTML file that works without a network.

    Exit codes: 0 done; 1 our fault; 2 usage; 4 a case did not converge; 130 interrupted, nothing written.
    """
    from labrum.cases.exploring.export import ExportOrder, run_export

    raise typer.Exit(run_export(ExportOrder(out, workers, memory, forget, quiet, debug)))


def add_exploring(app: typer.Typer) -> None:
    """Add the commands to the command line."""
    app.command("explore", short_help="Open a live page on this machine.", epilog=EXPLORE_EXAMPLES)(explore)
    app.command("lessons", short_help="Write the lessons as one offline page.", epilog=LESSONS_EXAMPLES)(lessons)
