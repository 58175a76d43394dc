"""What a person is told of a wrong case: the exact words, the right line, everything in one pass."""

from __future__ import annotations

import pickle
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labrum.cases.case_file.faults import InvalidCase, dotted, path_of
from labrum.cases.case_file.reading import case_from_table, case_from_text, read_case
from labrum.cases.case_file.schema import ACCURACY, LAYER, LIP, LOAD, RIM, TOP, KeyTable
from labrum.cases.case_file.tables import unknown_key_hint

RIM_KEYS = (
    "inner_diameter_mm, width_mm, high_point, bite_radius_mm, inner_crown_radius_mm, outer_crown_radius_mm, "
    "shoulder_radius_mm, cup_wall_angle_deg, cup_depth_mm, outline_mm, trace"
)
LAYER_KEYS = (
    "name, thickness_mm, shear_modulus_kpa, stiffening_kpa, poisson_ratio, muscle, active_stress_kpa, "
    "muscle_outer_radius_mm, active_stiffening"
)

BASE = """\
schema = 1
[rim]
inner_diameter_mm = 16.5
width_mm = 5.2
[lip]
radius_mm = 25.0
[[lip.layer]]
thickness_mm = 8.0
shear_modulus_kpa = 30.0
[load]
force_n = 20.0
"""


def faults_of(text: str, folder: Path = Path()) -> list[str]:
    with pytest.raises(InvalidCase) as caught:
        case_from_text(text, "a.toml", folder)
    return [str(fault) for fault in caught.value.faults]


