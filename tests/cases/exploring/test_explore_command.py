"""The commands ``explore`` and ``lessons``: what they refuse before anything is opened or solved."""

from __future__ import annotations

import socket
import sys
from pathlib import Path

import pytest

from labrum.cases.exploring.export import ExportOrder, run_export
from labrum.cases.exploring.start import ExploreOrder, run_explore, usual_memory


def test_an_invalid_case_ends_with_its_faults(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("schema = 1\n[rim]\nwidht_mm = 5\n")
    assert run_explore(ExploreOrder(str(bad), browser=False, forget=True)) == 3
    assert "bad.toml:3: rim.widht_mm" in capsys.readouterr().err


def test_a_taken_port_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("uvicorn")
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert run_explore(ExploreOrder(port=port, browser=False, forget=True)) == 2
    told = capsys.readouterr()
    assert f"cannot listen on port {port}" in told.err
    assert told.out == ""


def test_a_missing_extra_is_named(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    monkeypatch.delitem(sys.modules, "labrum.cases.exploring.server", raising=False)  # a test before may have loaded it
    assert run_explore(ExploreOrder(browser=False, forget=True)) == 2
    assert "pip install 'labrum[explore]'" in capsys.readouterr().err


def test_lessons_need_a_folder_to_go_to(capsys: pytest.CaptureFixture[str]) -> None:
    assert run_export(ExportOrder(Path("nowhere/lessons.html"))) == 2
    assert "there is no folder nowhere" in capsys.readouterr().err


def test_memory_lies_in_the_cache_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert usual_memory() == tmp_path / "labrum" / "explored.sqlite"
