"""``labrum cut`` as a person meets it: files that read back, checks told, faults by exit code."""

from __future__ import annotations

import csv
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from typer.testing import CliRunner, Result

from labrum.cases.case_file.reading import read_case
from labrum.cases.command import app
from labrum.meshes.curves.curve import Curve
from labrum.meshes.faults import Fault, GeometryError
from labrum.meshes.machining.lathe_view import to_lathe

MICROMETRE = 1e-3
FILES = {"README.txt", "outline.dxf", "outline.csv", "pieces.csv", "drawing.svg", "drawing.pdf"}


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)


def cut(*words: str) -> Result:
    return CliRunner().invoke(app, ["cut", *words])


def demo() -> Curve:
    return to_lathe(read_case("demo").problem.rim.curve)


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def places(path: Path, x: str, z: str, mm: float, across: float) -> np.ndarray:
    """(k, 2) Z and X as a radius, mm, of a written table of points."""
    return np.array([(float(row[z]) * mm, float(row[x]) * mm / across) for row in table(path)])


def contents(folder: str) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in Path(folder).iterdir()}


def test_the_demo_is_cut() -> None:
    done = cut("demo")
    assert done.exit_code == 0, done.stderr
    assert set(contents("cuts/demo")) == FILES
    assert "outline: 7 pieces" in done.stdout
    assert "0 at the rim's high point (s = 0)" in done.stdout
    assert "shop's own rules and local codes" in done.stdout
    assert done.stderr.splitlines() == ["kept in cuts/demo"]
    readme = Path("cuts/demo/README.txt").read_text()
    assert "invented demo, not a measured rim" in readme
    assert "INVENTED DEMO" in Path("cuts/demo/drawing.svg").read_text()


@pytest.mark.parametrize(("unit", "mm", "chord"), [("mm", 1.0, 0.005), ("inch", 25.4, 0.0002 * 25.4)])
@pytest.mark.parametrize(("x", "across"), [("diameter", 2.0), ("radius", 1.0)])
def test_points_read_back_lie_on_the_curve(unit: str, mm: float, chord: float, x: str, across: float) -> None:
    assert cut("demo", "--unit", unit, "--x", x, "--out", "it").exit_code == 0
    read = places(Path("it/outline.csv"), f"x_{x}_{unit}", f"z_from_high_point_{unit}", mm, across)
    curve = demo()
    assert np.abs(curve.nearest(read).distance).max() < 0.2 * MICROMETRE
    chords = Curve.from_vertices(np.column_stack([read, np.zeros(len(read))]))
    assert np.abs(chords.nearest(curve.sample(1e-6)).distance).max() <= chord
    for joint in curve.vertices[:, :2]:
        assert np.hypot(*(read - joint).T).min() < 0.2 * MICROMETRE


@pytest.mark.parametrize("unit", ["mm", "inch"])
def test_pieces_read_back_as_the_same_arcs(unit: str) -> None:
    assert cut("demo", "--unit", unit, "--x", "radius", "--out", "it").exit_code == 0
    mm = 1.0 if unit == "mm" else 25.4
    start, *rows = table(Path("it/pieces.csv"))
    curve = demo()
    assert float(start[f"end_z_from_high_point_{unit}"]) * mm == pytest.approx(curve.start[0, 0], abs=1e-5)
    for k, row in enumerate(rows):
        assert int(row["piece"]) == k + 1
        assert float(row[f"end_z_from_high_point_{unit}"]) * mm == pytest.approx(curve.end[k, 0], abs=1e-5)
        assert float(row[f"end_x_radius_{unit}"]) * mm == pytest.approx(curve.end[k, 1], abs=1e-5)
        if curve.is_arc[k]:
            assert float(row[f"arc_radius_{unit}"]) * mm == pytest.approx(curve.radius[k], abs=1e-5)
            centre = [float(row[f"centre_{c}_{unit}"]) * mm for c in ("z_from_high_point", "x_radius")]
            assert centre == pytest.approx(curve.centre[k].tolist(), abs=1e-5)