ONE_FAULT = [
    # (old line, new line, message)
    (
        "width_mm = 5.2",
        "width_mm = 5.2\nwidht_mm = 5",
        f"a.toml:5: rim.widht_mm: got an unknown key, allowed one of {RIM_KEYS} (did you mean width_mm?)",
    ),
    (
        "width_mm = 5.2",
        "width_mm = 5.2\nbite_radius_in = 0.02",
        f"a.toml:5: rim.bite_radius_in: got an unknown key, allowed one of {RIM_KEYS} "
        "(did you mean bite_radius_mm = 0.508? the unit stands in the key)",
    ),
    (
        "width_mm = 5.2",
        "width_mm = 5.2\nfriction = 0.3",
        f"a.toml:5: rim.friction: got an unknown key, allowed one of {RIM_KEYS} (it belongs in [load])",
    ),
    (
        "thickness_mm = 8.0",
        "thickness_mm = 8.0\nyoung_modulus_kpa = 90",
        f"a.toml:9: lip.layer[0].young_modulus_kpa: got an unknown key, allowed one of {LAYER_KEYS} "
        "(give shear_modulus_kpa = E / (2 (1 + poisson_ratio)), close to E / 3)",
    ),
    (
        "force_n = 20.0",
        "force_n = 20.0\nmean_pressure_kpa = 60",
        "a.toml:12: load.mean_pressure_kpa: got force_n besides, allowed one of force_n, mean_pressure_kpa, sink_mm "
        "(the others follow from it)",
    ),
    ("schema = 1", "schema = 2", "a.toml:1: schema: got 2, allowed 1"),
    ("schema = 1", "schema = true", "a.toml:1: schema: got true, allowed 1"),
    (
        "force_n = 20.0",
        "",
        "a.toml:10: load.force_n: got nothing, allowed a number from 0.01 to 500 N (the key is missing)",
    ),
    (
        "inner_diameter_mm = 16.5",
        "",
        "a.toml:2: rim.inner_diameter_mm: got nothing, allowed a number from 5 to 60 mm (the key is missing)",
    ),
    (
        "force_n = 20.0",
        'force_n = "20 N"',
        'a.toml:11: load.force_n: got "20 N", allowed a number from 0.01 to 500 N '
        "(a number stands without quotes: the unit stands in the key; write force_n = 20)",
    ),
    (
        "force_n = 20.0",
        'force_n = "2 kgf"',
        'a.toml:11: load.force_n: got "2 kgf", allowed a number from 0.01 to 500 N '
        "(a number stands without quotes: the unit stands in the key; write force_n = 19.6133)",
    ),
    ("force_n = 20.0", "force_n = 0", "a.toml:11: load.force_n: got 0, allowed a number from 0.01 to 500 N"),
    (
        "force_n = 20.0",
        "force_n = -5.5",
        "a.toml:11: load.force_n: got -5.5, allowed a number from 0.01 to 500 N",
    ),
    (
        "force_n = 20.0",
        "force_n = nan",
        "a.toml:11: load.force_n: got nan, allowed a number from 0.01 to 500 N (the value must be finite)",
    ),
    (
        "force_n = 20.0",
        "force_n = -inf",
        "a.toml:11: load.force_n: got -inf, allowed a number from 0.01 to 500 N (the value must be finite)",
    ),
    (
        "force_n = 20.0",
        "force_n = true",
        "a.toml:11: load.force_n: got true, allowed a number from 0.01 to 500 N "
        "(true and false are not numbers)",
    ),
    (
        "force_n = 20.0",
        "force_n = 1" + 400 * "0",
        "a.toml:11: load.force_n: got a whole number of more than 15 digits, "
        "allowed a number from 0.01 to 500 N",
    ),
    (
        "force_n = 20.0",
        "force_n = 20.0\nfriction = 1.5",
        "a.toml:12: load.friction: got 1.5, allowed a number from 0 to 1",
    ),
    (
        "force_n = 20.0",
        "force_n = 20.0\nmuscle_activation = -0.1",
        "a.toml:12: load.muscle_activation: got -0.1, allowed a number from 0 to 1",
    ),
    (
        "force_n = 20.0",
        "force_n = 20.0\nmouth_pressure_kpa = 4000",
        "a.toml:12: load.mouth_pressure_kpa: got 4000, allowed a number from 0 to 100 kPa "
        "(another unit? 4000 Pa would be 4 kPa)",
    ),
    (
        "force_n = 20.0",
        'preset = "trumpet-lout"',
        'a.toml:11: load.preset: got "trumpet-lout", allowed one of '
        '"trumpet-soft", "trumpet-typical", "trumpet-loud", "trumpet-limit", '
        '"horn-soft", "horn-typical", "horn-loud", "horn-limit", '
        '"trombone-soft", "trombone-typical", "trombone-loud", "trombone-limit", '
        '"tuba-soft", "tuba-typical", "tuba-loud", "tuba-limit" (did you mean "trumpet-loud"?)',
    ),
    (
        "thickness_mm = 8.0",
        "thickness_mm = 0.0",
        "a.toml:8: lip.layer[0].thickness_mm: got 0, allowed a number above 0 up to 60 mm",
    ),
    (
        "thickness_mm = 8.0",
        "thickness_mm = 8.0\npoisson_ratio = 0.51",
        "a.toml:9: lip.layer[0].poisson_ratio: got 0.51, allowed a number from 0 to 0.5",
    ),
    (
        "thickness_mm = 8.0",
        "thickness_mm = 8.0\nstiffening_kpa = [1.0, nan]",
        "a.toml:9: lip.layer[0].stiffening_kpa: got [1, nan], allowed two numbers, each from 0 to 50000 kPa",
    ),
    (
        "thickness_mm = 8.0",
        'thickness_mm = 8.0\nmuscle = "true"',
        'a.toml:9: lip.layer[0].muscle: got "true", allowed true or false (without quotes)',
    ),
    (
        "thickness_mm = 8.0",
        "thickness_mm = 8.0\nactive_stress_kpa = 50.0",
        "a.toml:9: lip.layer[0].active_stress_kpa: got 50, allowed left out in a layer without muscle "
        "(set muscle = true, or leave it out)",
    ),
    (
        "shear_modulus_kpa = 30.0",
        "shear_modulus_kpa = 0.03",
        "a.toml:9: lip.layer[0].shear_modulus_kpa: got 0.03, allowed a number from 0.1 to 5000 kPa "
        "(another unit? 0.03 MPa would be 30 kPa, 0.03 bar would be 3 kPa)",
    ),
    (
        "inner_diameter_mm = 16.5",
        "inner_diameter_mm = 0.65",
        "a.toml:3: rim.inner_diameter_mm: got 0.65, allowed a number from 5 to 60 mm "
        "(another unit? 0.65 cm would be 6.5 mm, 0.65 in would be 16.51 mm)",
    ),
    (
        "radius_mm = 25.0",
        'radius_mm = 25.0\nbacking = "boned"',
        'a.toml:7: lip.backing: got "boned", allowed "bonded" or "sliding" (did you mean "bonded"?)',
    ),
    (
        "radius_mm = 25.0",
        "radius_mm = 12.0",
        "a.toml:6: lip.radius_mm: got 12, allowed more than 13.45 mm, the rim's outer radius "
        "(the rim is wider than the lip disc)",
    ),
    (
        "radius_mm = 25.0",
        "radius_mm = 25.0\nopening_radius_mm = 9.0",
        "a.toml:7: lip.opening_radius_mm: got 9, allowed less than 8.25 mm, the rim's inner radius "
        "(the rim would press on the opening)",
    ),
    (
        "radius_mm = 25.0",
        "radius_mm = 25.0\ntooth_gap_radius_mm = 25.0",
        "a.toml:7: lip.tooth_gap_radius_mm: got 25, allowed less than 25 mm, the lip's radius_mm",
    ),
    (
        "radius_mm = 25.0",
        "radius_mm = 25.0\nfold_radius_mm = 500",
        "a.toml:7: lip.fold_radius_mm: got 500, allowed a number from 5 to 100 mm",
    ),
    (
        "thickness_mm = 8.0",
        "thickness_mm = 8.0\nmuscle_outer_radius_mm = 17.0",
        "a.toml:9: lip.layer[0].muscle_outer_radius_mm: got 17, allowed left out in a layer without muscle "
        "(set muscle = true, or leave it out)",
    ),
    (
        "radius_mm = 25.0\n[[lip.layer]]\nthickness_mm = 8.0",
        "radius_mm = 25.0\nopening_radius_mm = 2.0\n[[lip.layer]]\nthickness_mm = 8.0\nmuscle = true\n"
        "muscle_outer_radius_mm = 2.0",
        "a.toml:11: lip.layer[0].muscle_outer_radius_mm: got 2, allowed more than 2 mm, the lip's opening_radius_mm",
    ),
    (
        "radius_mm = 25.0",
        'radius_mm = 25.0\ntype = "average"',
        "a.toml:7: lip.type: got type together with layer, "
        "allowed either a type of the library or one or more [[lip.layer]]",
    ),
    (
        "[[lip.layer]]",
        "[lip.layer]",
        "a.toml:7: lip.layer: got a table, allowed one or more [[lip.layer]] (two brackets: [[lip.layer]])",
    ),
    (
        "[load]",
        "[[load]]",
        "a.toml:10: load: got a list of 1, allowed a table [load] (single brackets: there is one of them)",
    ),
    (
        "width_mm = 5.2",
        "width_mm = 5.2\nbite_radius_mm = 4.0",
        "a.toml:5: rim.bite_radius_mm: got 4, allowed at most 3.309 mm for this width and high point "
        "(move the high point outwards or widen the rim)",
    ),
    (
        "width_mm = 5.2",
        "width_mm = 3.0",
        "a.toml:2: rim.shoulder_radius_mm: got 1.8, allowed at most 1.65 mm for this width and high point "
        "(it is the default: give a value of your own, or move the high point inwards or widen the rim)",
    ),
    (
        "width_mm = 5.2",
        "width_mm = 5.2\noutline_mm = [[8.0, 3.0, 1.0], [13.0, 3.0, 0.0]]",
        "a.toml:5: rim.outline_mm: got outline_mm together with inner_diameter_mm, width_mm, "
        "allowed either dimensions, or outline_mm, or trace",
    ),
    (
        "inner_diameter_mm = 16.5\nwidth_mm = 5.2",
        'trace = "nosuch.csv"',
        'a.toml:3: rim.trace: got "nosuch.csv", no such file, allowed a readable file of r, s points '
        "(looked for nosuch.csv)",
    ),
    (
        "inner_diameter_mm = 16.5\nwidth_mm = 5.2",
        'trace = "."',
        'a.toml:3: rim.trace: got ".", a directory, allowed a readable file of r, s points (looked for .)',
    ),
    (
        "[load]",
        "[acuracy]\npeak_pressure_percent = 1.0\n[load]",
        "a.toml:10: acuracy: got an unknown key, allowed one of schema, title, rim, lip, load, accuracy, off_axis, "
        "readings (did you mean accuracy?)",
    ),
    (
        "[load]",
        "[off_axis]\ntilt_deg = -1\n[load]",
        "a.toml:11: off_axis.tilt_deg: got -1, allowed a number from 0 to 45 deg",
    ),
    (
        "[load]",
        "[off_axis]\narch_radius_mm = 12.0\n[load]",
        "a.toml:11: off_axis.arch_radius_mm: got 12, allowed more than 12.5 mm, half the lip's radius_mm "
        "(the teeth would turn back under the lip)",
    ),
    (
        "[load]",
        "[off_axis]\nlower_lip_thickness_mm = 9.0\n[load]",
        "a.toml:11: off_axis.lower_lip_thickness_mm: got an unknown key, allowed one of tilt_deg, arch_radius_mm, "
        "lower_lip_stiffness, lower_lip_thickness (give lower_lip_thickness, as many times the upper lip's)",
    ),
]


