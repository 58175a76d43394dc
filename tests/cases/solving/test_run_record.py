"""What a run leaves behind: every file of the folder, whole or marked as not."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import meshio
import numpy as np
import pytest

from labrum.cases.case_file.reading import case_from_table, read_case
from labrum.cases.solving.provenance import checkout_state
from labrum.cases.solving.record import FolderRecord
from labrum.cases.solving.run_folder import RunFolder, UnusableFolder, free_name
from labrum.cases.solving.vtu import write_fields
from labrum.simulate.outcome import Mode, Outcome
from labrum.simulate.problem import NotConverged, Problem, Progress

OutcomeOf = Callable[[Problem], Outcome]


def fixed_clock() -> datetime:
    return datetime(2024, 5, 6, 7, 8, 9, tzinfo=UTC)


def draw(outcome: Outcome, title: str, folder: Path) -> None:
    (folder / "pressure.svg").write_text(title)


@pytest.fixture
def record(tmp_path: Path) -> FolderRecord:
    case = read_case("demo")
    return FolderRecord.begin(
        tmp_path / "runs" / "demo", case, ("labrum", "solve", "demo"), draw, fixed_clock
    )


def test_nothing_bears_the_name_before_it_is_whole(record: FolderRecord) -> None:
    record.progress(Progress("press", 1.0, 1, 0.1, 0.2, 900))
    assert not record.folder.target.exists()
    assert (record.folder.place / "log.txt").read_text().startswith("press")


def test_a_converged_run_leaves_every_file(record: FolderRecord, outcome_of: OutcomeOf) -> None:
    kept = record.converged(outcome_of(record.case.problem))
    assert kept == record.folder.target
    assert {str(path.relative_to(kept)) for path in kept.rglob("*") if path.is_file()} == {
        "README.txt",
        "case.resolved.json",
        "case.toml",
        "fields.vtu",
        "figures/pressure.svg",
        "history.csv",
        "provenance.json",
        "result.json",
    }
    assert list(kept.parent.iterdir()) == [kept]


def test_the_case_is_kept_to_the_byte(tmp_path: Path, case_text: str, outcome_of: OutcomeOf) -> None:
    given = b"\xef\xbb\xbf" + case_text.replace("\n", "\r\n").encode()
    (tmp_path / "mine.toml").write_bytes(given)
    case = read_case(str(tmp_path / "mine.toml"))
    kept = FolderRecord.begin(tmp_path / "run", case, (), draw, fixed_clock).converged(
        outcome_of(case.problem)
    )
    assert (kept / "case.toml").read_bytes() == given
    resolved = json.loads((kept / "case.resolved.json").read_text())
    assert case_from_table(resolved).resolved == case.resolved
    facts = json.loads((kept / "provenance.json").read_text())
    assert facts["sha256"] == {"case.toml": hashlib.sha256(given).hexdigest()}


def test_provenance_says_where_a_result_came_from(record: FolderRecord, outcome_of: OutcomeOf) -> None:
    kept = record.converged(outcome_of(record.case.problem))
    facts = json.loads((kept / "provenance.json").read_text())
    assert facts["status"] == "converged"
    assert facts["command"] == ["labrum", "solve", "demo"]
    assert facts["started_utc"] == facts["ended_utc"] == "2024-05-06T07:08:09+00:00"
    assert facts["libraries"]["numpy"] == np.__version__
    assert facts["from_library"] == {"lip": "average"}
    assert {"labrum", "git", "python", "platform", "processors", "threads"} <= set(facts)


def test_history_has_a_row_an_iteration(record: FolderRecord, outcome_of: OutcomeOf) -> None:
    kept = record.converged(outcome_of(record.case.problem))
    rows = list(csv.DictReader((kept / "history.csv").read_text().splitlines()))
    assert [
        (row["step"], row["stage"], row["iteration"], float(row["relative_residual"])) for row in rows
    ] == [
        ("1", "touch", "1", 1e-1),
        ("1", "touch", "2", 1e-5),
        ("1", "touch", "3", 1e-10),
        ("2", "press", "1", 1e-3),
        ("2", "press", "2", 1e-9),
    ]
    assert [row["contact_changes"] for row in rows] == ["4", "0", "", "1", ""]


def test_fields_read_back_as_they_were_written(tmp_path: Path, outcome_of: OutcomeOf) -> None:
    section = outcome_of(read_case("demo").problem).section
    write_fields(section, tmp_path / "fields.vtu")
    mesh = meshio.read(tmp_path / "fields.vtu")
    assert np.array_equal(mesh.points, np.column_stack([section.rest, np.zeros(15)]))
    assert np.array_equal(mesh.cells_dict["quad9"], section.quads)
    move = mesh.point_data["displacement [mm]"]
    assert np.allclose((mesh.points + move)[:, :2], section.deformed, atol=1e-15)
    assert np.array_equal(mesh.point_data["stress [kPa]"][:, :4], section.cauchy_kpa)
    assert np.array_equal(mesh.point_data["stretch [-]"], section.stretch)
    assert np.array_equal(mesh.cell_data["layer"][0], section.layer)


def test_a_mode_reads_back_as_a_displacement_in_space(tmp_path: Path, outcome_of: OutcomeOf) -> None:
    section = outcome_of(read_case("demo").problem).section
    shape = np.random.default_rng(1).uniform(-1.0, 1.0, section.rest.shape)
    write_fields(section, tmp_path / "fields.vtu", Mode(300.0, 0.5, shape))
    found = meshio.read(tmp_path / "fields.vtu").point_data["mode [-]"]
    assert np.array_equal(found, np.column_stack([shape, np.zeros(len(shape))]))


def test_cells_stand_in_the_order_a_viewer_expects(tmp_path: Path, outcome_of: OutcomeOf) -> None:
    """VTK's biquadratic quadrilateral, type 28 (VTK file formats, from memory): corners, midsides, centre."""
    write_fields(outcome_of(read_case("demo").problem).section, tmp_path / "fields.vtu")
    mesh = meshio.read(tmp_path / "fields.vtu")
    for cell in mesh.cells_dict["quad9"]:
        corners, midsides, centre = mesh.points[cell[:4]], mesh.points[cell[4:8]], mesh.points[cell[8]]
        assert np.allclose(midsides, 0.5 * (corners + np.roll(corners, -1, axis=0)))
        assert np.allclose(centre, corners.mean(axis=0))
        turn = np.cross(np.roll(corners, -1, axis=0) - corners, np.roll(corners, -2, axis=0) - corners)
        assert (turn[:, 2] > 0).all()


