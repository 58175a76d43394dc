"""The command that solves a plan. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import (
    Debug,
    Force,
    PlanFile,
    Quiet,
    SchedulerAddress,
    StoreFile,
    Verbose,
    Workers,
    path_option,
)

SWEEP_EXAMPLES = """\b
Examples:
  labrum sweep widths.toml --dry-run
  labrum sweep widths.toml --export widths.csv
  labrum sweep widths.toml --scheduler tcp://10.0.0.5:8786

\b
A plan, widths.toml:
  schema = 1
  case = "demo"                          # a case file or the name of a shipped case
  [vary]
  rim.width_mm = { from = 4.5, to = 6.5, step = 0.5 }
  lip.type = ["thin", "average", "fleshy"]
  [choose.contour]                       # keys that change together, by name
  round = { rim.inner_crown_radius_mm = 5.0, rim.outer_crown_radius_mm = 6.0 }
  flat = { rim.inner_crown_radius_mm = "flat", rim.outer_crown_radius_mm = "flat" }
  # ranges without step or count are sampled: [sample] points = 64, seed = 1
"""


def sweep(
    plan: PlanFile,
    store: StoreFile = None,
    workers: Workers = 0,
    scheduler: SchedulerAddress = "",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Count the cases, estimate the time, stop.")] = False,
    again: Annotated[bool, typer.Option("--again", help="Also solve again what did not converge before.")] = False,
    export: Annotated[
        list[Path] | None, path_option(help="Write every case to this .csv or .parquet, new unless --force; may be "
                                                "repeated.")
    ] = None,
    force: Force = False,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Solve every case of PLAN that is not kept yet, and keep each as soon as it is finished.

    Ctrl-C or worse at any time: the same command goes on with what is missing. Exit codes: 0 done; 1 our fault;
    2 usage; 3 invalid plan; 5 some cases have no result; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.sweeping.guard import guarded
        from labrum.cases.sweeping.job import Means, SweepOrder, run_sweep

        manner = Manner(quiet=quiet, verbose=verbose, debug=debug, force=force)
        means = Means(workers, scheduler, manner=manner)
        order = SweepOrder(plan, store, means, dry_run, again, tuple(export or ()), manner)
        return guarded(partial(run_sweep, order), manner)

    leave(job)


def add_sweeping(app: typer.Typer) -> None:
    """Add the command to ``labrum``."""
    app.command(short_help="Solve every case of a plan and keep each.", epilog=SWEEP_EXAMPLES)(sweep)
