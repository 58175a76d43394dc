"""The command ``labrum handover``. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import Debug, Force, Quiet, Verbose, Workers, out_folder

HANDOVER_EXAMPLES = """\b
Examples:
  labrum shortlist demo-player --out players/curlew
  labrum handover players/curlew --rim balanced
  labrum handover players/curlew --rim least-change --unit inch --nose-radius 0.0157 --tolerance 0.001
"""


def handover(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="What labrum shortlist --out wrote.")],
    rim: Annotated[str, typer.Option(help="Which rim: least-change, balanced or boldest.")] = "balanced",
    out: Annotated[
        Path | None, out_folder("everything, with an archive of it beside", "FOLDER-<rim>")
    ] = None,
    force: Force = False,
    unit: Annotated[str, typer.Option(help="mm or inch: of the drawing and the shop's files.")] = "mm",
    nose_radius: Annotated[
        float | None, typer.Option(help="Of the tool, in that unit. Default: 0.4 mm, 0.0157 inch.")
    ] = None,
    tool_point: Annotated[
        str, typer.Option(help="centre of the nose, or the imaginary tip for outside, boring or face.")
    ] = "centre",
    tolerance: Annotated[
        list[str] | None, typer.Option(help="On the drawing, as labrum cut takes it; may be repeated.")
    ] = None,
    workers: Workers = 0,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Write one folder and one zip for player and shop: a page, a drawing, DXF, points, a tool's path, case files.

    Exit codes: 0 done; 1 our fault; 2 usage; 3 invalid input; 4 not converged; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.cutting.options import CutOptions
        from labrum.cases.handing_over.job import NOSE_RADIUS, HandoverOrder, run_handover

        nose = NOSE_RADIUS.get(unit) if nose_radius is None else nose_radius
        options = CutOptions(unit, nose_radius=nose, tool_point=tool_point, tolerance=tuple(tolerance or ()))
        manner = Manner(quiet=quiet, verbose=verbose, debug=debug, force=force)
        return run_handover(HandoverOrder(folder, rim, options, out, workers, manner))

    leave(job)


def add_handover(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command(
        "handover", short_help="Write all that player and shop need of one rim of a shortlist.",
        epilog=HANDOVER_EXAMPLES,
    )(handover)  # fmt: skip
