"""The command that searches. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import Debug, Force, Quiet, Robust, StoreFile, Verbose, Workers, out_folder

SEARCH_EXAMPLES = """\b
Examples:
  labrum search softer.toml
  labrum search softer.toml --robust
  labrum search alike.toml --out found

\b
A plan, softer.toml:
  schema = 1
  case = "demo"                       # a case file or the name of a shipped case
  minimise = "peak_pressure_kpa"      # or maximise
  [vary]
  rim.width_mm = { from = 4.5, to = 6.5 }
  rim.bite_radius_mm = { from = 0.4, to = 1.2 }
  [limits]
  intrusion_height_mm = { most = 1.8 }
  felt_diameter_mm = { equals = 22.0, within = 0.1 }
  [effort]
  solves = 40

\b
Or alike.toml, the rim of another diameter that feels like a given one:
  schema = 1
  case = "demo"
  [set]
  rim.inner_diameter_mm = 17.0
  [vary]
  rim.width_mm = { from = 4.5, to = 6.5 }
  rim.high_point = { from = 0.3, to = 0.6 }
  [match]
  case = "demo"
  measures = ["felt_diameter_mm", "bearing_area_mm2", "peak_pressure_kpa"]
"""


def search_command(
    plan: Annotated[
        Path, typer.Argument(parser=Path, metavar="PLAN", help="A search in TOML; see the examples below.")
    ],
    store: StoreFile = None,
    out: Annotated[Path | None, out_folder("the rim found", "runs/<plan>-found")] = None,
    force: Force = False,
    robust: Robust = False,
    workers: Workers = 0,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Find the rim that PLAN asks for: the least or most of a measure within limits, or the feel of another rim.

    Every rim tried is solved and kept; the same command goes on where it was stopped. Exit codes: 0 done; 1 our fault;
    2 usage; 3 invalid plan; 4 no rim could be solved; 5 none keeps every limit; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.searching.job import SearchOrder, run_search
        from labrum.cases.sweeping.guard import guarded

        manner = Manner(quiet=quiet, verbose=verbose, debug=debug, force=force)
        order = SearchOrder(plan, store, out, robust, workers, manner=manner)
        return guarded(partial(run_search, order), manner)

    leave(job)


def add_searching(app: typer.Typer) -> None:
    """Add the command to ``labrum``."""
    app.command("search", short_help="Find the rim that a plan asks for.", epilog=SEARCH_EXAMPLES)(search_command)
