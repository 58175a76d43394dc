"""The command that writes a report. Kept light: whatever is heavy is loaded by the job."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.manner import Manner
from labrum.cases.options import Debug, Force, Quiet, Verbose, Workers, out_file

REPORT_EXAMPLES = """\b
Examples:
  labrum report demo
  labrum report thin-narrow thin-wide --out rims.html
  labrum report mine.toml --no-robust -q
"""


def report_command(
    cases: Annotated[
        list[str], typer.Argument(metavar="CASE...", help="One to six case files or names of shipped cases.")
    ],
    out: Annotated[Path | None, out_file("The page", "<first case>-report.html, here")] = None,
    force: Force = False,
    robust: Annotated[
        bool, typer.Option("--robust/--no-robust", help="Also tell what holds in each of nine lips: stiffness "
                           "and friction varied.")
    ] = True,
    workers: Workers = 0,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Write one HTML page about one to six rims: what the lip would feel, how sure that is, what went in.

    The page holds everything it shows; print it from a browser for a PDF. Exit codes: 0 done; 1 our fault;
    2 usage; 3 invalid case; 4 a rim did not converge; 130 interrupted.
    """
    from labrum.cases.reporting.job import ReportOrder, run_report

    manner = Manner(quiet=quiet, verbose=verbose, debug=debug, force=force)
    raise typer.Exit(run_report(ReportOrder(tuple(cases), out, robust, workers, manner), tuple(sys.argv)))


def add_report(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("report", short_help="Write a page about one to six rims.", epilog=REPORT_EXAMPLES)(report_command)
