"""What ``labrum cut`` writes: the outline, the tool's path, the drawing, and a report of the checks."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass
from math import isinf

from labrum.cases.cutting.options import CutPlan
from labrum.meshes.curves.curve import Curve
from labrum.meshes.machining.dxf import dxf_bytes
from labrum.meshes.machining.lathe_view import PointTable, joints, points_on, rim_part, to_lathe
from labrum.meshes.machining.tool_path import ToolPath, gouge, moved_to, tool_path
from labrum.meshes.rims.rim import Rim

DATUM = (
    "Z runs along the axis, 0 at the rim's high point (s = 0) positive away from the work: metal has Z of 0 or less."
)
LATHE_CAUTION = "Machining follows the shop's own rules and local codes. Prove a program without a workpiece first."
CUP_CAUTION = "The cup is a stand-in: straight wall, flat floor or point."
NOSE_ONLY = "Only the round nose was checked: the tool's flanks, its holder and its direction of cut were not."


@dataclass(frozen=True)
class Nose:
    """A tool path laid and checked: ``path`` is that of the tool point, ``points`` are as written."""

    laid: ToolPath
    path: Curve
    points: PointTable
    gouge_mm: float


@dataclass(frozen=True)
class Cut:
    """All that is written of a rim: the outline in lathe coordinates, its points, perhaps a tool path.

    ``first`` is the number, from 1, of the whole outline's piece that ``outline`` begins with.
    """

    plan: CutPlan
    first: int
    outline: Curve
    as_drawn: Curve
    points: PointTable
    nose: Nose | None
    cautions: tuple[str, ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the nose cannot reach, one line each."""
        return () if self.nose is None else tuple(_left_lines(self))


def lay_out(rim: Rim, plan: CutPlan) -> Cut:
    """Lay out the cut: points, and with a nose radius the path of the tool.

    Raises
    ------
    GeometryError
        If the nose finds no way along the outline.
    ArithmeticError
        If the path written would gouge deeper than the chord tolerance: a fault of ours.
    """
    drawn = rim_part(rim, plan.part)
    outline = to_lathe(drawn)
    points = points_on(outline, plan.chord_mm, plan.unit)
    first = len(rim.curve.bulge) - len(drawn.bulge) + 1
    nose = None if plan.nose_mm is None else _nose(outline, plan, plan.nose_mm)
    cautions = (LATHE_CAUTION, *([CUP_CAUTION] if rim.source == "dimensions" and plan.part == "whole" else []))
    return Cut(plan, first, outline, drawn, points, nose, cautions)


def _nose(outline: Curve, plan: CutPlan, radius: float) -> Nose:
    laid = tool_path(outline, radius, plan.chord_mm)
    path = moved_to(plan.tool_point, laid.centre, radius)
    points = points_on(path, plan.chord_mm, plan.unit)
    shift = path.start[0] - laid.centre.start[0]
    deepest = gouge(points.places - shift, outline, radius)
    if deepest > plan.chord_mm:
        raise ArithmeticError(f"the path would gouge by {deepest:.2g} mm, allowed {plan.chord_mm:g} mm")
    return Nose(laid, path, points, deepest)


def cut_files(title: str, rim: Rim, cut: Cut, invented: bool) -> dict[str, bytes]:
    """Contents of every file, by name; the same rim and plan give the same bytes."""
    files = {
        "README.txt": f"{cut_report(title, cut)}\n\n{_contents(cut, invented)}".encode(),
        "outline.dxf": _dxf(title, cut, cut.outline, cut.as_drawn, "OUTLINE", invented),
        "outline.csv": _points_csv(cut, cut.points, cut.first),
        "pieces.csv": _pieces_csv(cut),
    }
    if cut.nose is not None:
        layer = "TOOL_NOSE_CENTRE" if cut.plan.tool_point.name == "centre" else "IMAGINARY_TOOL_TIP"
        files["toolpath.dxf"] = _dxf(title, cut, cut.nose.path, _as_drawn(cut.nose.path), layer, invented)
        files["toolpath.csv"] = _points_csv(cut, cut.nose.points, 1)
    return files | _drawings(title, rim, cut, invented)