@pytest.mark.parametrize(
    ("old", "new", "message"), ONE_FAULT, ids=[m.split(": ")[1] for _, _, m in ONE_FAULT]
)
def test_one_fault_is_told_in_these_words(old: str, new: str, message: str) -> None:
    assert old in BASE
    assert faults_of(BASE.replace(old, new, 1)) == [message]


def test_every_fault_of_a_case_is_told_in_one_pass_in_the_order_of_the_file() -> None:
    text = """\
schema = 1
titel = "x"
[rim]
inner_diameter_cm = 1.65
width_mm = 30
cup_wall_angle_deg = 30.0
[lip]
radius_mm = "wide"
[[lip.layer]]
thickness_mm = -1
shear_modulus_kpa = 30
[[lip.layer]]
shear_modulus_kpa = nan
[load]
force_n = 0
friction = 2
"""
    faults = faults_of(text)
    assert [re.match(r"a\.toml:(\d+): ([^:]+):", fault).groups() for fault in faults] == [  # type: ignore[union-attr]
        ("2", "titel"),
        ("3", "rim.inner_diameter_mm"),
        ("4", "rim.inner_diameter_cm"),
        ("5", "rim.width_mm"),
        ("6", "rim.cup_wall_angle_deg"),
        ("8", "lip.radius_mm"),
        ("10", "lip.layer[0].thickness_mm"),
        ("12", "lip.layer[1].thickness_mm"),
        ("13", "lip.layer[1].shear_modulus_kpa"),
        ("15", "load.force_n"),
        ("16", "load.friction"),
    ]


