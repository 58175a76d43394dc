"""``labrum shortlist`` and ``labrum handover``: faults and exit codes, and what is handed over."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import Result

from labrum.cases.handing_over.parcel import archive

Labrum = Callable[..., Result]


def test_all_that_a_sheet_lacks_is_told_at_once(labrum: Labrum, tmp_path: Path) -> None:
    (tmp_path / "s.toml").write_text('schema = 1\ninstrument = "horn"\n')
    done = labrum("shortlist", "s.toml")
    assert (done.exit_code, done.stdout) == (3, "")
    assert "present.rim" in done.stderr
    assert "complaints" in done.stderr


def test_a_step_no_shop_makes_is_a_usage_fault(labrum: Labrum) -> None:
    done = labrum("shortlist", "demo-player", "--step", "3")
    assert done.exit_code == 2
    assert "--step" in done.stderr


@pytest.mark.parametrize(("text", "words"), [(None, "labrum shortlist"), ("{", "no JSON"), ("{}", "schema")])
def test_a_folder_that_holds_no_shortlist(labrum: Labrum, tmp_path: Path, text: str | None, words: str) -> None:
    (tmp_path / "kept").mkdir()
    if text is not None:
        (tmp_path / "kept" / "shortlist.json").write_text(text)
    done = labrum("handover", "kept")
    assert done.exit_code == 3
    assert words in done.stderr


def test_options_of_the_cut_are_looked_at_first(labrum: Labrum) -> None:
    done = labrum("handover", "nowhere", "--unit", "cubit")
    assert done.exit_code == 2
    assert "--unit" in done.stderr


def test_the_same_files_give_the_same_archive(tmp_path: Path) -> None:
    files = {"b.txt": b"two", "a/c.txt": b"one"}
    for name in ("one.zip", "two.zip"):
        archive(tmp_path / name, files)
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "one.zip") as packed:
        assert packed.testzip() is None
        assert {name: packed.read(name) for name in packed.namelist()} == files


@pytest.mark.slow
def test_from_sheet_to_parcel(labrum: Labrum, tmp_path: Path) -> None:
    done = labrum("shortlist", "demo-player", "--out", "kept", "--lips", "2", "--json", solver=None)
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    best = max(told["rims"], key=lambda one: one["reliefs"]["cuts"])
    assert best["measures"]["peak_pressure_kpa"] < told["present"]["measures"]["peak_pressure_kpa"]
    stem = told["rims"][0]["kind"].replace(" ", "-")
    assert labrum("handover", "kept", "--rim", stem, "--out", "hand", solver=None).exit_code == 0
    assert {"page.html", "CONTENTS.txt", "shop/outline.dxf", "shop/toolpath.csv", "cases/recommended.toml"} <= set(
        zipfile.ZipFile(tmp_path / "hand.zip").namelist()
    )
    page = (tmp_path / "hand" / "page.html").read_text()
    for field in ("Player", "Date", "Maker", "Material", "Finish", "Cautions"):
        assert field in page
    assert labrum("handover", "kept", "--rim", "widest").exit_code == 3