@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_the_dxf_reads_back_as_the_same_arcs(version: str) -> None:
    assert cut("demo", "--dxf", version, "--unit", "inch", "--out", "it").exit_code == 0
    doc = ezdxf.readfile("it/outline.dxf")
    assert doc.header["$INSUNITS"] == 1
    curve = demo()
    arcs = np.flatnonzero(curve.is_arc)
    read = list(doc.modelspace().query("ARC"))
    for entity, k in zip(read, arcs, strict=True):
        assert entity.dxf.radius * 25.4 == pytest.approx(curve.radius[k], abs=1e-9)
        assert np.array(entity.dxf.center)[:2] * 25.4 == pytest.approx(curve.centre[k], abs=1e-9)


def test_a_dxf_in_r_and_s_is_a_trace_again(case_text: str) -> None:
    """What is cut is what is measured: the outline read as a measured profile gives the rim back."""
    assert cut("demo", "--dxf-axes", "rs", "--unit", "inch", "--out", "it").exit_code == 0
    dimensions = case_text[case_text.index("inner"):case_text.index("[lip]")]
    Path("again.toml").write_text(case_text.replace(dimensions, 'trace = "it/outline.dxf"\n\n'))
    again, first = read_case("again.toml").problem.rim, read_case("demo").problem.rim
    assert again.bite == pytest.approx(first.bite, abs=MICROMETRE)
    assert again.bite_radius == pytest.approx(first.bite_radius, abs=MICROMETRE)
    assert again.outer_radius == pytest.approx(first.outer_radius, abs=MICROMETRE)


def test_a_tool_path_is_checked_and_what_it_leaves_is_told() -> None:
    done = cut("demo", "--nose-radius", "0.4", "--out", "it")
    assert done.exit_code == 0
    assert set(contents("it")) == FILES | {"toolpath.dxf", "toolpath.csv"}
    # The floor meets a wall of 60 degrees: 0.4 (1 / cos 30 - 1) = 0.0619 mm stays in the corner.
    assert "metal left: 0.0619 mm at X 4.906 Z -10.527" in done.stdout
    assert "warning: metal left: 0.0619 mm" in done.stderr
    assert "path of the centre of the tool nose, nose radius 0.4000 mm" in done.stdout
    assert "gouge: 0.00" in done.stdout
    path = places(Path("it/toolpath.csv"), "x_diameter_mm", "z_from_high_point_mm", 1.0, 2.0)
    clearance = demo().nearest(path).distance
    assert np.abs(clearance - 0.4).max() < 0.2 * MICROMETRE


@pytest.mark.parametrize(("point", "towards"), [("outside", (-1, -1)), ("boring", (-1, 1)), ("face", (-1, 0))])
def test_the_imaginary_tip_is_named_and_offset(point: str, towards: tuple[int, int]) -> None:
    done = cut("demo", "--nose-radius", "0.4", "--tool-point", point, "--out", "it")
    assert "imaginary tip towards -Z" in done.stdout
    path = places(Path("it/toolpath.csv"), "x_diameter_mm", "z_from_high_point_mm", 1.0, 2.0)
    clearance = demo().nearest(path - 0.4 * np.array(towards)).distance
    assert np.abs(clearance - 0.4).max() < 0.2 * MICROMETRE
    layers = {entity.dxf.layer for entity in ezdxf.readfile("it/toolpath.dxf").modelspace()}
    assert layers == {"IMAGINARY_TOOL_TIP"}
    assert b"imaginary tip towards -Z" in Path("it/toolpath.dxf").read_bytes()


def test_the_rim_alone_keeps_the_pieces_numbers() -> None:
    done = cut("demo", "--part", "rim", "--nose-radius", "0.4", "--out", "it")
    assert "metal left: nowhere more than 0.0050 mm" in done.stdout
    assert [row["piece"] for row in table(Path("it/pieces.csv"))] == ["", "3", "4", "5", "6", "7"]
    assert table(Path("it/outline.csv"))[0]["piece"] == "3"


def test_a_rerun_gives_the_same_bytes_in_a_folder_of_its_own() -> None:
    for _ in range(2):
        assert cut("demo", "--nose-radius", "0.4", "--dxf", "R2010", "--tolerance", "0.02").exit_code == 0
    assert {path.name for path in Path("cuts").iterdir()} == {"demo", "demo-2"}
    assert contents("cuts/demo") == contents("cuts/demo-2")