def test_a_rim_too_wide_for_the_lip_is_told_beside_a_fault_of_the_rim_itself() -> None:
    text = BASE.replace("width_mm = 5.2", "width_mm = 5.2\nhigh_point = 2.0").replace("25.0", "13.0")
    assert [fault.split(": ")[1] for fault in faults_of(text)] == ["rim.high_point", "lip.radius_mm"]


def test_a_geometry_fault_is_told_beside_a_fault_of_another_table() -> None:
    text = BASE.replace("width_mm = 5.2", "width_mm = 5.2\nbite_radius_mm = 4.0").replace("20.0", "-1")
    assert [fault.split(": ")[1] for fault in faults_of(text)] == ["rim.bite_radius_mm", "load.force_n"]


def test_empty_case_names_everything_that_is_needed() -> None:
    assert [fault.split(": ")[1] for fault in faults_of("")] == [
        "schema",
        "rim.inner_diameter_mm",
        "rim.width_mm",
        "lip",
        "load.force_n",
    ]


OUTLINE = """\
schema = 1
[rim]
outline_mm = [
  [8.25, 7.5, 0.0],
  [8.25, 2.5, 1.0],
  [13.25, 2.5, 0.0],
  [13.25, 7.5, 0.0],
]
[lip]
type = "average"
[load]
force_n = 5.0
"""


