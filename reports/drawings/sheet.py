"""A dimensioned drawing of a rim for the workshop, on a sheet of A4, true to scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.curves.polygons import half_plane
from labrum.meshes.machining.dimensions import Dimension, Rule, auxiliary_of, dimensions_of
from labrum.meshes.machining.lathe_view import MM_PER_INCH, Joint, Unit, joints, to_lathe
from labrum.meshes.rims.rim import Rim
from labrum.reports.drawings.marks import (
    SMALL,
    THICK,
    THIN,
    View,
    arrow,
    dimension_text,
    largest_scale,
    level_dimension,
    line,
    scale_words,
    spread_within,
    text,
    upright_dimension,
)
from labrum.reports.house_style.style import DASH_DOT, INK, METAL, PAPER, QUIET, house_style
from labrum.reports.house_style.words import fitted

PAPER_MM = (297.0, 210.0)
FRAME = (10.0, 10.0, 287.0, 200.0)
FOOT = 55.0
"""Below this height stand the table and the title block."""
BLOCK_LEFT = 166.0
MOST_ROWS = 9
SHALLOW = 45.0
"""A section less deep on paper than this has the words of its cup at its left and not within."""

INVENTED_STAMP = "INVENTED DEMO: not a measured rim"
SHOP_CAUTION = "Machining follows the shop's own rules and local codes."
CUP_NOTE = " The cup is a stand-in: straight wall, flat floor or point."
NO_VALUE = "* no tolerance given for this one"


@dataclass(frozen=True)
class SheetWords:
    """What the drawing says beside its shapes.

    ``rule`` gives the tolerances and ``tolerances`` says in words where they come from; ``invented`` marks a
    demo; ``diameter`` lists X in the table as a diameter, else as a radius.
    """

    title: str
    unit: Unit
    rule: Rule
    tolerances: str
    invented: bool
    diameter: bool


@house_style()
def drawing_figure(rim: Rim, words: SheetWords) -> Figure:
    """Draw a section with diameters and depths, the rim enlarged with its radii, a table and a title block.

    Parameters
    ----------
    rim
        Drawn as the lathe sees it: the axis lies level, Z grows to the right and is 0 at the high point.
    words
        Title, unit and tolerances.

    Returns
    -------
    Figure
        A4, landscape; printed at full size the scales are true.
    """
    figure = Figure(figsize=(PAPER_MM[0] / MM_PER_INCH, PAPER_MM[1] / MM_PER_INCH), facecolor=PAPER)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(0.0, PAPER_MM[0]), ylim=(0.0, PAPER_MM[1]))
    axes.set_axis_off()
    curve = to_lathe(rim.curve)
    dimensions = {d.key: d for d in dimensions_of(rim)}
    labels = {key: _label(d, words) for key, d in dimensions.items()}
    edge = _section(axes, rim, curve, labels)
    labels |= {d.key: f"({dimension_text(d, None, words.unit)})" for d in auxiliary_of(rim)}
    _detail(axes, rim, curve, [d for d in dimensions.values() if d.kind == "radius"], labels, edge)
    _table(axes, joints(curve), words)
    gaps = any(label.endswith("*") for label in labels.values())
    _title_block(axes, words, gaps, CUP_NOTE if rim.source == "dimensions" else "")
    return figure


def _label(dimension: Dimension, words: SheetWords) -> str:
    band = words.rule(dimension)
    return dimension_text(dimension, band, words.unit) + ("" if band else "*")


def _section(axes: Axes, rim: Rim, curve: Curve, labels: dict[str, str]) -> float:
    """Draw both halves, diameters at the right, depth and wall angle in the cup; give the right edge on paper."""
    depth = -float(curve.vertices[:, 0].min())
    tall = FRAME[3] - FOOT
    scale = largest_scale(depth + 1.0, 2.0 * rim.outer_radius, (72.0, tall - 9.0))
    view = View(scale, (FRAME[0] + 8.0 + max(scale * depth, SHALLOW), FOOT + 0.5 * tall - 2.0))
    outline = curve.sample(0.01 / scale)
    for side in (1.0, -1.0):
        half = outline * (1.0, side)
        axes.add_patch(Polygon(view.on_paper(_closed(half, -depth - 3.0 / scale)), facecolor=METAL, edgecolor="none"))
        line(axes, view.on_paper(half), THICK, INK)
    ends = np.array([(-depth - 5.0 / scale, 0.0), (3.0 / scale, 0.0)])
    line(axes, view.on_paper(ends), THIN, QUIET, DASH_DOT)
    text(axes, (FRAME[0] + 3.0, FRAME[3] - 5.0), f"Section {scale_words(scale)}", weight="bold")
    _diameters(axes, rim, view, labels)
    _inside_the_cup(axes, rim, curve, view, labels)
    return float(view.origin[0]) + 34.0


def _closed(outline: Floats, back: float) -> Floats:
    """Close an outline over its metal, out to Z = ``back``."""
    return np.vstack([outline, [(back, outline[-1, 1]), (back, outline[0, 1])]])


def _diameters(axes: Axes, rim: Rim, view: View, labels: dict[str, str]) -> None:
    outside = rim.curve.nearest([(rim.outer_radius, rim.curve.end[-1, 1])]).foot[0]
    rows = (
        ("inner_diameter", (-rim.bite[1], rim.bite[0]), " inner, at 45°"),
        ("high_point_diameter", (0.0, rim.high_point_radius), " high point"),
        ("outer_diameter", (-float(outside[1]), rim.outer_radius), " outer"),
    )
    for k, (key, (z, x), name) in enumerate(rows):
        ends = view.on_paper([(z, -x), (z, x)])
        upright_dimension(axes, ends[0], ends[1], view.origin[0] + 10.0 + 9.0 * k, labels[key] + name)


def _inside_the_cup(axes: Axes, rim: Rim, curve: Curve, view: View, labels: dict[str, str]) -> None:
    if "cup_depth" in labels and rim.cup_floor is not None:
        flat = curve.end[0, 1] if abs(curve.end[0, 0] - curve.start[0, 0]) < 1e-9 else 0.0
        low = -max(0.5 * float(flat), 4.0 / view.scale)
        ends = view.on_paper([(-rim.cup_floor, low), (-rim.bite[1], low)])
        line(axes, view.on_paper([(-rim.bite[1], -rim.bite[0]), (-rim.bite[1], rim.bite[0])]))
        arrow(axes, ends[0], ends[1], both=True)
        if ends[1, 0] - ends[0, 0] < 0.6 * SHALLOW:
            text(axes, ends[0] - (1.5, 0.0), labels["cup_depth"], ha="right", va="center")
        else:
            text(axes, (0.5 * (ends[0, 0] + ends[1, 0]), ends[0, 1] + 0.6), labels["cup_depth"], ha="center")
    if "cup_wall_angle" in labels:
        wall = int(rim.curve.piece_at(rim.cup_end + 1e-6)[0]) - 1
        foot = view.on_paper(curve.apex[[wall]])[0]
        aside = -22.0 if view.origin[0] - foot[0] < 0.5 * SHALLOW else 4.0
        start = (foot[0] + aside, view.origin[1] + 0.45 * (foot[1] - view.origin[1]))
        arrow(axes, start, foot)
        text(axes, start, f"{labels['cup_wall_angle']}\nto rim plane", va="top", ha="center")


def _detail(axes: Axes, rim: Rim, curve: Curve, radii: list[Dimension], labels: dict[str, str], left: float) -> None:
    """Draw the rim enlarged, with numbered pieces, a leader to every arc and the depth of the bite point."""
    low, high = _window(rim, curve)
    size = high - low
    tall = FRAME[3] - FOOT - 24.0
    scale = largest_scale(size[0], size[1], (62.0, tall))
    face = left + 0.5 * (FRAME[2] - left - 55.0 + scale * size[0])
    under = FOOT + 16.0 + 0.5 * (tall - scale * size[1])
    view = View(scale, (face, float(under - scale * low[1])))
    outline = curve.sample(0.01 / scale)
    metal = _closed(outline, float(outline[:, 0].min()) - 1.0)
    for axis in (0, 1):
        metal = half_plane(half_plane(metal, axis, low[axis], True), axis, high[axis], False)
    axes.add_patch(Polygon(view.on_paper(metal), facecolor=METAL, edgecolor="none"))
    frame = view.on_paper([low, high])
    window = Rectangle(tuple(frame[0]), *(frame[1] - frame[0] + 1.0), transform=axes.transData)
    line(axes, view.on_paper(outline), THICK, INK).set_clip_path(window)
    text(axes, (frame[0, 0], FRAME[3] - 5.0), f"Rim {scale_words(scale)}", weight="bold")
    _numbers(axes, curve, view, low)
    _radius_leaders(axes, curve, view, radii, labels, (FOOT + 14.0, FRAME[3] - 10.0))
    ends = view.on_paper([(-rim.bite[1], rim.bite[0]), (0.0, rim.high_point_radius)])
    under = float(frame[0, 1]) - 5.0
    level_dimension(axes, ends[0], ends[1], under, f"{labels['bite_depth']} bite point", beside=True)
    _across_the_rim(axes, rim, view, labels, float(frame[0, 0]) - 4.0)


def _across_the_rim(axes: Axes, rim: Rim, view: View, labels: dict[str, str], at: float) -> None:
    """Dimension the rim's width and where along it the high point lies, at the left of the detail."""
    bite, high, outer = (view.on_paper([(0.0, r)])[0] for r in (rim.bite[0], rim.high_point_radius, rim.outer_radius))
    rows = ((at, high, "high_point_place", " high point"), (at - 9.0, outer, "rim_width", " width"))
    for place, end, key, name in rows:
        start, top = (np.array((place - 3.0, one[1])) for one in (bite, end))
        upright_dimension(axes, start, top, place, labels[key] + name)


