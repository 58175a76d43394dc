"""DXF read back: by ezdxf and by a reader of group codes written here; arcs compared as arcs, to 1 um and less."""

from __future__ import annotations

import io
from itertools import pairwise
from math import cos, hypot, radians, sin
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from ezdxf.document import Drawing

from labrum.meshes.curves.curve import Curve
from labrum.meshes.machining.dxf import VERSIONS, dxf_bytes
from labrum.meshes.machining.lathe_view import UNITS, to_lathe
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions

NM = 1e-6
DEMO = RimDimensions(16.5, 5.2, 0.45, 0.6, 6.0, 8.0, 1.8, 60.0, 10.0)
SHARP = RimDimensions(16.5, 5.2, 0.45, 0.1, 60.0, float("inf"), 0.4, 85.0, 5.0)
OUTLINES = {
    "demo": to_lathe(rim_from_dimensions(DEMO).curve),
    "sharp": to_lathe(rim_from_dimensions(SHARP).curve),
    "hollow": Curve.from_vertices([(-5.0, 8.0, 0.0), (-1.0, 8.2, 0.4), (-0.3, 9.0, -0.1), (-0.2, 10.0, 1.6),
                                   (-1.5, 13.0, -0.9), (-6.0, 13.0, 0.0)]),
}


def read(data: bytes, folder: Path) -> Drawing:
    path = folder / "read.dxf"
    path.write_bytes(data)
    return ezdxf.readfile(path)


def pairs(data: bytes) -> list[tuple[int, str]]:
    """Group codes and values, two lines each: the whole of ASCII DXF (DXF reference, from memory)."""
    lines = data.decode("utf-8").splitlines()
    assert len(lines) % 2 == 0
    return [(int(code), value) for code, value in zip(lines[::2], lines[1::2], strict=True)]


def entities(data: bytes) -> list[tuple[str, dict[int, str]]]:
    """Kind and group codes of everything in the ENTITIES section."""
    found: list[tuple[str, dict[int, str]]] = []
    inside = False
    for code, value in pairs(data):
        if (code, value) == (2, "ENTITIES"):
            inside = True
        elif inside and (code, value) == (0, "ENDSEC"):
            return found
        elif inside and code == 0:
            found.append((value, {}))
        elif inside:
            found[-1][1][code] = value.strip()
    raise AssertionError("no end of ENTITIES")


def ends_of(kind: str, codes: dict[int, str]) -> tuple[tuple[float, float], tuple[float, float]]:
    number = {code: float(v) for code, v in codes.items() if code in (10, 20, 11, 21, 40, 50, 51)}
    if kind == "LINE":
        return (number[10], number[20]), (number[11], number[21])
    first, last = (
        (number[10] + number[40] * cos(radians(a)), number[20] + number[40] * sin(radians(a)))
        for a in (number[50], number[51])
    )
    return first, last


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("unit", ["mm", "inch"])
@pytest.mark.parametrize("name", OUTLINES)
def test_arcs_come_back_as_the_same_arcs(name: str, unit: str, version: str, tmp_path: Path) -> None:
    curve, scale = OUTLINES[name], UNITS[unit].mm
    doc = read(dxf_bytes(curve, UNITS[unit], version, "OUTLINE"), tmp_path)
    got = list(doc.modelspace())
    assert [e.dxftype() for e in got] == ["ARC" if arc else "LINE" for arc in curve.is_arc]
    for k, entity in enumerate(got):
        assert entity.dxf.layer == "OUTLINE"
        if entity.dxftype() == "LINE":
            assert np.abs(np.array(entity.dxf.start)[:2] * scale - curve.start[k]).max() < NM
            assert np.abs(np.array(entity.dxf.end)[:2] * scale - curve.end[k]).max() < NM
            continue
        assert np.abs(np.array(entity.dxf.center)[:2] * scale - curve.centre[k]).max() < NM
        assert abs(entity.dxf.radius * scale - curve.radius[k]) < NM
        swept = (entity.dxf.end_angle - entity.dxf.start_angle) % 360.0
        assert abs(radians(swept) - abs(curve.sweep[k])) < 1e-9
        towards = curve.start[k] if curve.sweep[k] > 0 else curve.end[k]
        assert hypot(*(np.array(entity.start_point)[:2] * scale - towards)) < NM


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", OUTLINES)
def test_the_raw_file_chains_from_cup_to_outside(name: str, version: str) -> None:
    curve = OUTLINES[name]
    got = [ends_of(*entity) for entity in entities(dxf_bytes(curve, UNITS["mm"], version, "OUTLINE"))]
    chain = [e if hypot(e[0][0] - s[0], e[0][1] - s[1]) < 1e-3 else e[::-1]
             for e, s in zip(got, curve.start, strict=True)]
    assert all(hypot(a[1][0] - b[0][0], a[1][1] - b[0][1]) < 2 * NM for a, b in pairwise(chain))
    assert np.abs(np.array([c[0] for c in chain]) - curve.start).max() < NM
    assert np.abs(np.array(chain[-1][1]) - curve.end[-1]).max() < NM


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize(("unit", "code"), [("mm", 4), ("inch", 1)])
def test_units_stand_in_the_header(unit: str, code: int, version: str, tmp_path: Path) -> None:
    """$INSUNITS: 1 inches, 4 millimetres (DXF reference, from memory)."""
    data = dxf_bytes(OUTLINES["demo"], UNITS[unit], version, "OUTLINE", ["Units: " + unit])
    assert read(data, tmp_path).header["$INSUNITS"] == code
    assert pairs(data)[0] == (999, "Units: " + unit)


@pytest.mark.parametrize(("version", "named"), [("R12", "AC1009"), ("R2010", "AC1024")])
def test_the_file_says_its_version_and_passes_an_audit(version: str, named: str, tmp_path: Path) -> None:
    doc = read(dxf_bytes(OUTLINES["demo"], UNITS["mm"], version, "OUTLINE"), tmp_path)
    assert doc.dxfversion == named
    assert not doc.audit().errors


@pytest.mark.parametrize("version", VERSIONS)
def test_a_second_writing_gives_the_same_bytes(version: str) -> None:
    once = dxf_bytes(OUTLINES["demo"], UNITS["mm"], version, "OUTLINE", ["a title"])
    assert dxf_bytes(OUTLINES["demo"], UNITS["mm"], version, "OUTLINE", ["a title"]) == once
    dates = [after[1] for before, after in pairwise(pairs(once)) if before[1] in ("$TDCREATE", "$TDUPDATE")]
    assert dates == ["2451544.5", "2451544.5"]
    assert b" @ 2" not in once


@pytest.mark.parametrize("version", VERSIONS)
def test_a_foreign_title_neither_breaks_lines_nor_letters(version: str, tmp_path: Path) -> None:
    data = dxf_bytes(OUTLINES["demo"], UNITS["mm"], version, "OUTLINE", ["Mundstück\n0\nEOF — 唇 " + 300 * "x"])
    assert len(list(read(data, tmp_path).modelspace())) == 7
    assert io.BytesIO(data).readline().strip() == b"999"
