"""Whatever a file holds, it is read or refused in words: no other exception, no warning, no control character.

The quick run takes the same examples every time. A longer one takes other examples, as many as asked for, and is left
to run for an hour or a night: ``LABRUM_FUZZ=100000 pytest -q -n 2 tests/fuzz``.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labrum.cases.case_file.reading import case_from_table, case_from_text
from labrum.cases.case_file.schema import ACCURACY, LAYER, LIP, LOAD, RIM
from labrum.cases.case_file.toml_writer import case_text
from labrum.cases.exits import BadInput
from labrum.cases.exploring.tables import case_from_page
from labrum.cases.library.shelf import demo_place, demo_text
from labrum.cases.sweeping.plan import read_plan
from labrum.meshes.faults import GeometryError
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.traces.files import read_file
from labrum.meshes.traces.trace import measured_rim
from tests import gauge_rims

LONG = int(os.environ.get("LABRUM_FUZZ", "0"))


def fuzzed(quick: int) -> Callable[[Any], Any]:
    """Settings of one property: ``quick`` examples, or as many as the longer run asks for."""
    return settings(
        max_examples=LONG or quick, derandomize=not LONG, database=None, deadline=None,
        suppress_health_check=list(HealthCheck),
    )


def met(read: Callable[[], Any]) -> bool:
    """Read; a refusal must be in words that can be printed. Tell whether it was read."""
    try:
        read()
    except (BadInput, GeometryError) as error:
        words = str(error)
    else:
        return True
    assert words
    assert all(c == "\n" or c.isprintable() for c in words), ascii(words)
    return False


ODD_NUMBERS = st.sampled_from(
    [0, -1, 1, 10**400, -(10**400), 2**63, 1e308, -1e308, 1e-308, 5e-324, float("nan"), float("inf"), -0.0, 1e299, True]
)
NUMBERS = st.one_of(
    ODD_NUMBERS,
    st.floats(allow_nan=True),
    st.integers(),
    st.floats(0.0, 30.0),
    st.floats(1.0, 12.0).map(lambda v: round(v, 1)),
)
WORDS = st.one_of(
    st.text(max_size=20),
    st.sampled_from(["average", "flat", "bonded", "sliding", "20 N", "\x1b[31m", "a" * 300]),
)
VALUES = st.recursive(
    st.one_of(NUMBERS, WORDS, st.booleans(), st.none()),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=8,
)
ROWS = st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS).map(list), max_size=12)


def table(keys: Any, **more: Any) -> Any:
    """A table of the schema's keys, mostly good in name and of any value, and now and then a strange one."""
    names = st.sampled_from([key.name for key in keys.keys] + list(keys.tables) + ["strange", "\x1b", "force_kN"])
    return st.one_of(VALUES, st.dictionaries(names, VALUES, max_size=6), st.fixed_dictionaries(more, optional={}))


CASES = st.fixed_dictionaries({}, optional={
    "schema": st.one_of(st.just(1), VALUES),
    "title": st.one_of(WORDS, VALUES),
    "rim": st.one_of(table(RIM, inner_diameter_mm=NUMBERS, width_mm=NUMBERS),
                     ROWS.map(lambda rows: {"outline_mm": rows})),
    "lip": st.one_of(table(LIP, type=st.just("average")),
                     st.lists(table(LAYER), max_size=3).map(lambda layers: {"layer": layers})),
    "load": table(LOAD, force_n=NUMBERS),
    "accuracy": table(ACCURACY),
    "more": VALUES,
})  # fmt: skip


@given(CASES)
@fuzzed(400)
def test_tables_of_a_case(tables: Any) -> None:
    met(lambda: case_from_table(tables))
    met(lambda: case_from_page(tables))


@given(st.data())
@fuzzed(400)
def test_a_case_with_one_value_changed(data: Any) -> None:
    """Near what is right, so that much is reached; what is read can be written and read again."""
    tables = case_from_text(demo_text("demo")).resolved
    where = data.draw(st.sampled_from([tables["rim"], tables["load"], tables["lip"], *tables["lip"]["layer"]]))
    where[data.draw(st.sampled_from(sorted(where)))] = data.draw(VALUES)
    if met(lambda: case_from_table(tables)):
        case = case_from_table(tables)
        again = case_from_text(case_text(case.resolved, "again"))
        assert {**again.resolved, "title": ""} == {**case.resolved, "title": ""}