def test_every_bad_row_of_an_outline_is_told_on_its_own_line() -> None:
    text = OUTLINE.replace("[8.25, 7.5, 0.0]", "[8.25, 7.5]").replace(
        "[13.25, 2.5, 0.0]", "[13.25, inf, true]"
    )
    allowed = "allowed a list of 2 to 500 rows [r, s, bulge]"
    assert faults_of(text) == [
        f"a.toml:4: rim.outline_mm[0]: got 2 numbers, {allowed}",
        f"a.toml:6: rim.outline_mm[2]: got [13.25, inf, true], {allowed} (finite numbers only)",
    ]


def test_an_outline_that_crosses_itself_is_told_with_the_place() -> None:
    crossing = "  [13.25, 2.5, 0.0],\n  [13.25, 7.5, 0.0],\n  [7.0, 5.0, 0.0],\n"
    text = OUTLINE.replace("  [13.25, 2.5, 0.0],\n  [13.25, 7.5, 0.0],\n", crossing)
    faults = faults_of(text)
    assert faults[0].startswith("a.toml:3: rim.outline_mm: got an outline that ")
    assert "itself at r = 8.25 mm, s = 5.5 mm" in faults[0]


def test_a_corner_of_an_outline_is_told_on_the_line_of_its_vertex() -> None:
    text = OUTLINE.replace("[8.25, 2.5, 1.0]", "[8.25, 2.5, 0.5]")
    assert any(fault.startswith("a.toml:5: rim.outline_mm[1]: got a sharp edge") for fault in faults_of(text))


SYNTAX = [
    ("a = = 1\n", 'a.toml:1: syntax: got "a = = 1", allowed valid TOML (invalid value, column 5)'),
    (
        "a = 1\n[b]\nc 2\n",
        'a.toml:3: syntax: got "c 2", allowed valid TOML '
        "(expected '=' after a key in a key/value pair, column 3)",
    ),
    (
        "a = 1\na = 2\n",
        'a.toml:2: syntax: got "a = 2", allowed valid TOML (cannot overwrite a value, column 6)',
    ),
]


@pytest.mark.parametrize(("text", "message"), SYNTAX)
def test_a_slip_of_syntax_is_told_with_its_line(text: str, message: str) -> None:
    assert faults_of(text) == [message]


def test_an_unfinished_file_is_told_at_its_last_line() -> None:
    (fault,) = faults_of('a = 1\nb = """x')
    assert fault.startswith("a.toml:2: syntax: ")


def test_brackets_without_end_are_a_fault_and_not_a_crash() -> None:
    (fault,) = faults_of("a = " + 5000 * "[" + 5000 * "]")
    assert fault == "a.toml:1: file: got brackets within brackets without end, allowed valid TOML"


