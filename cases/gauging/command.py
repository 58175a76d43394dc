"""The command that gauges measured rims. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.exits import leave
from labrum.cases.manner import Manner
from labrum.cases.options import AsJson, Debug, Force, Quiet, Verbose, out_folder

GAUGE_EXAMPLES = """\b
Examples:
  labrum gauge demo-trace                         # an invented rim that ships with the package
  labrum gauge mine.csv --out gauged/mine
  labrum gauge old.dxf new.dxf --unit inch --felt --lip average --force-n 20
  labrum gauge mine.csv new-design.toml --out before-and-after   # cases too: laid over each other
  labrum gauge mine.csv --said 16.5                 # what a chart's number could have been read from
  labrum gauge mine.csv --json | python -m json.tool

\b
A file of points: two columns under a header that says what they are and their unit,
  r_mm,s_mm    r counts from the axis: one half, from the cup to the outside
  x_in,z_in    x across the whole diameter: the axis is found from the symmetry
in any order, height growing either way. Or a DXF of lines, arcs, polylines, splines or points, r along x.
"""


def gauge(
    files: Annotated[
        list[str], typer.Argument(metavar="FILE...", help="Measured profiles, CSV or DXF, or cases; or demo-trace.")
    ],
    unit: Annotated[str | None, typer.Option(help="mm or inch, where the file does not say.")] = None,
    layer: Annotated[str | None, typer.Option(help="The one layer of a DXF to read.")] = None,
    depth: Annotated[float, typer.Option(help="mm below the high point, for the diameter at a set depth.")] = 1.0,
    readers: Annotated[int, typer.Option(min=10, max=100_000, help="People to simulate with callipers.")] = 1000,
    aim_angle: Annotated[float, typer.Option(min=0.0, max=40.0, help="Their error of angle, degrees.")] = 10.0,
    aim_depth: Annotated[float, typer.Option(min=0.0, max=1.0, help="Their error of depth, mm.")] = 0.03,
    said: Annotated[
        str | None, typer.Option(metavar="DIAMETER", help="A chart's diameter, mm or as 0.650in: how was it read?")
    ] = None,
    felt: Annotated[bool, typer.Option("--felt", help="Also press each rim into one lip: felt diameters.")] = False,
    lip: Annotated[str, typer.Option(help="The library's lip for --felt and --out (see labrum show).")] = "average",
    force_n: Annotated[float, typer.Option(help="For --felt and --out.")] = 20.0,
    out: Annotated[Path | None, out_folder("tables, outlines, cases and figures", "none")] = None,
    force: Force = False,
    json: AsJson = False,
    verbose: Verbose = False,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Read measured rims: the inner diameter by five conventions, every dimension, and how sure each is.

    Each is also said in the dimensions of [rim], by least squares: --out writes that case, ready to be solved and
    varied. Several files are laid side by side. Exit codes: 0 done; 1 our fault; 2 usage; 3 invalid file; 4 a rim did
    not converge under --felt; 130 interrupted.
    """

    def job() -> int:
        from labrum.cases.gauging.job import GaugeOrder, run_gauge
        from labrum.meshes.gauges.reader_scatter import Aim

        aim = Aim(aim_angle, aim_depth, readers)
        manner = Manner(json, quiet, verbose, debug, force)
        order = GaugeOrder(tuple(files), unit, layer, depth, aim, felt, lip, force_n, out, said, manner)
        return run_gauge(order)

    leave(job)


def add_gauge(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("gauge", short_help="Read a measured rim: diameters, dimensions, uncertainty.",
                epilog=GAUGE_EXAMPLES)(gauge)