def test_nothing_is_overwritten() -> None:
    Path("mine").mkdir()
    Path("mine/outline.dxf").write_text("precious")
    done = cut("demo", "--out", "mine")
    assert done.exit_code == 2
    assert "mine exists and is not empty" in done.stderr
    assert contents("mine") == {"outline.dxf": b"precious"}
    assert [path.name for path in Path().iterdir()] == ["mine"]


def test_tolerances_reach_the_drawing() -> None:
    assert cut("demo", "--tolerance", "iso2768-f", "--tolerance", "inner_diameter=+0.02/-0.01",
               "--out", "it").exit_code == 0
    drawing = Path("it/drawing.svg").read_text()
    assert "Ø16.500 +0.020/\N{MINUS SIGN}0.010 inner" in drawing
    assert "Ø26.900 ±0.100 outer" in drawing
    assert "ISO 2768-f (values recalled, check them)" in drawing


def test_every_bad_option_is_told_at_once() -> None:
    done = cut("demo", "--unit", "inches", "--x", "Radius", "--nose-radius", "0", "--chord-tolerance", "nan",
               "--tolerance", "loose", "--tolerance", "0.02", "--tolerance", "iso2768-m", "--dxf", "R13")
    assert done.exit_code == 2
    for expected in ('--unit: got "inches", allowed one of mm, inch (did you mean "inch"?)',
                     '--x: got "Radius", allowed one of diameter, radius (did you mean "radius"?)',
                     '--dxf: got "R13"', "--chord-tolerance: got nan", "--nose-radius: got 0, allowed above 0 up to 20",
                     '--tolerance: got "loose"', "--tolerance: got 0.02 and iso2768-m, allowed one general tolerance"):
        assert expected in done.stderr
    assert not list(Path().iterdir())


def test_a_tolerance_for_no_dimension_names_those_there_are() -> None:
    done = cut("demo", "--tolerance", "bite_radios=0.1")
    assert done.exit_code == 2
    assert 'did you mean "bite_radius"?' in done.stderr
    assert "high_point_diameter" in done.stderr


@pytest.mark.parametrize("item", ["0", "-0.02", "9", "bite_radius=", "=0.1", "+0.0/-0.0", "1e-2", "iso2768-v"])
def test_tolerances_that_say_nothing_are_refused(item: str) -> None:
    done = cut("demo", f"--tolerance={item}")
    assert done.exit_code == 2
    assert "--tolerance: got" in done.stderr


def test_a_fault_of_the_case_is_told_with_its_line(case_text: str) -> None:
    Path("bad.toml").write_text(case_text.replace("width_mm = 5.2", "width_mm = -5.2"))
    done = cut("bad.toml")
    assert done.exit_code == 3
    assert "bad.toml:6: rim.width_mm: got -5.2" in done.stderr
    assert cut("no-such-case").exit_code == 3


def test_a_nose_with_no_way_is_a_fault_of_the_pair(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_way(*_: object) -> None:
        raise GeometryError((Fault("nose radius", "0.6 mm", "a nose that fits the outline", "a smaller nose"),))

    monkeypatch.setattr("labrum.cases.cutting.files.tool_path", no_way)
    done = cut("demo", "--nose-radius", "0.6")
    assert done.exit_code == 3
    assert "demo: --nose-radius: got 0.6 mm, allowed a nose that fits the outline (a smaller nose)" in done.stderr
    assert not list(Path().iterdir())


def test_a_path_that_gouges_is_never_written(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("labrum.cases.cutting.files.gouge", lambda *_: 0.0051)
    done = cut("demo", "--nose-radius", "0.6")
    assert done.exit_code == 1
    assert "the path would gouge by 0.0051 mm, allowed 0.005 mm" in done.stderr
    assert not list(Path().iterdir())


def test_quiet_says_nothing_but_the_report() -> None:
    done = cut("demo", "-q", "--nose-radius", "0.4")
    assert done.stderr == ""
    assert "metal left" in done.stdout


def test_a_slip_of_ours_is_a_sentence_and_leaves_nothing_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("a slip")

    monkeypatch.setattr("labrum.cases.cutting.job.cut_files", broken)
    done = cut("demo")
    assert done.exit_code == 1
    assert "a fault of our own, not of the case: ZeroDivisionError: a slip; --debug shows where" in done.stderr
    assert not list(Path("cuts").iterdir())