def test_an_unconverged_run_keeps_log_and_history_and_no_number(
    record: FolderRecord, outcome_of: OutcomeOf
) -> None:
    history = outcome_of(record.case.problem).history
    kept = record.failed(NotConverged(9.6, "the mesh folded", "press less hard", history), "stopped")
    result = json.loads((kept / "result.json").read_text())
    assert (result["status"], result["force_reached_n"], result["cause"]) == (
        "not converged",
        9.6,
        "the mesh folded",
    )
    assert not any(name.endswith(("_kpa", "_mm", "_mm2", "_mm3")) for name in result)
    assert (kept / "NOT-CONVERGED.txt").exists()
    assert "stopped" in (kept / "log.txt").read_text()
    assert len((kept / "history.csv").read_text().splitlines()) == 6
    assert json.loads((kept / "provenance.json").read_text())["status"] == "not converged"


def test_an_interrupted_run_keeps_its_log(record: FolderRecord) -> None:
    record.progress(Progress("press", 1.0, 1, 0.1, 0.2, 900))
    kept = record.failed(KeyboardInterrupt(), "interrupted by the user")
    assert (kept / "INTERRUPTED.txt").exists()
    assert "force    1.000 N" in (kept / "log.txt").read_text()


def test_files_the_case_drew_on_are_copied_and_pointed_at(tmp_path: Path, outcome_of: OutcomeOf) -> None:
    from dataclasses import replace

    (tmp_path / "log.txt").write_text("1,2\n")
    demo = read_case("demo")
    resolved = {**demo.resolved, "rim": {"trace": "../log.txt"}}
    case = replace(demo, inputs=(tmp_path / "log.txt",), resolved=resolved)
    kept = FolderRecord.begin(tmp_path / "run", case, (), draw, fixed_clock).converged(
        outcome_of(case.problem)
    )
    assert (kept / "inputs" / "log.txt").read_text() == "1,2\n"
    assert json.loads((kept / "case.resolved.json").read_text())["rim"] == {"trace": "inputs/log.txt"}
    assert set(json.loads((kept / "provenance.json").read_text())["sha256"]) == {
        "case.toml",
        "inputs/log.txt",
    }


def test_a_folder_in_use_is_never_written_over(tmp_path: Path) -> None:
    (tmp_path / "run").mkdir()
    (tmp_path / "run" / "precious").write_text("x")
    with pytest.raises(UnusableFolder, match="exists and is not empty: name another folder, or write over it"):
        RunFolder.begin(tmp_path / "run")
    (tmp_path / "file").write_text("x")
    with pytest.raises(UnusableFolder):
        RunFolder.begin(tmp_path / "file")
    with pytest.raises(UnusableFolder, match="cannot write to"):
        RunFolder.begin(tmp_path / "file" / "run")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["file", "run"]


def test_an_empty_folder_is_used(tmp_path: Path) -> None:
    (tmp_path / "run").mkdir()
    assert RunFolder.begin(tmp_path / "run").finish() == tmp_path / "run"


def test_the_folder_one_stands_in_may_be_filled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "run").mkdir()
    monkeypatch.chdir(tmp_path / "run")
    RunFolder.begin(Path()).finish()
    assert (tmp_path / "run" / "README.txt").exists()


def test_a_name_taken_meanwhile_gets_a_number(tmp_path: Path) -> None:
    folder = RunFolder.begin(tmp_path / "run")
    (tmp_path / "run").mkdir()
    (tmp_path / "run" / "theirs").write_text("x")
    assert folder.finish() == tmp_path / "run-2"
    assert free_name(tmp_path / "run") == tmp_path / "run-3"
    assert (tmp_path / "run" / "theirs").exists()


def test_a_folder_outside_any_checkout_has_no_commit(tmp_path: Path) -> None:
    (tmp_path / "__init__.py").write_text("")
    assert checkout_state(tmp_path) is None
