"""A player's sheet: what it takes, and every fault of it at once with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.library.shelf import demo_place, sheet_names, sheet_text
from labrum.cases.player.sheet import read_sheet, sheet_from_text

FAULTY = """\
schema = 1
instrument = "trumpt"
complaints = ["cut", "tires"]
name = "somebody"
[lips]
thickness_mm = 12.0
[forces]
soft_n = 20.0
loud_n = 5.0
[[press]]
rim = "demmo"
force_n = 10.0
[[press]]
rim = "demo"
force_n = 10.0
print_inner_diameter_mm = 8.2
[present]
rim = "nosuch.csv"
"""


def faults_of(text: str) -> list[str]:
    with pytest.raises(InvalidCase) as caught:
        sheet_from_text(text, "s.toml")
    return str(caught.value).splitlines()


@pytest.mark.parametrize("name", sheet_names())
def test_every_shipped_sheet_reads(name: str) -> None:
    assert read_sheet(name).instrument == "trumpet"


def test_the_sheet_to_fill_in_reads_with_everything_filled_in() -> None:
    """Each commented key of it is one: taken out of its comment, the whole still reads."""
    lines = [
        line.removeprefix("# ") if line.startswith("# ") and ("= " in line or line.startswith("# [")) else line
        for line in sheet_text("sheet").replace("my-rim.toml", "demo").splitlines()
    ]
    sheet = sheet_from_text("\n".join(lines), "filled.toml", demo_place())
    assert (sheet.alias, sheet.lips.thickness, sheet.forces["loud"]) == ("Curlew", 12.0, 38.0)
    assert sheet.presses[0].lengths == (1.4, 16.6, 25.4)
    assert sheet.complaints == ("cuts", "feels small")
    assert sheet.present is not None


def test_every_fault_is_told_at_once_with_its_line() -> None:
    told = faults_of(FAULTY)
    assert [line.split(": ")[0] for line in told] == [
        f"s.toml:{line}" for line in (2, 3, 4, 5, 9, 10, 11, 16, 18)
    ]
    assert "alias" in told[2]
    assert 'did you mean "demo"?' in told[6]


def test_what_belongs_elsewhere_is_sent_there() -> None:
    (told,) = faults_of('schema = 1\ninstrument = "horn"\n[lips]\nforce_n = 10.0\n')
    assert "[[press]]" in told


def test_a_trace_and_a_case_of_ones_own_count_from_the_sheet(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text((demo_place() / "thin-wide.toml").read_text())
    (tmp_path / "trace.csv").write_bytes((demo_place() / "demo-trace.csv").read_bytes())
    (tmp_path / "s.toml").write_text(
        'schema = 1\ninstrument = "trumpet"\n[present]\nrim = "trace.csv"\n'
        '[[press]]\nrim = "mine.toml"\nforce_n = 10\nsink_mm = 1.0\n'
    )
    sheet = read_sheet(str(tmp_path / "s.toml"))
    assert sheet.present is not None
    assert sheet.present.dimensions is None
    assert Path(sheet.present.table["trace"]).is_absolute()
    assert sheet.presses[0].rim.dimensions is not None


def test_only_what_is_known_is_filled_in() -> None:
    sheet = sheet_from_text('schema = 1\ninstrument = "tuba"\n')
    assert (sheet.forces, sheet.presses, sheet.present, sheet.complaints) == ({}, (), None, ())