def _as_drawn(path: Curve) -> Curve:
    """Turn a path from lathe coordinates back into (r, s)."""
    def turn(places: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
        return [(x, 0.0 - z) for z, x in places]

    rows = [(*place, bulge) for place, bulge in zip(turn(path.vertices[:, :2]), path.vertices[:, 2], strict=True)]
    return Curve.from_vertices(rows)


def _drawings(title: str, rim: Rim, cut: Cut, invented: bool) -> dict[str, bytes]:
    from labrum.reports.drawings.sheet import SheetWords, drawing_figure  # loads the plotting library
    from labrum.reports.house_style.saving import as_bytes

    plan = cut.plan
    words = SheetWords(title, plan.unit, plan.rule, plan.tolerances, invented, plan.diameter)
    figure = drawing_figure(rim, words)
    return {f"drawing.{ending}": as_bytes(figure, ending) for ending in ("svg", "pdf")}


def _dxf(title: str, cut: Cut, lathe: Curve, drawn: Curve, layer: str, invented: bool) -> bytes:
    plan = cut.plan
    axes = ("x of this drawing is Z, y is X as a radius" if plan.dxf_axes == "zx" else
            "x of this drawing is r, the distance from the axis; y is s, which grows away from the lip (s = -Z)")
    remarks = (title, *(["Invented demo, not a measured rim"] if invented else []), f"Units: {plan.unit.name}",
               f"Layer {layer}: {_path_words(cut)}" if layer != "OUTLINE" else "Layer OUTLINE: the finished rim",
               f"Axes: {axes}", DATUM, *cut.cautions)
    return dxf_bytes(lathe if plan.dxf_axes == "zx" else drawn, plan.unit, plan.dxf, layer, remarks)


def _points_csv(cut: Cut, points: PointTable, first: int) -> bytes:
    plan, decimals = cut.plan, cut.plan.unit.decimals
    across = 2.0 if plan.diameter else 1.0
    head = (f"x_{_x_as(plan)}_{plan.unit.name}", f"z_from_high_point_{plan.unit.name}", "piece")
    rows = [(f"{across * x / plan.unit.mm:.{decimals}f}", f"{z / plan.unit.mm:.{decimals}f}", int(k) + first)
            for (z, x), k in zip(points.places, points.piece, strict=True)]
    return _csv([head, *rows])


def _pieces_csv(cut: Cut) -> bytes:
    unit, across = cut.plan.unit, 2.0 if cut.plan.diameter else 1.0
    x, z = f"x_{_x_as(cut.plan)}_{unit.name}", f"z_from_high_point_{unit.name}"
    head = ("piece", "kind", f"end_{x}", f"end_{z}", f"arc_radius_{unit.name}", f"centre_{x}", f"centre_{z}")

    def number(value: float) -> str:
        return f"{value / unit.mm:.{unit.decimals + 2}f}"

    rows = [(p.number + cut.first - 1, "line" if isinf(p.radius) else "convex arc" if p.convex else "hollow arc",
             number(across * p.end[1]), number(p.end[0]),
             *(("", "", "") if isinf(p.radius) else
               (number(p.radius), number(across * p.centre[1]), number(p.centre[0]))))
            for p in joints(cut.outline)]
    start = cut.outline.start[0]
    return _csv([head, ("", "start", number(across * start[1]), number(start[0]), "", "", ""), *rows])


def _csv(rows: Iterable[Iterable[object]]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().encode()


def _x_as(plan: CutPlan) -> str:
    return "diameter" if plan.diameter else "radius"


def cut_report(title: str, cut: Cut) -> str:
    """Say what was written and how it was checked."""
    plan, unit = cut.plan, cut.plan.unit
    lines = [
        title,
        f"outline: {len(cut.outline.bulge)} pieces, {len(cut.points.places)} points, chords within "
        f"{_length(cut.points.stray_mm, cut)} of it (allowed {_length(plan.chord_mm, cut)})",
        f"numbers: {unit.name}; X as a {_x_as(plan)} in tables, as a radius in DXF ({plan.dxf})",
        DATUM,
        f"tolerances on the drawing: {plan.tolerances}",
    ]
    if cut.nose is not None and plan.nose_mm is not None:
        lines += [
            f"tool path: {_path_words(cut)}; {len(cut.nose.points.places)} points",
            f"gouge: {_length(cut.nose.gouge_mm, cut)} at most (allowed {_length(plan.chord_mm, cut)})",
            *(_left_lines(cut) or [f"metal left: nowhere more than {_length(plan.chord_mm, cut)}"]), NOSE_ONLY,
        ]
    return "\n".join([*lines, *cut.cautions])


def _path_words(cut: Cut) -> str:
    radius = cut.plan.nose_mm or 0.0
    return f"path of the {cut.plan.tool_point.words}, nose radius {_length(radius, cut)}"


def _left_lines(cut: Cut) -> list[str]:
    if cut.nose is None:
        return []
    return [
        f"metal left: {_length(left.left_mm, cut)} at {_place(left.worst, cut)}, where the nose cannot reach "
        f"(from {_place(left.start, cut)} to {_place(left.end, cut)})"
        for left in cut.nose.laid.left
    ]


def _place(place: tuple[float, float], cut: Cut) -> str:
    unit, across = cut.plan.unit, 2.0 if cut.plan.diameter else 1.0
    return f"X {across * place[1] / unit.mm:.{unit.decimals - 1}f} Z {place[0] / unit.mm:.{unit.decimals - 1}f}"


def _length(mm: float, cut: Cut) -> str:
    unit = cut.plan.unit
    return f"{mm / unit.mm:.{unit.decimals}f} {unit.name}"


def _contents(cut: Cut, invented: bool) -> str:
    lines = [
        *(["This is the invented demo, not a measured rim.", ""] if invented else []),
        "outline.dxf     the finished rim: lines and arcs",
        "outline.csv     points on it, from the cup outwards",
        "pieces.csv      where each line and arc ends, with every arc's radius and centre",
    ]
    if cut.nose is not None:
        lines += ["toolpath.dxf    the tool's path: lines and arcs", "toolpath.csv    points on it"]
    return "\n".join([*lines, "drawing.svg, drawing.pdf    the dimensioned drawing, A4", ""])
