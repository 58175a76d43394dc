"""The command as a person or a script meets it: exit codes, what is on stdout, what is on stderr."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import Result

from labrum.cases.case_file.reading import read_case
from labrum.cases.solving.result import as_json
from labrum.cases.solving.screen import Narrator, may_colour
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.problem import NotConverged, Progress

Labrum = Callable[..., Result]


def stopping(problem: Any, progress: Any) -> None:
    progress(Progress("press", 9.6, 7, 0.3, 4.9, 900))
    raise NotConverged(9.61, "the mesh folded under the bite", "try less force or a rounder bite")


def interrupted(problem: Any, progress: Any) -> None:
    raise KeyboardInterrupt


def broken(problem: Any, progress: Any) -> None:
    raise ZeroDivisionError("a slip in the solver")


def test_solving_the_demo_shows_a_table_and_keeps_a_folder(labrum: Labrum, tmp_path: Path) -> None:
    done = labrum("solve", "demo")
    assert done.exit_code == 0
    assert "peak pressure           123.5           kPa     largest pressure on the lip" in done.stdout
    assert "past the bite             yes" in done.stdout
    assert "closing travel              -" in done.stdout
    assert "does not apply" in done.stdout
    assert "\x1b" not in done.stdout + done.stderr
    (kept,) = (tmp_path / "runs").iterdir()
    assert kept.name.startswith("demo-")
    assert "assumed and not measured" in (kept / "figures" / "pressure.svg").read_text()
    assert f"kept in runs/{kept.name}" in done.stderr


def test_narration_goes_to_stderr_with_force_iteration_and_residual(labrum: Labrum) -> None:
    done = labrum("solve", "demo", "-v")
    assert (
        "press        force   20.000 N  iteration  2  residual 1.0e-09  sink  3.200 mm  900 unknowns"
        in done.stderr
    )
    assert "warning: a made-up warning" in done.stderr
    assert done.stderr.count("caution: ") == 3
    assert "iteration  2" not in done.stdout


def test_quiet_leaves_only_the_result(labrum: Labrum) -> None:
    done = labrum("solve", "demo", "-q")
    assert (done.exit_code, done.stderr) == (0, "")
    assert "peak pressure" in done.stdout


def test_json_is_one_object_and_nothing_else(labrum: Labrum, tmp_path: Path) -> None:
    done = labrum("solve", "demo", "--json")
    assert done.exit_code == 0
    assert done.stdout.count("\n") == 1
    result = json.loads(done.stdout)
    assert {
        "schema",
        "title",
        "status",
        "force_n",
        "pressure_profile",
        "lip_surface",
        "unknowns",
        "newton_iterations",
        "solve_seconds",
        "warnings",
        *CATALOGUE,
    } <= set(result)
    assert (result["schema"], result["status"], result["force_n"]) == (1, "converged", 20.0)
    assert result["past_bite"] is True
    assert result["closing_travel_ratio"] is None
    assert result["pressure_profile"] == [[8.1, 0.0], [8.7, 123.456], [13.0, 0.0]]
    assert result["warnings"] == ["a made-up warning"]
    assert list(tmp_path.iterdir()) == []


def test_json_and_folder_hold_the_same_result(labrum: Labrum, tmp_path: Path) -> None:
    done = labrum("solve", "demo", "--json", "--out", "here")
    assert json.loads(done.stdout) == json.loads((tmp_path / "here" / "result.json").read_text())


def test_off_the_axis_is_asked_by_an_option_and_kept_with_the_case(labrum: Labrum, tmp_path: Path) -> None:
    for name, words in (("straight", ()), ("asked", ("--off-axis",))):
        assert labrum("solve", "demo", *words, "--out", name).exit_code == 0
    kept = [json.loads((tmp_path / name / "case.resolved.json").read_text()) for name in ("straight", "asked")]
    assert "off_axis" not in kept[0]
    assert kept[1]["off_axis"] == {"tilt_deg": 0.0, "lower_lip_stiffness": 1.0, "lower_lip_thickness": 1.0}


def test_what_nobody_asked_about_takes_no_room(labrum: Labrum) -> None:
    assert "Off the axis" not in labrum("solve", "demo").stdout


def test_a_result_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="JSON compliant"):
        as_json({"peak_pressure_kpa": np.nan})


def test_an_invalid_case_exits_3_with_every_fault(labrum: Labrum, tmp_path: Path, case_text: str) -> None:
    (tmp_path / "bad.toml").write_text(case_text.replace("5.2", "-5.2").replace("20.0", "0"))
    done = labrum("solve", "bad.toml")
    assert (done.exit_code, done.stdout) == (3, "")
    assert done.stderr.splitlines() == [
        "bad.toml:6: rim.width_mm: got -5.2, allowed a number above 0 up to 25 mm",
        "bad.toml:12: load.force_n: got 0, allowed a number from 0.01 to 500 N",
    ]
    assert list(tmp_path.iterdir()) == [tmp_path / "bad.toml"]


def test_an_invalid_case_in_json_lists_its_faults(labrum: Labrum, tmp_path: Path, case_text: str) -> None:
    (tmp_path / "bad.toml").write_text(case_text.replace("5.2", "-5.2"))
    done = labrum("solve", "bad.toml", "--json", "-q")
    assert done.exit_code == 3
    assert done.stderr.startswith("bad.toml:6: rim.width_mm")
    assert json.loads(done.stdout) == {
        "schema": 1,
        "status": "invalid",
        "faults": [
            {
                "file": "bad.toml",
                "line": 6,
                "key": "rim.width_mm",
                "got": "-5.2",
                "allowed": "a number above 0 up to 25 mm",
                "hint": "",
            }
        ],
    }


def test_a_missing_case_exits_3(labrum: Labrum) -> None:
    done = labrum("solve", "nosuch.toml")
    assert done.exit_code == 3
    assert done.stderr.startswith("nosuch.toml: file: got no such file")


def test_no_convergence_exits_4_and_says_how_far_why_and_what_to_try(labrum: Labrum, tmp_path: Path) -> None:
    done = labrum("solve", "demo", "--out", "here", solver=stopping)
    assert (done.exit_code, done.stdout) == (4, "")
    assert "labrum: not converged: stopped at 9.61 N of 20 N" in done.stderr
    assert "  likely cause: the mesh folded under the bite\n" in done.stderr
    assert "  what to try: try less force or a rounder bite\n" in done.stderr
    assert "force    9.600 N" in (tmp_path / "here" / "log.txt").read_text()
    assert (tmp_path / "here" / "NOT-CONVERGED.txt").exists()


def test_no_convergence_in_json_holds_no_measure(labrum: Labrum) -> None:
    done = labrum("solve", "demo", "--json", solver=stopping)
    result = json.loads(done.stdout)
    assert done.exit_code == 4
    assert (result["status"], result["force_reached_n"]) == ("not converged", 9.61)
    assert not set(CATALOGUE) & set(result)


def test_an_interrupt_exits_130(labrum: Labrum) -> None:
    done = labrum("solve", "demo", "--json", solver=interrupted)
    assert (done.exit_code, done.stdout) == (130, "")
    assert done.stderr.endswith("labrum: interrupted\n")


def test_a_fault_of_our_own_exits_1_without_a_traceback(labrum: Labrum, tmp_path: Path) -> None:
    done = labrum("solve", "demo", "--out", "here", "-q", solver=broken)
    assert (done.exit_code, done.stdout) == (1, "")
    assert done.stderr == (
        "labrum: a fault of our own, not of the case: ZeroDivisionError: "
        "a slip in the solver; --debug shows where\n"
    )
    assert "Traceback" in (tmp_path / "here" / "log.txt").read_text()
    assert "Traceback" in labrum("solve", "demo", "--json", "--debug", solver=broken).stderr


def test_a_figure_that_fails_does_not_lose_the_result(labrum: Labrum, tmp_path: Path) -> None:
    def fail(outcome: Any, title: str, folder: Path, note: str) -> None:
        raise RuntimeError("no canvas")

    assert labrum("solve", "demo", "--out", "here", draw=fail).exit_code == 1
    assert json.loads((tmp_path / "here" / "result.json").read_text())["status"] == "converged"
    assert (tmp_path / "here" / "FAILED.txt").exists()


def test_a_taken_folder_exits_2_before_anything_is_solved(labrum: Labrum, tmp_path: Path) -> None:
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "precious").write_text("x")
    done = labrum("solve", "demo", "--out", "here", solver=broken)
    assert done.exit_code == 2
    assert done.stderr.endswith("here exists and is not empty: name another folder, or write over it with --force\n")


@pytest.mark.parametrize("words", [["solve"], ["solve", "demo", "--nosuch"], ["nosuch"], ["show", "nosuch"]])
def test_wrong_usage_exits_2(labrum: Labrum, words: list[str]) -> None:
    done = labrum(*words)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr


def test_warnings_of_the_case_are_told_and_kept(labrum: Labrum, tmp_path: Path, case_text: str) -> None:
    (tmp_path / "near.toml").write_text(case_text.replace('"average"', '"average"\nradius_mm = 15'))
    done = labrum("solve", "near.toml", "--json")
    assert "warning: lip.radius_mm: the lip disc ends close outside the rim" in done.stderr
    assert len(json.loads(done.stdout)["warnings"]) == 2


def test_show_prints_a_case_to_start_from(labrum: Labrum, tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(labrum("show", "demo").stdout)
    assert labrum("solve", "mine.toml", "--json").exit_code == 0


def test_show_lists_what_ships(labrum: Labrum) -> None:
    listed = labrum("show").stdout
    assert all(name in listed for name in ("demo", "thin", "average", "fleshy", "trumpet-loud", "tuba-soft"))
    assert "calibration" in listed


def test_help_and_version(labrum: Labrum) -> None:
    assert "labrum solve demo" in labrum("solve", "--help").stdout
    assert "numpy" in labrum("--version").stdout
    assert labrum("--version").stdout.count("kernels") == 1
    assert labrum("--version").exit_code == 0


def test_no_measure_of_the_contract_goes_missing() -> None:
    """The names of the result's contract, schema 1: more may come, and the README's table lists all there are."""
    assert set(CATALOGUE) >= {
        "peak_pressure_kpa",
        "peak_radius_mm",
        "peak_pressure_error_percent",
        "mean_pressure_kpa",
        "contact_area_mm2",
        "bearing_area_mm2",
        "edge_concentration",
        "skin_stretch_max",
        "contact_inner_radius_mm",
        "contact_outer_radius_mm",
        "felt_diameter_mm",
        "felt_drift_mm_per_10n",
        "sink_mm",
        "past_bite",
        "intrusion_height_mm",
        "intrusion_volume_mm3",
        "drawn_in_volume_mm3",
        "touches_cup",
        "cup_clearance_mm",
        "closing_travel_ratio",
        "sticking_share",
        "lift_off_area_mm2",
        "closing_travel_ratio_skin",
        "muscle_shortening_ratio",
        "aperture_stiffness_n_per_mm",
        "edge_drift_mm_per_10n",
        "edge_to_crown_pressure",
        "height_past_high_point_mm",
        "height_by_muscle_mm",
        "cup_wall_reach_mm",
        "peak_percent_per_degree",
        "tilt_to_lift_deg",
        "rocking_stiffness_nmm_per_deg",
        "sideways_stiffness_n_per_mm",
        "lower_lip_share",
        "felt_offset_mm",
        "front_teeth_peak_kpa",
        "corners_peak_kpa",
    }


class Screen:
    """A terminal that remembers."""

    def __init__(self) -> None:
        self.text = ""

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.text += text
        return len(text)

    def flush(self) -> None:
        pass


def test_colour_needs_a_terminal_and_no_objection(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert may_colour(Screen())  # type: ignore[arg-type]
    monkeypatch.setenv("NO_COLOR", "1")
    assert not may_colour(Screen())  # type: ignore[arg-type]
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setenv("TERM", "dumb")
    assert not may_colour(Screen())  # type: ignore[arg-type]


def test_on_a_terminal_one_line_tells_force_and_time_left(case_text: str, tmp_path: Path) -> None:
    screen, now = Screen(), iter([0.0, *(0.1 * k for k in range(100))])
    narrator = Narrator(screen, clock=lambda: next(now))  # type: ignore[arg-type]
    hear = narrator.listener(read_case("demo").problem)
    for force, iteration in ((1.0, 1), (10.0, 2), (20.0, 1)):
        hear(Progress("press", force, iteration, 1e-3, 1.0, 900))
    hear(Progress("hold", 30.0, 1, 1e-3, 1.0, 900))
    narrator.say("done")
    assert "\n" not in screen.text.removesuffix("done\n")
    *_, before, last, end = screen.text.split("\r\x1b[K")
    assert before.startswith("pressing: 20.0 of 20 N, about ")
    assert last.startswith("checking on finer grids: 20.0 of 20 N, about ")
    assert last.endswith(" left")
    assert end == "done\n"


def test_elsewhere_no_iteration_is_told_and_the_log_has_them_all(labrum: Labrum, tmp_path: Path) -> None:
    done = labrum("solve", "demo", "--out", "here")
    assert "iteration" not in done.stderr
    assert "iteration  2  residual" in (tmp_path / "here" / "log.txt").read_text()


def test_with_stderr_closed_stdout_still_holds_the_data_only() -> None:
    words = [sys.executable, "-c", "from labrum.cases.command import main; main()", "solve", "nosuch.toml", "--json"]
    done = subprocess.run(
        ["sh", "-c", '"$@" 2>&-', "sh", *words], capture_output=True, text=True, check=False
    )
    assert (done.returncode, json.loads(done.stdout)["status"]) == (3, "invalid")


def test_a_folder_of_the_same_name_does_not_hide_a_shipped_case(labrum: Labrum, tmp_path: Path) -> None:
    (tmp_path / "demo").mkdir()
    assert labrum("solve", "demo", "--json").exit_code == 0


def test_loading_the_command_loads_nothing_heavy() -> None:
    heavy = "numpy,scipy,matplotlib,meshio,simulate,meshes,reports"
    code = f"import sys, labrum.cases.command; print([m for m in '{heavy}'.split(',') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_commands_keep_their_names_whatever_their_functions_are_called(labrum: Labrum) -> None:
    """People's scripts rest on them."""
    listed = labrum("--help").stdout.partition("Commands:")[2].splitlines()
    assert {line.split()[0] for line in listed if line.strip()} == {
        "solve", "cut", "show", "compare", "gauge", "sweep", "wide-enough", "map", "trade-off", "search", "tolerance",
        "report", "animate", "explore", "lessons", "lip", "present", "steadiness", "shortlist", "handover",
    }  # fmt: skip
