"""The command that lays rims side by side. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.comparing.hold import Hold
from labrum.cases.drawing import Drawn
from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import (
    AsJson,
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

FEWEST, MOST = 2, 6

COMPARE_EXAMPLES = """\b
Examples:
  labrum compare thin-narrow thin-wide
  labrum compare old.toml new.toml --robust --out compared/new
  labrum compare thin-narrow thin-wide --hold mean-pressure
  labrum compare a.toml b.toml c.toml --json | python -m json.tool
"""


def compare(
    cases: Annotated[
        list[str], typer.Argument(metavar="CASE CASE...", help="Two to six case files or names of shipped cases.")
    ],
    robust: Robust = False,
    hold: Annotated[
        Hold | None,
        typer.Option(help="Press every rim until it has the first one's force, mean pressure or sink. "
                     "Default: each case's own load. A plan holds a value: load.mean_pressure_kpa = [55] in [vary]."),
    ] = None,
    out: Annotated[
        Path | None, out_folder("table and figures", "runs/compare-<UTC time>, or none with --json")
    ] = None,
    force: Force = False,
    json: AsJson = False,
    figure_for: FigureFor = "",
    font_size: FontSize = None,
    dpi: Dpi = None,
    pressure_to: PressureTo = None,
    workers: Workers = 0,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Press several rims and lay the results side by side, differences beyond the errors marked.

    With one lip and one load it is rim against rim; where they differ, that is said. Exit codes: 0 done; 1 our
    fault; 2 usage; 3 invalid case; 4 a case not converged; 130 interrupted.
    """
    if not FEWEST <= len(cases) <= MOST:
        raise typer.BadParameter(f"got {len(cases)}, allowed {FEWEST} to {MOST} cases")

    def job() -> int:
        from labrum.cases.comparing.job import CompareOrder, run_compare

        drawn = Drawn(figure_for, font_size, dpi, pressure_to)
        manner = Manner(json=json, quiet=quiet, verbose=verbose, debug=debug, force=force)
        order = CompareOrder(tuple(cases), robust, hold, out, workers, drawn, manner)
        return run_compare(order, tuple(sys.argv))

    leave(job)


def add_compare(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("compare", short_help="Lay two to six rims side by side.", epilog=COMPARE_EXAMPLES)(compare)
