"""Drawings that are broken, or made to be too much: each refused at once, with the entity's place."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_text
from labrum.meshes.traces.files import read_file
from labrum.meshes.traces.raw_trace import TraceError
from tests import gauge_rims

Draw = Callable[[Any], object]


def written(folder: Path, draw: Draw, replace: tuple[str, str] | None = None) -> Path:
    """A drawing in mm; ``replace`` mends its text afterwards, for what the library would not write."""
    document = ezdxf.new("R2010")
    document.units = 4
    draw(document)
    path = folder / "a.dxf"
    document.saveas(path)
    if replace is not None:
        text = path.read_text()
        assert replace[0] in text
        path.write_text(text.replace(*replace))
    return path


def refusal(path: Path) -> str:
    with pytest.raises(TraceError) as caught:
        read_file(path)
    return str(caught.value)


def spline_without(part: str) -> Draw:
    def draw(document: Any) -> None:
        spline = document.modelspace().add_spline(degree=3)
        if part != "all":
            spline.control_points = [(8 + i, i * i, 0) for i in range(5)]
            spline.knots = [] if part == "knots" else [0, 0, 0, 0, 0.5, 0.2, 1, 1, 1]
        if part == "weights":
            spline.knots, spline.weights = [0, 0, 0, 0, 0.5, 1, 1, 1, 1], [1, 1, -1, 1, 1]

    return draw


def polyline(*rows: tuple[float, float, float]) -> Draw:
    return lambda document: document.modelspace().add_lwpolyline(rows, format="xyb")


def block_within_itself(document: Any) -> None:
    for name, other in (("A", "B"), ("B", "A")):
        document.blocks.new(name).add_blockref(other, (0, 0))
    document.modelspace().add_blockref("A", (0, 0))


def bomb(document: Any) -> None:
    """Ten blocks, each holding ten of the one before: ten thousand million lines."""
    document.blocks.new("B0").add_line((8, 0), (9, 0))
    for k in range(1, 11):
        block = document.blocks.new(f"B{k}")
        for i in range(10):
            block.add_blockref(f"B{k - 1}", (i, 0))
    document.modelspace().add_blockref("B10", (0, 0))


def lattice(document: Any) -> None:
    document.blocks.new("A").add_line((8, 0), (9, 0))
    document.modelspace().add_blockref("A", (0, 0), dxfattribs={"row_count": 30000, "column_count": 30000})


def tower(document: Any) -> None:
    document.blocks.new("B0").add_line((8, 0), (9, 0))
    for k in range(1, 40):
        document.blocks.new(f"B{k}").add_blockref(f"B{k - 1}", (0, 0))
    document.modelspace().add_blockref("B39", (0, 0))


def crowd(document: Any) -> None:
    for i in range(3000):
        document.modelspace().add_line((8, 0), (9 + 1e-4 * i, 1))


def hedge(document: Any) -> None:
    for i in range(4000):
        document.modelspace().add_line((8 + 0.02 * (i % 2), 0.001 * i), (8.02 - 0.02 * (i % 2), 0.001 * (i + 1)))
    document.modelspace().add_lwpolyline([(8 + (i % 2) * 90, 0.1 * i) for i in range(100)])


@pytest.mark.parametrize(("draw", "told"), [
    (lambda d: d.modelspace().add_line((8, 0), (1e6, 0)), ("LINE (handle", "reaches 1e+06 mm", "at most 10000 mm")),
    (lambda d: d.modelspace().add_line((8, float("nan")), (9, 0)), ("LINE (handle", "not finite")),
    (lambda d: d.modelspace().add_line((8, 1e300), (9, 0)), ("LINE (handle", "out of all bounds")),
    (lambda d: d.modelspace().add_circle((9, 0), 0.0, dxfattribs={"layer": "RIM"}),
     ("CIRCLE", "layer RIM", "radius of 0")),
    (lambda d: d.modelspace().add_arc((9, 0), -1.0, 0, 90), ("ARC (handle", "radius of -1")),
    (lambda d: d.modelspace().add_arc((9, 0), float("inf"), 0, 90), ("ARC (handle", "radius of inf")),
    (lambda d: d.modelspace().add_arc((9, 0), 1.0, float("nan"), 90), ("ARC (handle", "not finite")),
    (lambda d: d.modelspace().add_circle((9, 0), 1e8), ("CIRCLE", "reaches 1e+08 mm")),
    (lambda d: d.modelspace().add_point((float("nan"), 0)), ("POINT (handle", "not finite")),
    (lambda d: d.modelspace().add_point((2e4, 0)), ("a POINT at 2e+04 mm",)),
    (polyline((8, 0, 0)), ("LWPOLYLINE (handle", "1 vertices")),
    (polyline((8, 0, 1e9), (9, 0, 0)), ("LWPOLYLINE (handle", "reaches")),
    (polyline((8, 0, float("nan")), (9, 0, 0)), ("LWPOLYLINE (handle", "not finite")),
    (polyline(*((8 + i, 0, 0) for i in range(20_001))), ("LWPOLYLINE (handle", "at most 20000")),
    (spline_without("all"), ("SPLINE (handle", "0 control and 0 fit points")),
    (spline_without("knots"), ("SPLINE (handle", "0 knots", "9 that do not fall")),
    (spline_without("order"), ("SPLINE (handle", "9 that do not fall")),
    (spline_without("weights"), ("SPLINE (handle", "5 weights above 0")),
    (block_within_itself, ("INSERT (handle", "a block that holds itself")),
    (tower, ("INSERT (handle", "at most 12 deep")),
    (bomb, ("INSERT (handle", "at most 20000 in a drawing")),
    (lattice, ("INSERT (handle", "900000000 entities")),
    (crowd, ("3000 curves whose ends crowd",)),
    (hedge, ("mm long in all", "at most 1000 mm")),
])
def test_what_cannot_be_followed_is_refused_with_its_place(draw: Draw, told: tuple[str, ...], tmp_path: Path) -> None:
    words = refusal(written(tmp_path, draw))
    for part in told:
        assert part in words


def test_a_line_within_reach_but_no_rim_is_refused_too(tmp_path: Path) -> None:
    assert "at most 1000 mm" in refusal(written(tmp_path, lambda d: d.modelspace().add_line((8, 0), (9000, 0))))


def test_an_empty_polyline_is_named(tmp_path: Path) -> None:
    path = written(tmp_path, polyline((8, 0, 0), (9, 1, 0)))
    head, mark, tail = path.read_text().partition("AcDbPolyline\n")
    body, end, rest = tail.partition("  0\n")
    path.write_text(head + mark + " 90\n0\n 70\n0\n" + end + rest)
    assert body
    assert "LWPOLYLINE (handle" in (words := refusal(path))
    assert "0 vertices" in words


def test_a_case_and_its_page_hear_of_the_entity(tmp_path: Path) -> None:
    written(tmp_path, lambda d: d.modelspace().add_circle((9, 0), 0.0))
    text = '[rim]\ntrace = "a.dxf"\n[lip]\ntype = "average"\n[load]\nforce_n = 20.0\n'
    with pytest.raises(InvalidCase) as caught:
        case_from_text(f"schema = 1\n{text}", "case.toml", tmp_path)
    assert [(f.line, f.fault.key) for f in caught.value.faults] == [(3, "rim.trace")]
    assert "CIRCLE (handle" in caught.value.faults[0].fault.got


def test_a_file_cut_short_is_refused_and_not_read_in_part(tmp_path: Path) -> None:
    curve = gauge_rims.plain_rim().curve
    path = written(tmp_path, lambda d: d.modelspace().add_lwpolyline(curve.vertices.tolist(), format="xyb"))
    whole = path.read_bytes()
    for share in (0.1, 0.5, 0.9, 0.999):
        path.write_bytes(whole[: int(share * len(whole))])
        assert "a DXF file cut short" in refusal(path)


def test_a_broken_binary_drawing_is_refused(tmp_path: Path) -> None:
    document = ezdxf.new("R2010")
    document.units = 4
    curve = gauge_rims.plain_rim().curve
    document.modelspace().add_lwpolyline(curve.vertices.tolist(), format="xyb")
    path = tmp_path / "a.dxf"
    document.saveas(path, fmt="bin")
    assert np.abs(curve.nearest(read_file(path).points).distance).max() < 1e-6
    whole = path.read_bytes()
    for end in (22, 23, 100, len(whole) // 2, len(whole) - 30):
        path.write_bytes(whole[:end])
        assert "DXF" in refusal(path)


def test_a_large_file_is_refused_before_it_is_opened(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    path.write_bytes(b"  0\nSECTION\n" + b"999\nx\n" * 2_500_000)
    assert "at most 12000000 bytes" in refusal(path)


def test_what_a_drawing_says_cannot_steer_a_terminal(tmp_path: Path) -> None:
    path = written(tmp_path, lambda d: d.modelspace().add_circle((9, 0), 0.0, dxfattribs={"layer": "RIMX"}),
                   ("RIMX", "\x1b[31m\x07"))
    assert refusal(path).isprintable()


def test_mirrored_and_tilted_curves_lie_where_they_are_seen(tmp_path: Path) -> None:
    """An arc and a polyline drawn from the back: the arbitrary axis algorithm of the DXF reference turns x over."""
    back = {"extrusion": (0, 0, -1)}

    def draw(document: Any) -> None:
        space = document.modelspace()
        space.add_arc((-9, 0), 1.0, 0, 180, dxfattribs=back)  # in the world: centre (9, 0), upper half
        space.add_lwpolyline([(-10, 0, 0), (-20, 5, 0)], format="xyb", dxfattribs=back)
        space.add_lwpolyline([(20, 5, 0.5), (30, 5, 0)], format="xyb", dxfattribs={"extrusion": (0, 0, 1)})

    points = read_file(written(tmp_path, draw)).points
    arc = points[points[:, 0] < 10.0 - 1e-9]
    assert np.abs(np.hypot(arc[:, 0] - 9.0, arc[:, 1]) - 1.0).max() < 1e-9
    assert arc[:, 1].min() > -1e-9
    assert np.allclose(points[points[:, 0] > 25.0][:, 1].min(), 5.0 - 2.5, atol=1e-3)


def test_points_follow_a_tolerance(tmp_path: Path) -> None:
    """Chords on arcs stray by at most the tolerance or stand at the closest spacing; lines take few points."""
    curve = gauge_rims.plain_rim().curve
    path = written(tmp_path, lambda d: d.modelspace().add_lwpolyline(curve.vertices.tolist(), format="xyb"))
    points = read_file(path).points
    middle = 0.5 * (points[1:] + points[:-1])
    step = np.hypot(*np.diff(points, axis=0).T)
    stray = np.abs(curve.nearest(middle).distance)
    assert (stray[step > 0.0201] < 1.001e-5).all()
    assert step.max() < 0.0501