def _window(rim: Rim, curve: Curve) -> tuple[Floats, Floats]:
    """Corners, in lathe coordinates, of what the detail shows: every arc of the rim proper, and a little more."""
    first = int(rim.curve.piece_at(rim.cup_end + 1e-6)[0])
    seen = np.vstack([curve.start[first:], curve.end[first:-1], [(-rim.bite[1], rim.bite[0])]])
    low = np.array([seen[:, 0].min(), min(seen[:, 1].min(), rim.bite[0])])
    high = np.array([0.0, rim.outer_radius])
    return low - 0.12 * (high - low), high


def _numbers(axes: Axes, curve: Curve, view: View, low: Floats) -> None:
    """Number the pieces inside the metal, as the table does; those out of sight have none."""
    if len(curve.bulge) > MOST_ROWS:
        return
    middles = curve.apex.copy()
    over = middles < low
    middles[over] = (0.5 * (np.maximum(curve.start, low) + np.maximum(curve.end, low)))[over]
    inwards = -curve.normal_at(curve.nearest(middles).arc_length)
    for k, place in enumerate(view.on_paper(middles) + 3.0 * inwards):
        if (middles[k] > low).all():
            text(axes, place, str(k + 1), size=SMALL, color=QUIET, ha="center", va="center")


def _radius_leaders(
    axes: Axes,
    curve: Curve,
    view: View,
    radii: list[Dimension],
    labels: dict[str, str],
    room: tuple[float, float],
) -> None:
    shown = sorted(radii, key=lambda d: -curve.piece_length[d.piece])[:MOST_ROWS]
    shown.sort(key=lambda d: -curve.apex[d.piece, 1])
    places = view.on_paper(curve.apex[[d.piece for d in shown]])
    heights = spread_within(places[:, 1].tolist(), 9.0, *room)
    right = view.origin[0] + 12.0
    for dimension, place, height in zip(shown, places, heights, strict=True):
        line(axes, [(right - 0.5, height), (right - 3.0, height)], THIN, INK)
        arrow(axes, (right - 3.0, height), place)
        text(axes, (right, height), labels[dimension.key], va="center")
        text(axes, (right, height - 3.6), dimension.words, va="center", size=SMALL, color=QUIET)