def test_unreadable_files_are_told_apart(tmp_path: Path) -> None:
    def message(place: Path) -> str:
        with pytest.raises(InvalidCase) as caught:
            read_case(str(place))
        return str(caught.value).removeprefix(str(place))

    allowed = "allowed a readable TOML file or the name of a shipped case"
    assert message(tmp_path) == f": file: got a directory, {allowed}"
    assert message(tmp_path / "no.toml").startswith(
        f": file: got no such file, {allowed} (shipped cases: demo, "
    )
    (tmp_path / "latin.toml").write_bytes("schema = 1\ntitle = 'Länge'\n".encode("latin-1"))
    assert message(tmp_path / "latin.toml") == (
        ":2: file: got byte 0xe4, allowed a text in UTF-8 (save the file as UTF-8)"
    )
    (tmp_path / "huge.toml").write_bytes(b"#" * 3_000_000)
    assert message(tmp_path / "huge.toml") == f": file: got more than 256000 bytes, {allowed}"


def test_a_mistyped_shipped_case_gets_the_nearest_name() -> None:
    with pytest.raises(InvalidCase) as caught:
        read_case("demmo")
    assert 'did you mean "demo"?' in str(caught.value)


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(b"\xef\xbb\xbf" + BASE.replace("\n", "\r\n").encode())
    assert read_case(str(tmp_path / "a.toml")).problem.load.force == 20.0


def test_a_key_that_would_steer_the_terminal_is_written_out() -> None:
    faults = faults_of('"\\u001b[2Jred" = 1\n' + BASE)
    assert faults[0].startswith("a.toml:1: \\x1b[2Jred: got an unknown key")


def test_faults_of_a_table_that_was_no_text_have_no_line() -> None:
    with pytest.raises(InvalidCase) as caught:
        case_from_table({"schema": 1}, "sweep 7")
    assert caught.value.faults[0].line is None
    assert str(caught.value).startswith("sweep 7: rim.inner_diameter_mm: got nothing")


def test_faults_cross_a_process_border() -> None:
    with pytest.raises(InvalidCase) as caught:
        case_from_table({})
    assert pickle.loads(pickle.dumps(caught.value)).faults == caught.value.faults


@pytest.mark.parametrize(
    "path", [("rim", "width_mm"), ("lip", "layer", 12, "name"), ("rim", "outline_mm", 0)]
)
def test_a_dotted_key_reads_back_as_its_path(path: tuple[str | int, ...]) -> None:
    assert path_of(dotted(path)) == path


ALL_KEYS = [(table, name) for table in (TOP, RIM, LIP, LAYER, LOAD, ACCURACY) for name in table.names]
EDITS = st.tuples(st.sampled_from(["drop", "double", "swap"]), st.integers(0, 100))


@given(st.sampled_from(ALL_KEYS), EDITS)
def test_a_typo_in_any_key_gets_the_nearest_name(key: tuple[KeyTable, str], edit: tuple[str, int]) -> None:
    table, name = key
    kind, where = edit
    i = where % (len(name) - 1)
    typo = {
        "drop": name[:i] + name[i + 1 :],
        "double": name[:i] + name[i] + name[i:],
        "swap": name[:i] + name[i + 1] + name[i] + name[i + 2 :],
    }[kind]
    if typo not in table.names:
        assert f"did you mean {name}" in unknown_key_hint(typo, None, table)


@given(st.sampled_from([k for k in ALL_KEYS if k[1].endswith(("_mm", "_n", "_kpa", "_deg"))]))
def test_a_key_without_its_unit_gets_the_key_with_it(key: tuple[KeyTable, str]) -> None:
    table, name = key
    hint = unknown_key_hint(name.rpartition("_")[0], 1.0, table)
    assert hint == f"did you mean {name}? the unit stands in the key" or hint in table.advice.values()


@given(st.text(max_size=60))
def test_no_text_whatever_makes_the_reader_crash(text: str) -> None:
    with pytest.raises(InvalidCase):
        case_from_text(text)


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@given(
    st.dictionaries(
        st.sampled_from(["schema", "title", "rim", "lip", "load", "accuracy"]),
        JUNK | st.dictionaries(st.sampled_from([name for _, name in ALL_KEYS]), JUNK, max_size=4),
    )
)
def test_no_values_whatever_make_the_reader_crash(raw: dict[str, object]) -> None:
    with pytest.raises(InvalidCase):
        case_from_table(raw)
