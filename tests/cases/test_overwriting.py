"""What stands at a target: written over only when asked, and only where a command of ours wrote it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import Result

from labrum.cases.exits import CannotDo
from labrum.cases.overwriting import UnusableFolder, put_in_place, refuse_taken_file, refuse_taken_folder

Labrum = Callable[..., Result]


def test_a_former_run_is_replaced_whole_with_force_only(labrum: Labrum, tmp_path: Path) -> None:
    assert labrum("solve", "demo", "--out", "here").exit_code == 0
    (tmp_path / "here" / "stale").write_text("x")
    again = labrum("solve", "demo", "--out", "here")
    assert again.exit_code == 2
    assert "--force" in again.stderr
    assert labrum("solve", "demo", "--out", "here", "--force").exit_code == 0
    assert (tmp_path / "here" / "result.json").exists()
    assert not (tmp_path / "here" / "stale").exists()
    assert [path.name for path in tmp_path.iterdir()] == ["here"]


def test_a_former_run_stands_until_the_new_one_is_whole(labrum: Labrum, tmp_path: Path) -> None:
    assert labrum("solve", "demo", "--out", "here").exit_code == 0
    before = (tmp_path / "here" / "result.json").read_bytes()

    def watching(problem: object, progress: object) -> None:
        assert (tmp_path / "here" / "result.json").read_bytes() == before
        raise KeyboardInterrupt

    labrum("solve", "demo", "--out", "here", "--force", solver=watching)
    assert (tmp_path / "here" / "INTERRUPTED.txt").exists()


def test_what_no_command_wrote_is_never_replaced(labrum: Labrum, tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "precious.jpg").write_text("x")
    (tmp_path / "link").symlink_to(tmp_path / "photos")
    (tmp_path / "file").write_text("x")
    for name in ("photos", "link", "file"):
        with pytest.raises(UnusableFolder, match="was not written by labrum"):
            refuse_taken_folder(tmp_path / name, force=True)
    done = labrum("solve", "demo", "--out", "photos", "--force")
    assert done.exit_code == 2
    assert (tmp_path / "photos" / "precious.jpg").exists()


def test_a_new_or_empty_folder_is_refused_to_nobody(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    for name in ("empty", "new"):
        refuse_taken_folder(tmp_path / name, force=False)
    assert [path.name for path in tmp_path.rglob("*")] == ["empty"]  # and nothing is made or taken away by asking


def test_a_file_is_refused_unless_forced_and_a_folder_always(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("x")
    with pytest.raises(CannotDo, match="--force"):
        refuse_taken_file(tmp_path / "page.html", force=False)
    refuse_taken_file(tmp_path / "page.html", force=True)
    with pytest.raises(CannotDo, match="is a folder"):
        refuse_taken_file(tmp_path, force=True)


def test_what_stood_there_comes_back_where_the_new_one_cannot_stand(tmp_path: Path) -> None:
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "result.json").write_text("x")
    with pytest.raises(OSError, match="No such file"):
        put_in_place(tmp_path / "gone", tmp_path / "here")
    assert [path.name for path in tmp_path.iterdir()] == ["here"]


def test_the_place_a_command_runs_in_is_never_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "result.json").write_text("x")
    (tmp_path / "within").mkdir()
    monkeypatch.chdir(tmp_path / "within")
    with pytest.raises(UnusableFolder, match="is where this command runs"):
        refuse_taken_folder(tmp_path, force=True)
