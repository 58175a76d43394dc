"""The questions put to a sweep, as commands. Kept light: whatever is heavy is loaded by the job that needs it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from labrum.cases.drawing import Drawn
from labrum.cases.manner import Manner
from labrum.cases.options import Debug, Dpi, FigureFor, FontSize, Force, Quiet, StoreFile, SweptPlan, out_folder

At = Annotated[
    list[str] | None,
    typer.Option(metavar="NAME=VALUE", help="Only cases with this setting, as lip.type=thin; may be repeated."),
]
Out = Annotated[Path | None, out_folder("the figure and its numbers", "runs/<plan>-<question>")]

WIDE_EXAMPLES = """\b
Examples:
  labrum wide-enough widths.toml
  labrum wide-enough widths.toml --at lip.type=thin --narrow 3 --wide 1
  labrum wide-enough widths.toml --benefit bearing_area_mm2
"""


def wide_enough(
    plan: SweptPlan,
    store: StoreFile = None,
    at: At = None,
    benefit: Annotated[
        str, typer.Option(help="What a wider rim is wanted for: peak_pressure_kpa or bearing_area_mm2.")
    ] = "peak_pressure_kpa",
    narrow: Annotated[
        float | None,
        typer.Option(min=0.0, help="Too narrow while 0.1 mm is worth this much. Default: while the peak stands on the "
                     "rim's edges; where that is not known 2 kPa, 6 mm2."),
    ] = None,
    wide: Annotated[
        float | None, typer.Option(min=0.0, help="Too wide once 0.1 mm more is worth less. Default 0.5 kPa, 4 mm2.")
    ] = None,
    per_shortening: Annotated[
        float | None, typer.Option(min=0.0, help="What 0.01 of the muscle's shortening is worth. Default 1 kPa, 2 mm2.")
    ] = None,
    out: Out = None,
    force: Force = False,
    figure_for: FigureFor = "",
    font_size: FontSize = None,
    dpi: Dpi = None,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Tell how wide is wide enough, for each lip and contour that a sweep over rim.width_mm holds.

    The band has two ends: below the first the peak stands on the rim's edges, above the second a further 0.1 mm no
    longer pays, what it takes of the muscle's shortening counted in. The criteria are yours to set.

    Exit codes: 0 done; 1 our fault; 2 usage, or nothing to show; 3 invalid plan; 130 interrupted.
    """
    from labrum.cases.asking.answers import Request, WideEnough, answer_wide_enough
    from labrum.cases.sweeping.guard import guarded

    manner = Manner(quiet=quiet, debug=debug, force=force)
    asked = Request(plan, store, tuple(at or ()), out, Drawn(figure_for, font_size, dpi), manner)
    how = WideEnough(benefit, narrow, wide, per_shortening)
    raise typer.Exit(guarded(lambda narrator: answer_wide_enough(asked, how, narrator), manner))


MAP_EXAMPLES = """\b
Examples:
  labrum map rims.toml rim.width_mm rim.bite_radius_mm peak_pressure_kpa --at lip.type=average
  labrum map rims.toml rim.width_mm rim.high_point felt_diameter_mm --accept "peak_pressure_kpa<=80"
"""


