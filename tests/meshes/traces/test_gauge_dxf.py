"""Drawings made by ezdxf in every version it writes, read back to the rim that was drawn."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import numpy as np
import pytest

from labrum.meshes.curves.curve import Curve
from labrum.meshes.gauges.readings import diameters, dimensions
from labrum.meshes.traces.files import read_file
from labrum.meshes.traces.raw_trace import TraceError
from labrum.meshes.traces.trace import measured_rim
from tests import gauge_rims

VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
MM, INCH, UNSET = 4, 1, 0


def lines_and_arcs(space, c: Curve, version: str) -> None:
    for i in range(len(c.bulge)):
        if not c.is_arc[i]:
            space.add_line(c.start[i], c.end[i])
            continue
        first, last = (np.degrees(np.arctan2(*(p - c.centre[i])[::-1])) for p in (c.start[i], c.end[i]))
        space.add_arc(c.centre[i], c.radius[i], first, last)  # every arc of the rim is convex: anticlockwise


def polyline(space, c: Curve, version: str) -> None:
    rows = c.vertices.tolist()
    if version == "R12":
        space.add_polyline2d(rows, format="xyb")
    else:
        space.add_lwpolyline(rows, format="xyb")


def splines(space, c: Curve, version: str) -> None:
    for first, last in zip(c.offset[:-1], c.offset[1:], strict=True):
        space.add_spline_control_frame([(*p, 0.0) for p in c.at(np.linspace(first, last, 12))])


def ellipses(space, c: Curve, version: str) -> None:
    for i in range(len(c.bulge)):
        if not c.is_arc[i]:
            space.add_line(c.start[i], c.end[i])
            continue
        first, last = (np.arctan2(*(p - c.centre[i])[::-1]) for p in (c.start[i], c.end[i]))
        space.add_ellipse(c.centre[i], (c.radius[i], 0.0), 1.0, first, last)


def points(space, c: Curve, version: str) -> None:
    for p in c.at(np.arange(0.0, c.length, c.length / 600)):
        space.add_point(p)


def written(folder: Path, draw, curve: Curve, version: str = "R2010", unit: int = MM, **attributes) -> Path:
    document = ezdxf.new(version)
    if version != "R12":
        document.units = unit
    scale = 1 / 25.4 if unit == INCH else 1.0
    draw(document.modelspace(), Curve(curve.start * scale, curve.end * scale, curve.bulge), version)
    document.saveas(folder / "a.dxf")
    return folder / "a.dxf"


def off(path: Path, rim, unit: str | None = None) -> float:
    """Largest difference of any reading, mm."""
    measured = measured_rim(path, unit).rim
    read, true = ({**diameters(r), **dimensions(r)} for r in (measured, rim))
    return max(abs(read[name] - true[name]) for name in true)


@pytest.mark.parametrize("version", VERSIONS)
def test_arcs_and_lines_of_every_version_come_back_exactly(version: str, tmp_path: Path) -> None:
    rim = gauge_rims.plain_rim()
    unit = "mm" if version == "R12" else None
    assert off(written(tmp_path, lines_and_arcs, rim.curve, version), rim, unit) < 1e-5


@pytest.mark.parametrize(("draw", "version", "unit", "within"), [
    (polyline, "R12", MM, 1e-5),
    (polyline, "R2000", INCH, 1e-5),
    (ellipses, "R2013", MM, 1e-3),
    (splines, "R2007", INCH, 1e-3),
    (points, "R2018", MM, 1e-4),
])
def test_other_entities_too(draw, version: str, unit: int, within: float, tmp_path: Path) -> None:
    rim = gauge_rims.plain_rim()
    assert off(written(tmp_path, draw, rim.curve, version, unit), rim, "mm" if version == "R12" else None) < within


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("draw", [lines_and_arcs, polyline, splines, ellipses, points])
def test_every_entity_of_every_version_lies_on_the_drawn_line(draw, version: str, tmp_path: Path) -> None:
    if version == "R12" and draw in (splines, ellipses):
        pytest.skip("R12 knows neither")
    curve = gauge_rims.plain_rim().curve
    raw = read_file(written(tmp_path, draw, curve, version), "mm" if version == "R12" else None)
    assert np.abs(curve.nearest(raw.points).distance).max() < 1e-3
    assert len(raw.points) > 500


@pytest.mark.parametrize("version", VERSIONS)
def test_a_missing_unit_is_asked_for(version: str, tmp_path: Path) -> None:
    path = written(tmp_path, polyline, gauge_rims.plain_rim().curve, version, UNSET)
    with pytest.raises(TraceError) as caught:
        read_file(path)
    assert caught.value.faults[0].got == "no unit in the file"
    assert "--unit mm" in caught.value.faults[0].hint
    assert read_file(path, "mm").unit == "mm"


def test_what_is_no_profile_is_left_out_and_said(tmp_path: Path) -> None:
    def draw(space, c: Curve, version: str) -> None:
        lines_and_arcs(space, c, version)
        space.add_text("a note")
        space.add_line((0.0, -5.0), (0.0, 30.0))  # on the axis
        space.add_line((6.0, -2.0), (14.0, -2.0), dxfattribs={"linetype": "CENTER"})
        space.add_circle((20.0, 1.0), 0.2)

    raw = read_file(written(tmp_path, draw, gauge_rims.plain_rim().curve))
    assert np.abs(gauge_rims.plain_rim().curve.nearest(raw.points).distance).max() < 1e-6
    told = "; ".join(raw.notes)
    for part in ("1 TEXT", "1 LINE with line type CENTER", "1 lines on the axis", "1 short curves"):
        assert part in told


def test_one_layer_can_be_chosen(tmp_path: Path) -> None:
    def draw(space, c: Curve, version: str) -> None:
        space.add_lwpolyline(c.vertices.tolist(), format="xyb", dxfattribs={"layer": "RIM"})
        space.add_lwpolyline(c.translated(0.0, 30.0).vertices.tolist(), format="xyb", dxfattribs={"layer": "OLD"})

    path = written(tmp_path, draw, gauge_rims.plain_rim().curve)
    assert read_file(path, layer="RIM").points[:, 1].max() < 20.0
    with pytest.raises(TraceError, match="layer 'NONE', allowed one of OLD, RIM"):
        read_file(path, layer="NONE")


def test_a_drawing_for_the_lathe_has_its_axis_along_x(tmp_path: Path) -> None:
    rim = gauge_rims.plain_rim()

    def draw(space, c: Curve, version: str) -> None:
        space.add_lwpolyline((c.vertices[:, [1, 0, 2]] * (-1.0, 1.0, 1.0)).tolist(), format="xyb")

    path = written(tmp_path, draw, rim.curve)
    measured = measured_rim(path)
    assert "the axis runs along the first coordinate, as on a lathe: exchanged" in measured.notes
    assert off(path, rim) < 1e-5


@pytest.mark.parametrize("content", [b"", b"r,s\n1,2\n", b"\x00\x01"])
def test_what_is_no_dxf_is_refused(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "a.dxf").write_bytes(content)
    with pytest.raises(TraceError, match="DXF"):
        read_file(tmp_path / "a.dxf")


def test_a_drawing_without_curves_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path, lambda space, c, v: space.add_text("nothing"), gauge_rims.plain_rim().curve)
    with pytest.raises(TraceError, match="no profile among 1 entities"):
        read_file(path)
