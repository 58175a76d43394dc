"""Files of points: what is read, and every fault with its line."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from labrum.meshes.faults import GeometryError
from labrum.meshes.traces.csv_files import read_csv
from labrum.meshes.traces.files import read_file
from labrum.meshes.traces.raw_trace import TraceError
from labrum.meshes.traces.trace import rim_from_trace, rim_of_points
from tests import gauge_rims

ROWS = [(7.0 + 0.25 * i, 2.0 - 0.05 * i) for i in range(24)]


def text(header: str, mark: str = ",", comma: str = ".") -> bytes:
    rows = [mark.join(f"{v:.3f}".replace(".", comma) for v in row) for row in ROWS]
    return ("\n".join([header, *rows] if header else rows) + "\n").encode()


@pytest.mark.parametrize(("header", "mark", "comma", "counts", "unit"), [
    ("r_mm,s_mm", ",", ".", "axis", "mm"),
    ("x_in,z_in", ",", ".", "anywhere", "inch"),
    ("x [inch];height [inch]", ";", ",", "anywhere", "inch"),
    ("Radius (mm)\tHeight (mm)", "\t", ".", "axis", "mm"),
    ("# units: mm\nr s", " ", ".", "axis", "mm"),
    ("# unit = inch\nx,y", ",", ".", "anywhere", "inch"),
])
def test_headers_say_unit_and_axis(header: str, mark: str, comma: str, counts: str, unit: str) -> None:
    raw = read_csv(text(header, mark, comma))
    assert (raw.counts_from, raw.unit) == (counts, unit)
    assert np.allclose(raw.points, np.array(ROWS) * {"mm": 1.0, "inch": 25.4}[unit], atol=1e-9)


def test_without_a_header_the_user_says_the_unit() -> None:
    assert read_csv(text(""), "mm").counts_from == "unsaid"
    with pytest.raises(TraceError) as caught:
        read_csv(text(""))
    assert caught.value.faults[0].got == "no unit in the file"
    assert "would suit mm" in caught.value.faults[0].hint


def test_other_columns_are_left_alone() -> None:
    rows = "\n".join(f"{i},{r},{s},ok" for i, (r, s) in enumerate(ROWS))
    assert np.allclose(read_csv(f"n,r_mm,s_mm,remark\n{rows}\n".encode()).points, ROWS)


def test_every_bad_row_is_named_in_one_pass() -> None:
    bad = text("r_mm,s_mm").decode().splitlines()
    bad[4], bad[9], bad[11] = "8.0,oops", "8.1", "nan,2"
    with pytest.raises(TraceError) as caught:
        read_csv("\n".join(bad).encode())
    assert caught.value.lines == (5, 10, 12)
    assert [f.got for f in caught.value.faults] == ["8.0,oops", "1 column: 8.1", "nan,2"]


def test_a_flood_of_bad_rows_is_counted() -> None:
    with pytest.raises(TraceError) as caught:
        read_csv(("r_mm,s_mm\n" + "a,b\n" * 40).encode())
    assert len(caught.value.faults) == 13
    assert caught.value.faults[-1].got == "28 more such rows"


@pytest.mark.parametrize(("data", "got"), [
    (b"", "no rows"),
    (b"\0\1\2", "a file with zero bytes in it"),
    (b"r_mm,s_mm\n1,2\n3,4\n", "2 points"),
    (text("r_mm,s_in"), "units inch and mm in one file"),
    (text("a,b"), "the header 'a,b'"),
])
def test_what_is_no_trace_is_refused(data: bytes, got: str) -> None:
    with pytest.raises(TraceError) as caught:
        read_csv(data, None if b"r_mm" in data or b"a,b" in data else "mm")
    assert caught.value.faults[0].got == got


def test_a_unit_asked_for_must_agree_with_the_file() -> None:
    with pytest.raises(TraceError, match="--unit inch for a file that says mm"):
        read_csv(text("r_mm,s_mm"), "inch")


@pytest.mark.parametrize(("said", "factor", "hint"), [
    ("mm", 1 / 25.4, "this looks like inch read as mm"),
    ("in", 1.0, "this looks like mm read as inch"),
    ("mm", 1000.0, "this looks like um read as mm"),
])
def test_a_wrong_unit_is_caught_and_named(said: str, factor: float, hint: str, tmp_path: Path) -> None:
    points = gauge_rims.both_halves(gauge_rims.plain_rim(), spacing=0.1) * factor
    path = tmp_path / "a.csv"
    path.write_text(f"x_{said},z_{said}\n" + "\n".join(f"{x:.6f},{z:.6f}" for x, z in points))
    with pytest.raises(TraceError) as caught:
        read_file(path)
    assert caught.value.faults[0].hint == hint


def test_a_case_hears_of_the_line(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(text("r_mm,s_mm") + b"8,x\n")
    with pytest.raises(GeometryError) as caught:
        rim_from_trace(path)
    assert (caught.value.faults[0].key, caught.value.faults[0].got) == ("rim.trace", "line 26: 8,x")


@pytest.mark.parametrize(("data", "told"), [
    (b"1,2\n" * 100_001, "100001 rows"),
    (b"1,2\v" * 300_000, "more than 100000 rows"),
    (b"a," * 500_000 + b"\n1,2\n", "500000 columns"),
    (b"x_mm,z_mm\n" + b"\n".join(b"%d,1e299" % i for i in range(30)), "two finite numbers up to 1e+09"),
    (b"x_mm,z_mm\n" + b"\n".join(b"%d,%d" % (i % 40, 300 * (i % 2)) for i in range(80)), "300 mm high"),
    (b"x_mm,z_mm\n" + b"\n".join(b"%d,20000" % (i % 40) for i in range(80)), "2e+04 mm from the file's origin"),
    (b"7" * 3_000_000, "..."),
])
def test_what_is_too_much_is_refused_at_once(data: bytes, told: str, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(data)
    with pytest.raises(TraceError) as caught:
        read_file(path)
    assert told in str(caught.value)
    assert len(str(caught.value)) < 10_000


def test_points_all_over_the_place_are_refused_before_they_are_ordered() -> None:
    cloud = np.random.default_rng(0).uniform(0.0, 100.0, size=(60_000, 2))
    with pytest.raises(TraceError, match="all over the place"):
        rim_of_points(cloud)


def test_what_a_file_says_cannot_steer_a_terminal() -> None:
    with pytest.raises(TraceError) as caught:
        read_csv(text("r_mm,s_mm") + b"\x1b[31m8\x07,x\n")
    assert caught.value.faults[0].got == r"\x1b[31m8\x07,x"
