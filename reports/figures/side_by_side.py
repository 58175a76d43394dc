"""Several rims side by side at one scale, or their pressures on one pair of axes."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from labrum.reports.figures.pressure import PRESSED_RADIUS_AXIS, PRESSURE_AXIS, pressure_table
from labrum.reports.figures.section import (
    BAND_AXIS,
    PAST_BITE_LOOK,
    Window,
    draw_bite_plane,
    draw_metal,
    draw_past_bite,
    draw_pressure,
    draw_tissue,
    pressure_scale,
    wave_line,
)
from labrum.reports.house_style.figure_data import Table, labelled
from labrum.reports.house_style.paper import sheet_width
from labrum.reports.house_style.style import (
    PAPER,
    QUIET,
    SEQUENTIAL,
    SERIES,
    WIDTH_IN,
    Series,
    finish,
    house_style,
    label_axes,
    legend_below,
    sheet,
)
from labrum.reports.house_style.words import short
from labrum.simulate.outcome import Outcome

MOST_SIDE_BY_SIDE = len(SERIES)
PAGE_WIDTH_IN = 7.0
"""Width of a comparison (178 mm): both columns of a printed page."""
PROFILE_IN = 1.1
"""Height of a rim's pressure panel; the section below it is as tall as its width asks."""
OTHERS = "#b4b4bc"
"""The other rims' pressures, behind a rim's own."""


@house_style()
def compare_figure(
    outcomes: Sequence[Outcome], names: Sequence[str], title: str = "", note: str = "",
    pressure_to_kpa: float | None = None,
) -> Figure:
    """Draw up to six rims as small multiples at one scale: the pressure above, the section below.

    Axes, and the colours of pressure, are the same for all.

    Parameters
    ----------
    outcomes, names
        One to six converged presses and what to call them.
    title, note
        People's words above and below the drawing; either may be empty.
    pressure_to_kpa
        Where the axis and the colours of pressure end; by default above the largest peak, and at it.

    Raises
    ------
    ValueError
        With none or more than six rims, or a name too few or too many.
    """
    check_rims(outcomes, names)
    window = Window.of_the_press(outcomes)
    columns = len(outcomes) if len(outcomes) < 4 else 2 if len(outcomes) == 4 else 3
    rows = ceil(len(outcomes) / columns)
    wide = sheet_width(PAGE_WIDTH_IN if columns > 1 else WIDTH_IN)
    cell = (wide - 0.5) / columns - 0.08
    tall = cell * (window.top - window.bottom) / window.right
    figure = sheet(rows * (tall + PROFILE_IN + 1.4) + 1.0, title, note, wide)
    grid = figure.subplots(2 * rows, columns, squeeze=False, height_ratios=[PROFILE_IN, tall] * rows)
    for number, outcome in enumerate(outcomes):
        row, column = divmod(number, columns)
        above, below = grid[2 * row, column], grid[2 * row + 1, column]
        _pressure_panel(above, outcomes, number, window, pressure_to_kpa)
        marks = _section_panel(below, outcomes, number, window, pressure_to_kpa)
        _caption(above, outcome, names[number], cell)
        _name_outer_axes(above, below, column == 0, number + columns >= len(outcomes))
    unused = list(grid[-2:, len(outcomes) - (rows - 1) * columns :].ravel())
    for axes in unused:
        axes.remove()
    scale = pressure_scale(outcomes, pressure_to_kpa)
    used = [axes for axes in grid.ravel() if axes not in unused]
    bar = figure.colorbar(ScalarMappable(scale, SEQUENTIAL), ax=used, location="bottom", aspect=50, pad=0.02)
    bar.set_label(BAND_AXIS)
    if columns > 1:
        marks = [*marks, Line2D([], [], color=OTHERS, linewidth=0.7, label="the others' pressure")]
    legend_below(figure, marks, columns=4 if columns > 1 else 2)
    return finish(figure, title, note)


def check_rims(outcomes: Sequence[Outcome], names: Sequence[str]) -> None:
    """Refuse, with a ValueError, what does not fit in one comparison."""
    if not 1 <= len(outcomes) <= MOST_SIDE_BY_SIDE:
        raise ValueError(f"rims to compare: got {len(outcomes)}, allowed 1 to {MOST_SIDE_BY_SIDE}")
    if len(names) != len(outcomes):
        raise ValueError(f"names: got {len(names)}, allowed one for each of the {len(outcomes)} rims")