def _table(axes: Axes, pieces: tuple[Joint, ...], words: SheetWords) -> None:
    """List the pieces: where each ends and, for an arc, its circle."""
    line(axes, [(FRAME[0], FOOT), (BLOCK_LEFT, FOOT)], THIN, INK)
    across = "X diameter" if words.diameter else "X radius"
    heads = ("piece", "kind", "end Z", f"end {across}", "R or angle", "centre Z", f"centre {across}")
    columns = [FRAME[0] + 12.0 + 23.0 * k for k in range(len(heads))]
    _row(axes, columns, FOOT - 5.0, heads, QUIET)
    for k, piece in enumerate(pieces[:MOST_ROWS]):
        _row(axes, columns, FOOT - 9.2 - 3.7 * k, _cells(piece, words), INK)
    if len(pieces) > MOST_ROWS:
        more = f"and {len(pieces) - MOST_ROWS} more: all of them stand in the files beside this drawing"
        text(axes, (columns[0], FRAME[1] + 0.8), more, size=SMALL)


def _row(axes: Axes, columns: list[float], height: float, cells: tuple[str, ...], colour: str) -> None:
    for column, cell in zip(columns, cells, strict=True):
        text(axes, (column, height), cell, size=SMALL, ha="right", color=colour)


def _cells(piece: Joint, words: SheetWords) -> tuple[str, ...]:
    decimals = words.unit.decimals
    across = 2.0 if words.diameter else 1.0
    z, x = (f"{v / words.unit.mm:.{decimals}f}" for v in (piece.end[0], across * piece.end[1]))
    if np.isinf(piece.radius):
        return str(piece.number), "line", z, x, f"{piece.angle_deg:.3f}°", "", ""
    radius, cz, cx = (
        f"{v / words.unit.mm:.{decimals}f}" for v in (piece.radius, piece.centre[0], across * piece.centre[1])
    )
    return str(piece.number), "arc" if piece.convex else "hollow arc", z, x, radius, cz, cx