def mangled(data: Any, whole: bytes, lines: bool) -> bytes:
    """Cut, double, change and mix a file's bytes or lines."""
    parts = whole.split(b"\n") if lines else [bytes([b]) for b in whole]
    odd = st.one_of(st.binary(max_size=8), st.sampled_from([
        b"nan", b"1e999", b"-1", b"0", b"", b"=", b"[", b"]]", b"\"", b"'''", b"\x00", b"\xff", b"a.b.c",
        b"0x" + b"f" * 400, b"9" * 400, b"\x1b[31m",
        b"EOF", b"SECTION", b"INSERT", b"SPLINE", b"70", b"1,2", b"x_mm,z_in", b"inf;nan",
    ]))  # fmt: skip
    for _ in range(data.draw(st.integers(0, 6))):
        at = data.draw(st.integers(0, max(len(parts) - 1, 0)))
        how = data.draw(st.integers(0, 3))
        if how == 0:
            parts[at:at + 1] = [data.draw(odd)]
        elif how == 1:
            del parts[at:at + data.draw(st.integers(1, 10))]
        elif how == 2:
            parts[at:at] = parts[data.draw(st.integers(0, max(len(parts) - 1, 0))):][:data.draw(st.integers(1, 10))]
        else:
            parts = parts[:max(at, 1)]
    return (b"\n" if lines else b"").join(parts)


