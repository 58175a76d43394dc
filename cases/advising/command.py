"""The commands about a player. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import AsJson, Debug, Force, Quiet, Verbose, Workers, out_folder

SheetName = Annotated[
    str, typer.Argument(metavar="SHEET", help="A player's sheet, or a shipped one's name (labrum show lists them).")
]
OutFolder = Annotated[Path | None, out_folder("what was found", "none")]

LIP_EXAMPLES = """\b
Examples:
  labrum show sheet > player.toml                 # fill in what is known
  labrum lip player.toml
  labrum lip demo-player --json | python -m json.tool
"""

PRESENT_EXAMPLES = """\b
Examples:
  labrum present demo-player
  labrum present player.toml --out players/curlew
"""


def lip(
    sheet: SheetName,
    out: OutFolder = None,
    force: Force = False,
    json: AsJson = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Tell a player's lip, thickness and stiffness, from the presses of SHEET and from what is expected of such a lip.

    Exit codes: 0 done; 1 our fault; 2 usage; 3 invalid sheet; 4 no lip takes the presses; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.advising.job import SheetOrder, run_lip

        return run_lip(SheetOrder(sheet, out, manner=Manner(json=json, quiet=quiet, debug=debug, force=force)))

    leave(job)


def present(
    sheet: SheetName,
    out: OutFolder = None,
    force: Force = False,
    json: AsJson = False,
    workers: Workers = 0,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Tell what the present rim of SHEET does to its player at soft and at loud, why, and what a change would cost.

    Exit codes: 0 done; 1 our fault; 2 usage; 3 invalid sheet; 4 not converged; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.advising.job import SheetOrder, run_present

        manner = Manner(json=json, quiet=quiet, verbose=verbose, debug=debug, force=force)
        return run_present(SheetOrder(sheet, out, workers, manner))

    leave(job)


def add_advising(app: typer.Typer) -> None:
    """Add the commands to the command line."""
    app.command("lip", short_help="Fit a player's lip to presses of a known rim.", epilog=LIP_EXAMPLES)(lip)
    app.command(
        "present", short_help="Tell what the present rim does to its player, and why.", epilog=PRESENT_EXAMPLES
    )(present)
