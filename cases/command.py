"""The command ``labrum``. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from labrum.cases.advising.command import add_advising
from labrum.cases.asking.commands import add_questions
from labrum.cases.comparing.command import add_compare
from labrum.cases.exploring.command import add_exploring
from labrum.cases.gauging.command import add_gauge
from labrum.cases.handing_over.command import add_handover
from labrum.cases.main_command import solving_app
from labrum.cases.manner import Manner
from labrum.cases.options import CaseName, Debug, Force, Quiet, out_folder
from labrum.cases.reporting.animate import add_animate
from labrum.cases.reporting.command import add_report
from labrum.cases.searching.commands import add_searching
from labrum.cases.shortlisting.command import add_shortlist
from labrum.cases.streams import carried_out
from labrum.cases.sweeping.commands import add_sweeping
from labrum.cases.tolerancing.commands import add_tolerancing

app = solving_app()

CUT_EXAMPLES = """\b
Examples:
  labrum cut demo --tolerance 0.02
  labrum cut mine.toml --unit inch --dxf R2010 --nose-radius 0.0157 --tool-point boring
  labrum cut mine.toml --tolerance iso2768-m --tolerance inner_diameter=+0.02/-0.00
"""


@app.command(short_help="Write a rim's outline for the lathe, with a drawing.", epilog=CUT_EXAMPLES)
def cut(
    case: CaseName,
    out: Annotated[Path | None, out_folder("outline, points and drawing", "cuts/<case>")] = None,
    force: Force = False,
    unit: Annotated[str, typer.Option(help="mm or inch: of every file, and of lengths given here.")] = "mm",
    x: Annotated[str, typer.Option(help="X in tables as a diameter or a radius.")] = "diameter",
    part: Annotated[str, typer.Option(help="whole, or rim: without the cup's wall and floor.")] = "whole",
    dxf: Annotated[str, typer.Option(help="R12 or R2010.")] = "R12",
    dxf_axes: Annotated[str, typer.Option(help="zx as on the lathe, or rs as in a case file.")] = "zx",
    chord_tolerance: Annotated[
        float | None, typer.Option(help="Of points and of the tool's path. Default: 0.005 mm, 0.0002 inch.")
    ] = None,
    nose_radius: Annotated[float | None, typer.Option(help="Write the path of a tool with this nose.")] = None,
    tool_point: Annotated[
        str, typer.Option(help="centre of the nose, or the imaginary tip for outside, boring or face.")
    ] = "centre",
    tolerance: Annotated[
        list[str] | None,
        typer.Option(help="On the drawing: 0.02, +0.02/-0.01, iso2768-f, -m, -c, or KEY=0.02; may be repeated."),
    ] = None,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Write the outline of CASE's rim as DXF and points, the tool's path, and a dimensioned drawing.

    Exit codes: 0 done; 1 our fault; 2 usage; 3 invalid case; 130 interrupted.
    """
    from labrum.cases.cutting.job import CutOptions, CutOrder, run_cut

    options = CutOptions(
        unit, x, part, dxf, dxf_axes, chord_tolerance, nose_radius, tool_point, tuple(tolerance or ())
    )
    raise typer.Exit(run_cut(CutOrder(case, options, out, Manner(quiet=quiet, debug=debug, force=force))))


@app.command(short_help="Print a shipped case or player's sheet, or list what ships.")
def show(
    name: Annotated[
        str | None, typer.Argument(help="A shipped case or sheet; without it, everything shipped is listed.")
    ] = None,
) -> None:
    """Print a shipped case or player's sheet, to start one of your own from; or list all that ships.

    Examples: labrum show demo > mine.toml; labrum show sheet > player.toml
    """
    from labrum.cases.library import shelf as library

    if name is None:
        print(library.listing())
    elif name in library.demo_names():
        print(library.demo_text(name), end="")
    elif name in library.sheet_names():
        print(library.sheet_text(name), end="")
    else:
        known = ", ".join((*library.demo_names(), *library.sheet_names()))
        print(f"labrum: no shipped case {name!a}; there are: {known}", file=sys.stderr)
        raise typer.Exit(2)


add_compare(app)
add_gauge(app)
add_advising(app)
add_shortlist(app)
add_handover(app)
add_sweeping(app)
add_questions(app)
add_searching(app)
add_tolerancing(app)
add_report(app)
add_animate(app)
add_exploring(app)


def main() -> NoReturn:
    """Run the command line; never returns normally, the exit code says what happened."""
    carried_out(app)


if __name__ == "__main__":
    main()
