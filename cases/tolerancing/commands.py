"""The command about tolerances. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import (
    CaseName,
    Debug,
    Force,
    Quiet,
    SchedulerAddress,
    Verbose,
    Workers,
    out_folder,
    store_file,
)

TOLERANCE_EXAMPLES = """\b
Examples:
  labrum tolerance demo
  labrum tolerance mine.toml --tolerance 2thou --dimension bite_radius_mm=0.02mm --keep 3
  labrum tolerance mine.toml --tolerance iso2768-f --thickness 0 --stiffness 0
"""


def tolerance(
    case: CaseName,
    tolerance: Annotated[
        str, typer.Option(help="Of every dimension: 0.05mm, 2thou, or iso2768-f, -m, -c.")
    ] = "iso2768-m",
    dimension: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=TOLERANCE", help="Of one dimension, as bite_radius_mm=0.02mm; may be repeated."),
    ] = None,
    keep: Annotated[float, typer.Option(min=0.1, help="Keep the peak pressure within this many per cent.")] = 5.0,
    points: Annotated[int, typer.Option(min=8, max=4096, help="Rims to sample; rounded up to a power of two.")] = 64,
    thickness: Annotated[float, typer.Option(min=0.0, max=60.0, help="Doubt of the lip's thickness, per cent.")] = 15.0,
    stiffness: Annotated[float, typer.Option(min=0.0, max=90.0, help="Doubt of the lip's stiffness, per cent.")] = 30.0,
    store: Annotated[Path | None, store_file("<case>-tolerance.sqlite")] = None,
    out: Annotated[Path | None, out_folder("the figure and its numbers", "runs/<case>-tolerance")] = None,
    force: Force = False,
    workers: Workers = 0,
    scheduler: SchedulerAddress = "",
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Tell what a rim made within its tolerances may feel like, which dimension matters most, and how loose it may be.

    What is not known of the lip is treated the same way and kept apart. Exit codes: 0 done; 1 our fault; 2 usage; 3
    invalid case; 5 some rims have no result; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.sweeping.guard import guarded
        from labrum.cases.sweeping.job import Means
        from labrum.cases.tolerancing.job import ToleranceOrder, run_tolerance

        manner = Manner(quiet=quiet, verbose=verbose, debug=debug, force=force)
        order = ToleranceOrder(
            case, tolerance, tuple(dimension or ()), keep, 2 ** (points - 1).bit_length(), thickness, stiffness,
            store=store, out=out, means=Means(workers, scheduler, manner=manner), manner=manner,
        )  # fmt: skip
        return guarded(partial(run_tolerance, order), manner)

    leave(job)


def add_tolerancing(app: typer.Typer) -> None:
    """Add the command to ``labrum``."""
    app.command(short_help="Tell what a rim's tolerances do.", epilog=TOLERANCE_EXAMPLES)(tolerance)