def _title_block(axes: Axes, words: SheetWords, gaps: bool, cup: str) -> None:
    left, low, right, high = FRAME
    axes.add_patch(Rectangle((left, low), right - left, high - low, fill=False, linewidth=THICK, edgecolor=INK))
    axes.add_patch(Rectangle((BLOCK_LEFT, low), right - BLOCK_LEFT, FOOT - low, fill=False, edgecolor=INK))
    wide = (right - BLOCK_LEFT - 6.0) / MM_PER_INCH
    height = FOOT - 6.0
    for row in fitted(words.title, wide, 10.0, 2, "bold"):
        text(axes, (BLOCK_LEFT + 3.0, height), row, size=10.0, weight="bold")
        height -= 4.6
    rows = [
        f"Units: {words.unit.name}, angles in degrees. Scales as marked, sheet A4.",
        "Z along the axis, 0 at the rim's high point, + away from the work; X from the axis.",
        f"Tolerances: {words.tolerances}.",
        *([NO_VALUE] if gaps else []),
        f"{SHOP_CAUTION}{cup}",
    ]
    if words.invented:
        text(axes, (BLOCK_LEFT + 3.0, height), INVENTED_STAMP, weight="bold")
        height -= 4.2
    for row in (part for words_ in rows for part in fitted(words_, wide, SMALL, 2)):
        text(axes, (BLOCK_LEFT + 3.0, height), row, size=SMALL)
        height -= 3.4
