"""What is too much for a case or a plan is refused before the work it would make is done."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import MOST_FAULTS, case_from_table, case_from_text, read_case
from labrum.cases.case_file.toml_positions import deep_key, key_lines
from labrum.cases.case_file.toml_writer import case_text
from labrum.cases.library.shelf import demo_text
from labrum.cases.sweeping.plan import read_plan

LIP = '[lip]\ntype = "average"\n[load]\nforce_n = 20.0\n'
RIM = "[rim]\ninner_diameter_mm = 16.0\nwidth_mm = 5.0\n"


def refusal(text: str, folder: Path = Path()) -> str:
    with pytest.raises(InvalidCase) as caught:
        case_from_text(text, "case.toml", folder)
    return str(caught.value)


def outline(rows: int) -> str:
    """A half circle hanging down, cut to lines."""
    angles = [math.pi * (1 - i / (rows - 1)) for i in range(rows)]
    places = ",".join(f"[{11 + 3 * math.cos(a):.12g}, {-3 * math.sin(a):.12g}, 0.0]" for a in angles)
    return f"schema = 1\n[rim]\noutline_mm = [{places}]\n{LIP}"


def test_an_outline_has_at_most_five_hundred_rows() -> None:
    assert case_from_text(outline(500)).problem.rim.outer_radius == pytest.approx(14.0)
    assert "case.toml:3: rim.outline_mm: got a list of 501, allowed a list of 2 to 500 rows" in refusal(outline(501))


@pytest.mark.parametrize("row", ["[1e299, 0.0, 0.0]", "[8.0, -1e200, 0.0]", "[8.0, 0.0, 1e12]"])
def test_numbers_of_an_outline_are_those_of_a_rim(row: str) -> None:
    text = f"schema = 1\n[rim]\noutline_mm = [[7.0, 1.0, 0.0], {row}, [9.0, 1.0, 0.0]]\n{LIP}"
    assert "numbers up to 10000 in size" in refusal(text)


def test_rows_nearer_than_rounding_are_one_point() -> None:
    text = f"schema = 1\n[rim]\noutline_mm = [[7.0, 1.0, 0.0], [7.0, 0.9999999999999, 0.0], [9.0, 0.0, 0.0]]\n{LIP}"
    assert "the same point as the row before" in refusal(text)


def test_a_tangle_is_told_by_a_few_crossings() -> None:
    rows = ",".join(f"[{5 + 10 * (i % 2)}, {(7 * i) % 10}, 0.3]" for i in range(400))
    assert 1 < refusal(f"schema = 1\n[rim]\noutline_mm = [{rows}]\n{LIP}").count("meets itself") < 400


def test_a_lip_has_at_most_twenty_layers() -> None:
    layer = "[[lip.layer]]\nthickness_mm = 0.5\nshear_modulus_kpa = 10.0\n"
    load = "[load]\nforce_n = 20.0\n"
    assert len(case_from_text(f"schema = 1\n{RIM}{layer * 20}{load}").problem.lip.layers) == 20
    assert "lip.layer: got a list of 21, allowed at most 20" in refusal(f"schema = 1\n{RIM}{layer * 21}{load}")


@pytest.mark.parametrize("text", [
    ".".join(["a"] * 20_000) + " = 1\n",
    "schema = 1\n[" + ".".join(["a"] * 17) + "]\n",
    "schema = 1\nx = {b = 1, " + " . ".join(['"a b"'] * 17) + " = 1}\n",
    "schema = 1\n[[" + ".".join(["'a'"] * 17) + "]]\n",
])
def test_keys_have_at_most_sixteen_parts(text: str) -> None:
    assert "a key of many parts, allowed keys of at most 16 parts" in refusal(text)


@pytest.mark.parametrize("text", [
    ".".join(["a"] * 16) + " = 1\n",
    "title = '" + ".".join(["a"] * 40) + "'\n",
    "a = [1.0, 2.0]\n",
    "# " + "a." * 40 + "\n",
])
def test_nothing_else_is_taken_for_such_a_key(text: str) -> None:
    assert deep_key(text) is None


def test_lines_of_brackets_within_brackets_are_told_down_to_a_depth() -> None:
    lines = key_lines("a = " + "[" * 150 + "1" + "]" * 150 + "\n")
    assert lines[("a", 0, 0)] == 1
    assert max(map(len, lines)) == 16


def test_a_file_of_a_megabyte_is_no_case(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text("# nothing\n" * 100_000)
    with pytest.raises(InvalidCase, match="more than 256000 bytes"):
        read_case(str(tmp_path / "a.toml"))


def test_a_flood_of_faults_is_counted() -> None:
    told = refusal("schema = 1\n" + "".join(f"[rim.t{i}]\n" for i in range(500)) + LIP)
    assert "rim: got 450 more unknown keys" in told
    rows = ", ".join("[1.0]" for _ in range(400))
    told = refusal(f"schema = 1\n[rim]\noutline_mm = [{rows}]\n{LIP}")
    assert told.count("\n") == MOST_FAULTS
    assert told.endswith("got 300 more faults, allowed none")


@pytest.mark.parametrize("number", ["9" * 400, "0x" + "f" * 5000, "1e400", "-" + "9" * 400])
@pytest.mark.parametrize("key", ["force_n", "force_kN", "mouth_pressure_kPa", "nonsense"])
def test_giants_are_refused_as_numbers(number: str, key: str) -> None:
    assert f"load.{key}" in refusal(f"schema = 1\n{RIM}[lip]\ntype = 'average'\n[load]\n{key} = {number}\n")


@pytest.mark.parametrize(("name", "got"), [
    ("a" * 300, "name too long"),
    ("a\\u0000b", "no name that a file can have"),
    (".", "a directory"),
    ("b/c", "no such"),
    ("\\u001b[31m", "no such file"),
])
def test_a_trace_with_a_name_no_file_has_is_a_fault_of_the_case(name: str, got: str, tmp_path: Path) -> None:
    told = refusal(f'schema = 1\n[rim]\ntrace = "{name}"\n{LIP}', tmp_path)
    assert got in told
    assert told.isprintable()


def test_a_folder_that_may_not_be_searched_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def forbidden(self: Path, **more: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "stat", forbidden)
    assert "permission denied" in refusal(f'schema = 1\n[rim]\ntrace = "a.csv"\n{LIP}', tmp_path)


def plan_refusal(text: str, folder: Path) -> str:
    (folder / "plan.toml").write_text(text)
    with pytest.raises(InvalidCase) as caught:
        read_plan(folder / "plan.toml")
    return str(caught.value)


def test_a_plan_has_at_most_fifty_thousand_cases(tmp_path: Path) -> None:
    text = (
        'schema = 1\ncase = "demo"\n[vary]\nrim.width_mm = { from = 4.0, to = 6.0, count = 501 }\n'
        "load.force_n = { from = 1.0, to = 9.0, count = 100 }\n"
    )
    assert "got 50100 cases, allowed at most 50000" in plan_refusal(text, tmp_path)


def test_a_list_of_a_plan_has_a_limit_and_each_value_once(tmp_path: Path) -> None:
    head = 'schema = 1\ncase = "demo"\n[vary]\nload.force_n = '
    values = ", ".join(str(1 + i / 1000) for i in range(10_001))
    assert "a list of 10001, allowed at most 10000 values" in plan_refusal(f"{head}[{values}]\n", tmp_path)
    assert "got 2, allowed each value once" in plan_refusal(f"{head}[1.0, 2.0, 2]\n", tmp_path)


@pytest.mark.parametrize("name", ["a" * 300, "a\\u0000b.toml"])
def test_a_plan_whose_case_has_no_name_a_file_can_have(name: str, tmp_path: Path) -> None:
    told = plan_refusal(f'schema = 1\ncase = "{name}"\n[vary]\nload.force_n = [1.0, 2.0]\n', tmp_path)
    assert "name too long" in told or "no name that a file can have" in told


@pytest.mark.parametrize("name", ["\x7f", "\x00\x1b", "\U0001f3ba", "é\u202e", '"\\'])
def test_any_character_of_a_name_survives_being_written(name: str) -> None:
    tables = case_from_text(demo_text("demo")).resolved
    tables["lip"]["layer"][0]["name"] = f"a{name}"
    again = case_from_text(case_text(tables, tables["title"])).resolved
    assert again == tables


def test_half_a_character_is_refused() -> None:
    tables = case_from_text(demo_text("demo")).resolved
    tables["lip"]["layer"][0]["name"] = "\ud800"
    with pytest.raises(InvalidCase, match="half of a character"):
        case_from_table(tables)
