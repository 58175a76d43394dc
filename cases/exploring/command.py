"""The commands ``explore`` and ``lessons``. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.manner import Manner
from labrum.cases.options import Debug, Force, Forget, Quiet, Workers, out_file, store_file

EXPLORE_EXAMPLES = """\b
Examples:
  labrum explore
  labrum explore mine.toml --port 8750 --no-browser
"""
LESSONS_EXAMPLES = """\b
Examples:
  labrum lessons --out lessons.html
"""

PageStore = Annotated[Path | None, store_file("explored.sqlite in your cache folder")]


def explore(
    case: Annotated[
        str, typer.Argument(metavar="CASE", help="A case file or the name of a shipped case to begin with.")
    ] = "demo",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Default 0: any that is free.")] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page in a browser.")] = True,
    store: PageStore = None,
    forget: Forget = False,
    workers: Workers = 0,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Open a page on this machine to turn a rim's, a lip's and a load's knobs and see what the lip would feel.

    Its address is printed on stdout; only this machine can reach it. Ctrl-C ends it. Unless --workers says otherwise
    one process more than there are processors stands by, to answer while the others solve. Needs the extra "explore":
    pip install 'labrum[explore]'. Exit codes: 0 done; 1 our fault; 2 usage; 3 invalid case.
    """
    from labrum.cases.exploring.start import ExploreOrder, run_explore

    manner = Manner(quiet=quiet, debug=debug)
    raise typer.Exit(run_explore(ExploreOrder(case, port, browser, store, forget, workers, manner)))


def lessons(
    out: Annotated[Path | None, out_file("The page", "lessons.html, here")] = None,
    force: Force = False,
    workers: Workers = 0,
    store: PageStore = None,
    forget: Forget = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Solve the lessons' cases and write all lessons as one HTML file that works without a network.

    Exit codes: 0 done; 1 our fault; 2 usage; 4 a case did not converge; 130 interrupted, nothing written.
    """
    from labrum.cases.exploring.export import ExportOrder, run_export

    manner = Manner(quiet=quiet, debug=debug, force=force)
    raise typer.Exit(run_export(ExportOrder(out or Path("lessons.html"), workers, store, forget, manner)))


def add_exploring(app: typer.Typer) -> None:
    """Add the commands to the command line."""
    app.command("explore", short_help="Open a live page on this machine.", epilog=EXPLORE_EXAMPLES)(explore)
    app.command("lessons", short_help="Write the lessons as one offline page.", epilog=LESSONS_EXAMPLES)(lessons)
