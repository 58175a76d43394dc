"""Arguments and options that mean the same in every command that has them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer


def path_option(*names: str, help: str) -> Any:
    """An option that takes a path as it is typed: whether one can be at all is for the job to say, in its own words."""
    return typer.Option(*names, parser=Path, metavar="PATH", help=help)


def out_folder(what: str, default: str) -> Any:
    """The option of a folder to make: ``what`` it holds, and where it stands by ``default``."""
    return path_option(help=f"Folder for {what}; must be new or empty, unless --force. Default: {default}.")


def out_file(what: str, default: str) -> Any:
    """The option of a file to write: ``what`` it is, and where it stands by ``default``."""
    return path_option(help=f"{what} to write; must be new, unless --force. Default: {default}.")


def store_file(default: str) -> Any:
    """The option of the file that keeps solved cases, and where it stands by ``default``."""
    return path_option("--store", help=f"The SQLite file that keeps finished cases. Default: {default}.")


CaseName = Annotated[
    str,
    typer.Argument(metavar="CASE", help="A case file, or the name of a shipped case (labrum show lists them)."),
]
SweptPlan = Annotated[
    Path, typer.Argument(parser=Path, metavar="PLAN", help="A plan that labrum sweep has solved; its help has one.")
]
PlanFile = Annotated[Path, typer.Argument(parser=Path, metavar="PLAN", help="A plan in TOML; see the example below.")]
StoreFile = Annotated[Path | None, store_file("beside the plan, .sqlite")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of tables.")]
Workers = Annotated[
    int, typer.Option(min=0, max=1024, help="Worker processes, one thread each. Default 0: one a processor.")
]
SchedulerAddress = Annotated[
    str, typer.Option(metavar="ADDRESS", help="Solve on the dask.distributed cluster at this address (an extra).")
]
Forget = Annotated[bool, typer.Option("--forget", help="Neither read nor keep solved cases.")]
Robust = Annotated[
    bool, typer.Option("--robust", help="Also tell what holds in each of nine lips: stiffness and friction varied.")
]
Force = Annotated[bool, typer.Option("--force", help="Write over what a command of labrum wrote there before.")]
Verbose = Annotated[bool, typer.Option("--verbose", "-v", help="Every iteration on stderr, as log.txt has them.")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="No narration and no progress on stderr.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show where a fault of our own arose.")]
FigureFor = Annotated[
    str, typer.Option("--figure-for", metavar="PRINT", help="Size of figures: one-column, two-columns or slide.")
]
FontSize = Annotated[
    float | None, typer.Option(min=4.0, max=48.0, help="Letters on a figure's axes, points. Default: as fits its size.")
]
Dpi = Annotated[float | None, typer.Option(min=50.0, max=1200.0, help="Dots an inch of a figure's PNG. Default: 200.")]
PressureTo = Annotated[
    float | None,
    typer.Option(metavar="KPA", min=1e-3, help="Where every axis and colour scale of contact pressure ends. "
                 "Default: at what is drawn."),
]