def map_measure(
    plan: SweptPlan,
    across: Annotated[str, typer.Argument(metavar="ACROSS", help="A key the plan varies, for the lower axis.")],
    up: Annotated[str, typer.Argument(metavar="UP", help="Another, for the upright axis.")],
    measure: Annotated[str, typer.Argument(metavar="MEASURE", help="The measure to map, as peak_pressure_kpa.")],
    store: StoreFile = None,
    at: At = None,
    accept: Annotated[
        list[str] | None,
        typer.Option(metavar="LIMIT", help='Acceptable rims, as "peak_pressure_kpa<=80" or ">="; may be repeated.'),
    ] = None,
    habits: Annotated[
        str, typer.Option(help="Whose habits to frame: trumpet, horn, …, or none. Default: by the inner diameter.")
    ] = "",
    surrogate: Annotated[
        bool, typer.Option("--surrogate", help="A smooth guess between solved cases (Gaussian process; an extra).")
    ] = False,
    out: Out = None,
    force: Force = False,
    figure_for: FigureFor = "",
    font_size: FontSize = None,
    dpi: Dpi = None,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Map a measure over two of the keys that a sweep varies, with the acceptable rims and the trade's habits.

    Between solved cases the map is linear, or by --surrogate; nothing is drawn beyond them.

    Exit codes: 0 done; 1 our fault; 2 usage, or nothing to show; 3 invalid plan; 130 interrupted.
    """
    from labrum.cases.asking.answers import MapOf, Request, answer_map
    from labrum.cases.sweeping.guard import guarded

    manner = Manner(quiet=quiet, debug=debug, force=force)
    asked = Request(plan, store, tuple(at or ()), out, Drawn(figure_for, font_size, dpi), manner)
    how = MapOf(across, up, measure, tuple(accept or ()), habits, surrogate)
    raise typer.Exit(guarded(lambda narrator: answer_map(asked, how, narrator), manner))


TRADE_EXAMPLES = """\b
Examples:
  labrum trade-off rims.toml --at lip.type=average
  labrum trade-off rims.toml --aim peak_pressure_kpa:low --aim closing_travel_ratio:high
"""


def trade_off(
    plan: SweptPlan,
    store: StoreFile = None,
    at: At = None,
    aim: Annotated[
        list[str] | None,
        typer.Option(
            metavar="MEASURE:low|high",
            help="What is wanted; may be repeated. Default: low peak, low intrusion and high closing travel.",
        ),
    ] = None,
    out: Out = None,
    force: Force = False,
    figure_for: FigureFor = "",
    font_size: FontSize = None,
    dpi: Dpi = None,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Show the rims of a sweep that no other rim beats in everything, and write each as a case file.

    Exit codes: 0 done; 1 our fault; 2 usage, or nothing to show; 3 invalid plan; 130 interrupted.
    """
    from labrum.cases.asking.answers import Request, answer_trade_off
    from labrum.cases.sweeping.guard import guarded

    manner = Manner(quiet=quiet, debug=debug, force=force)
    asked = Request(plan, store, tuple(at or ()), out, Drawn(figure_for, font_size, dpi), manner)
    raise typer.Exit(guarded(lambda narrator: answer_trade_off(asked, tuple(aim or ()), narrator), manner))


STEADY_EXAMPLES = """\b
Examples:
  labrum steadiness rims.toml
  labrum steadiness rims.toml rim.bite_radius_mm --at lip.type=average
  labrum steadiness rims.toml --measure sideways_stiffness_n_per_mm
"""


def steadiness(
    plan: SweptPlan,
    across: Annotated[
        str | None, typer.Argument(metavar="[ACROSS]", help="The key for the lower axis. Default: the rim's first.")
    ] = None,
    store: StoreFile = None,
    at: At = None,
    measure: Annotated[
        str, typer.Option(help="Which stiffness: rocking_stiffness_nmm_per_deg or sideways_stiffness_n_per_mm.")
    ] = "rocking_stiffness_nmm_per_deg",
    out: Out = None,
    force: Force = False,
    figure_for: FigureFor = "",
    font_size: FontSize = None,
    dpi: Dpi = None,
    quiet: Quiet = False,
    debug: Debug = False,
) -> None:
    """Show how a rim's stiffness against tilt or shift goes with one of its dimensions.

    The plan's case must ask for it: a table [off_axis], which may be empty.

    Exit codes: 0 done; 1 our fault; 2 usage, or nothing to show; 3 invalid plan; 130 interrupted.
    """
    from labrum.cases.asking.answers import Request, Steady, answer_steadiness
    from labrum.cases.sweeping.guard import guarded

    manner = Manner(quiet=quiet, debug=debug, force=force)
    asked = Request(plan, store, tuple(at or ()), out, Drawn(figure_for, font_size, dpi), manner)
    how = Steady(across, measure)
    raise typer.Exit(guarded(lambda narrator: answer_steadiness(asked, how, narrator), manner))


def add_questions(app: typer.Typer) -> None:
    """Add the commands to ``labrum``."""
    app.command("wide-enough", short_help="Ask a sweep how wide is wide enough.", epilog=WIDE_EXAMPLES)(wide_enough)
    app.command("map", short_help="Map a measure over two keys of a sweep.", epilog=MAP_EXAMPLES)(map_measure)
    app.command("trade-off", short_help="Show a sweep's rims that no other beats.", epilog=TRADE_EXAMPLES)(trade_off)
    app.command("steadiness", short_help="Show how steady a sweep's rims are.", epilog=STEADY_EXAMPLES)(steadiness)