def _pressure_panel(
    axes: Axes, outcomes: Sequence[Outcome], number: int, window: Window, pressure_to_kpa: float | None
) -> None:
    """Draw one rim's profile in its own look, the others behind it in thin grey."""
    for other in outcomes:
        axes.plot(*other.pressure_profile.T, color=OTHERS, linewidth=0.7, zorder=1)
    look = SERIES[number]
    radius, pressure = outcomes[number].pressure_profile.T
    axes.fill_between(radius, pressure, color=look.colour, alpha=0.18, linewidth=0)
    axes.plot(radius, pressure, color=look.colour, zorder=3)
    top = int(np.argmax(pressure))
    axes.plot(
        radius[top],
        pressure[top],
        look.marker,
        color=look.colour,
        markeredgecolor=PAPER,
        markersize=7,
        zorder=4,
    )
    axes.set_xlim(0.0, window.right)
    axes.set_ylim(0.0, pressure_to_kpa or 1.15 * max(float(o.pressure_profile[:, 1].max()) for o in outcomes))


def _section_panel(
    axes: Axes, outcomes: Sequence[Outcome], number: int, window: Window, pressure_to_kpa: float | None
) -> list[Artist]:
    outcome = outcomes[number]
    window.apply(axes)
    axes.set_anchor("N")
    draw_tissue(axes, outcome.section)
    plane = draw_bite_plane(axes, outcome)
    draw_past_bite(axes, outcome)
    draw_pressure(axes, outcome.contact, pressure_scale(outcomes, pressure_to_kpa))
    if window.bottom > float(outcome.section.rest[:, 1].min()):
        wave_line(axes, 0.0, window.right, window.bottom)
    return [
        draw_metal(axes, outcome.rim, outcome.measures.sink_mm, window.top),
        plane,
        Patch(label="tissue past the bite", **PAST_BITE_LOOK),
    ]


def _caption(axes: Axes, outcome: Outcome, name: str, width_in: float) -> None:
    m = outcome.measures
    numbers = (
        f"past the bite {m.intrusion_height_mm:.2f} mm",
        f"felt diameter {m.felt_diameter_mm:.2f} mm",
        f"peak {m.peak_pressure_kpa:.1f} kPa at r = {m.peak_radius_mm:.2f} mm",
    )
    for line, words in enumerate(numbers):
        lift = (0.0, 4.0 + 9.5 * line)
        axes.annotate(words, (0.0, 1.0), lift, "axes fraction", "offset points", size=7.5, color=QUIET)
    axes.set_title(short(name, width_in - 0.1, 9.5, "bold"), pad=36.0)


def _name_outer_axes(above: Axes, below: Axes, leftmost: bool, lowest: bool) -> None:
    label_axes(above, "", "pressure, p (kPa)" if leftmost else "")
    label_axes(below, PRESSED_RADIUS_AXIS if lowest else "", "height, z (mm)" if leftmost else "", grid=False)
    above.tick_params(labelbottom=False, labelleft=leftmost)
    below.tick_params(labelbottom=lowest, labelleft=leftmost)


@house_style()
def overlay_figure(
    outcomes: Sequence[Outcome], names: Sequence[str], title: str = "", note: str = "",
    pressure_to_kpa: float | None = None,
) -> Figure:
    """Draw up to six rims' pressures on one pair of axes, each with its own colour, dashes and peak marker.

    Takes and refuses what :func:`compare_figure` does.
    """
    check_rims(outcomes, names)
    figure = sheet(3.0 + 0.17 * len(outcomes), title, note)
    axes = figure.add_subplot()
    handles = [_overlaid(axes, o, name, look) for o, name, look in zip(outcomes, names, SERIES, strict=False)]
    label_axes(axes, PRESSED_RADIUS_AXIS, PRESSURE_AXIS)
    axes.set_ylim(0.0, pressure_to_kpa)
    legend_below(figure, handles, columns=1)
    return finish(figure, title, note)


def _overlaid(axes: Axes, outcome: Outcome, name: str, look: Series) -> Line2D:
    radius, pressure = outcome.pressure_profile.T
    m = outcome.measures
    words = f"{short(name, 1.5, 8.0)}: peak {m.peak_pressure_kpa:.1f} kPa, felt diameter {m.felt_diameter_mm:.2f} mm"
    (line,) = axes.plot(
        radius,
        pressure,
        color=look.colour,
        linestyle=look.dashes,
        marker=look.marker,
        markevery=[int(np.argmax(pressure))],
        markeredgecolor=PAPER,
        markersize=7,
        label=words,
    )
    return line


def compare_table(outcomes: Sequence[Outcome], names: Sequence[str]) -> Table:
    """Return every rim's profile, one under another, led by its name."""
    check_rims(outcomes, names)
    return labelled("rim", [(name, pressure_table(o)) for o, name in zip(outcomes, names, strict=True)])
