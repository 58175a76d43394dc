"""The command that writes a report. Kept light: whatever is heavy is loaded by the job."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.options import Debug, Quiet, Workers, path_option

REPORT_EXAMPLES = """\b
Examples:
  labrum report demo
  labrum report thin-narrow thin-wide --out rims.html
  labrum report mine.toml --quick -q
"""


def report_command(
    cases: Annotated[
        list[str], typer.Argument(metavar="CASE...", help="One to six case files or names of shipped cases.")
    ],
    out: Annotated[
        Path | None, path_option(help="The page to write. Default: <first case>-report.html, here.")
    ] = None,
    quick: Annotated[
        bool, typer.Option("--quick", help="Do not press again on a softer and a stiffer lip.")
    ] = False,
    workers: Workers = 0,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Write one HTML page about one to six rims: what the lip would feel, how sure that is, what went in.

    The page holds everything it shows; print it from a browser for a PDF. Exit codes: 0 done; 1 our fault;
    2 usage; 3 invalid case; 4 a rim did not converge; 130 interrupted.
    """
    from labrum.cases.reporting.job import ReportOrder, run_report

    raise typer.Exit(run_report(ReportOrder(tuple(cases), out, quick, workers, quiet, debug), tuple(sys.argv)))


def add_report(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("report", short_help="Write a page about one to six rims.", epilog=REPORT_EXAMPLES)(report_command)