def in_a_file(name: str, content: bytes, read: Callable[[Path], Any]) -> bool:
    """Write a file to a folder of its own and read it; nothing may be left beside it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, name)
        path.write_bytes(content)
        done = met(lambda: read(path))
        assert [p.name for p in Path(folder).iterdir()] == [name]
    return done


@given(st.data(), st.booleans())
@fuzzed(300)
def test_the_text_of_a_case(data: Any, lines: bool) -> None:
    text = mangled(data, demo_text("demo").encode(), lines).decode("utf-8", "surrogateescape")
    if text.isascii():
        met(lambda: case_from_text(text))


@given(st.text(max_size=200))
@fuzzed(300)
def test_any_text_as_a_case(text: str) -> None:
    met(lambda: case_from_text(text))


PLAN = b"""schema = 1
case = "demo"
title = "a plan"
[vary]
rim.width_mm = { from = 4.0, to = 6.0, step = 0.5 }
load.force_n = [10.0, 20.0]
lip.stiffness_factor = { from = 0.5, to = 2.0 }
[choose.contour]
flat = { rim.inner_crown_radius_mm = "flat" }
round = { rim.inner_crown_radius_mm = 4.0, rim.outer_crown_radius_mm = 4.0 }
[sample]
points = 8
seed = 1
"""


@given(st.data(), st.booleans())
@fuzzed(300)
def test_the_text_of_a_plan(data: Any, lines: bool) -> None:
    in_a_file("plan.toml", mangled(data, PLAN, lines), read_plan)


@given(st.one_of(ROWS, VALUES))
@fuzzed(300)
def test_any_outline(rows: Any) -> None:
    met(lambda: case_from_table({"schema": 1, "rim": {"outline_mm": rows}, "lip": {"type": "average"},
                                 "load": {"force_n": 20.0}}))


@given(st.data())
@fuzzed(300)
def test_an_outline_with_rows_changed(data: Any) -> None:
    rows = gauge_rims.plain_rim().curve.vertices.tolist()
    places = st.floats(-50.0, 50.0)
    for _ in range(data.draw(st.integers(1, 3))):
        rows[data.draw(st.integers(0, len(rows) - 1))][data.draw(st.integers(0, 2))] = data.draw(places)
    met(lambda: rim_from_outline(rows))


TRACE = (demo_place() / "demo-trace.csv").read_bytes()
SHORT_TRACE = b"\n".join([TRACE.split(b"\n", 1)[0], *TRACE.split(b"\n")[1:][::12]])


@given(st.data(), st.booleans())
@fuzzed(120)
def test_rows_of_a_trace(data: Any, lines: bool) -> None:
    in_a_file("a.csv", mangled(data, SHORT_TRACE, lines), lambda path: measured_rim(path, "mm"))


@given(st.binary(max_size=300))
@fuzzed(200)
def test_any_bytes_as_a_trace(content: bytes) -> None:
    in_a_file("a.csv", content, lambda path: read_file(path, "mm"))
    in_a_file("a.dxf", content, lambda path: read_file(path, "mm"))


@given(st.lists(st.tuples(st.floats(-60.0, 60.0), st.floats(-60.0, 60.0)), min_size=20, max_size=60))
@fuzzed(120)
def test_any_points_as_a_trace(points: Any) -> None:
    text = "x_mm,z_mm\n" + "\n".join(f"{x:.6g},{z:.6g}" for x, z in points)
    in_a_file("a.csv", text.encode(), measured_rim)


def drawing(version: str) -> bytes:
    """A small drawing with every kind of curve, and a block within a block."""
    document = ezdxf.new(version)
    if version != "R12":
        document.units = 4
    space, curve = document.modelspace(), gauge_rims.plain_rim().curve
    space.add_polyline2d(curve.vertices.tolist(), format="xyb")
    space.add_line((8, 0), (9, 1))
    space.add_arc((9, 1), 1.0, 10.0, 80.0)
    space.add_circle((9, 1), 0.5)
    space.add_point((9, 1))
    if version != "R12":
        space.add_lwpolyline(curve.vertices.tolist(), format="xyb")
        space.add_spline_control_frame([(8, 0, 0), (9, 1, 0), (10, 0, 0), (11, 1, 0)])
        space.add_ellipse((9, 0), (1, 0), 0.5)
    document.blocks.new("INNER").add_line((8, 0), (9, 0))
    document.blocks.new("OUTER").add_blockref("INNER", (0, 0))
    space.add_blockref("OUTER", (0, 1), dxfattribs={"xscale": 2.0})
    with tempfile.TemporaryDirectory() as folder:
        document.saveas(Path(folder, "a.dxf"))
        return Path(folder, "a.dxf").read_bytes()


DRAWINGS = {version: drawing(version) for version in ("R12", "R2010")}


@pytest.mark.parametrize("version", DRAWINGS)
@given(st.data())
@fuzzed(120)
def test_entities_of_a_drawing(version: str, data: Any) -> None:
    head, mark, tail = DRAWINGS[version].partition(b"ENTITIES\n")
    content = head + mark + mangled(data, tail, lines=True)
    if data.draw(st.booleans()):
        content += b"\n  0\nEOF\n"
    in_a_file("a.dxf", content, lambda path: read_file(path, "mm"))


@given(st.data())
@fuzzed(80)
def test_any_line_of_a_drawing(data: Any) -> None:
    in_a_file("a.dxf", mangled(data, DRAWINGS["R12"], lines=True), lambda path: read_file(path, "mm"))


COORDINATES = st.one_of(st.floats(-1e4, 1e4), st.floats(allow_nan=True), st.just(0.0))
PLACES = st.tuples(COORDINATES, COORDINATES)


@given(st.lists(st.tuples(st.sampled_from(["line", "arc", "circle", "lwpolyline", "spline", "ellipse", "insert"]),
                          st.lists(PLACES, min_size=2, max_size=6), COORDINATES, COORDINATES), min_size=1, max_size=5))
@fuzzed(150)
def test_curves_of_any_numbers(curves: Any) -> None:
    document = ezdxf.new("R2010")
    document.units = 4
    space = document.modelspace()
    block = document.blocks.new("B")
    block.add_line((0, 0), (1, 1))
    add: dict[str, Callable[[Any, float, float], Any]] = {
        "line": lambda p, a, b: space.add_line(p[0], p[1]),
        "arc": lambda p, a, b: space.add_arc(p[0], a, b, p[1][0]),
        "circle": lambda p, a, b: space.add_circle(p[0], a),
        "lwpolyline": lambda p, a, b: space.add_lwpolyline([(*q, a) for q in p], format="xyb"),
        "spline": lambda p, a, b: space.add_spline(p),
        "ellipse": lambda p, a, b: space.add_ellipse(p[0], (*p[1], 0.0), 0.5, a, b),
        "insert": lambda p, a, b: space.add_blockref(
            "B", p[0], dxfattribs={"xscale": a, "yscale": b, "rotation": p[1][0]}
        ),
    }
    try:
        for kind, places, first, second in curves:
            add[kind](places, first, second)
        with tempfile.TemporaryDirectory() as folder:
            document.saveas(Path(folder, "a.dxf"))
            content = Path(folder, "a.dxf").read_bytes()
    except (ezdxf.DXFError, ValueError, ArithmeticError):
        return  # the library will not draw it
    in_a_file("a.dxf", content, read_file)
