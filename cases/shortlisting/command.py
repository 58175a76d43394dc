"""The command ``labrum shortlist``. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.advising.command import SheetName
from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import AsJson, Debug, Force, Quiet, Verbose, Workers, out_folder

SHORTLIST_EXAMPLES = """\b
Examples:
  labrum shortlist demo-player
  labrum shortlist player.toml --out players/curlew      # kept, to be handed over
  labrum shortlist player.toml --step 0.001in --lips 16
"""


def shortlist(
    sheet: SheetName,
    out: Annotated[Path | None, out_folder("the shortlist, with a case a rim", "none")] = None,
    force: Force = False,
    step: Annotated[str, typer.Option(help="What the shop rounds lengths to: 0.05, or 0.001in.")] = "0.05",
    lips: Annotated[
        int, typer.Option(min=1, max=256, help="How many lips that this player may have are asked.")
    ] = 8,
    json: AsJson = False,
    workers: Workers = 0,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Find three rims for the player of SHEET, from the least change to the boldest, against the present rim at loud.

    Exit codes: 0 done; 1 our fault; 2 usage; 3 invalid sheet; 4 not converged; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.shortlisting.job import ShortlistOrder, run_shortlist

        manner = Manner(json=json, quiet=quiet, verbose=verbose, debug=debug, force=force)
        return run_shortlist(ShortlistOrder(sheet, out, step, lips, workers, manner))

    leave(job)


def add_shortlist(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command(
        "shortlist", short_help="Find three rims for a player, unlike in kind.",
        epilog=SHORTLIST_EXAMPLES,
    )(shortlist)  # fmt: skip
