"""The command that gauges: tables, JSON, the folder, faults with their places, exit codes, and felt diameters."""

from __future__ import annotations

import csv
import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from labrum.cases.case_file.reading import case_from_text, read_case
from labrum.cases.solving.result import as_json
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged, Problem
from tests import gauge_rims


def write(path: Path, points: np.ndarray, header: str = "r_mm,s_mm") -> str:
    path.write_text(header + "\n" + "\n".join(f"{x:.5f},{z:.5f}" for x, z in points) + "\n")
    return str(path)


@pytest.fixture
def two(tmp_path: Path) -> tuple[str, str]:
    """Two traces of one diameter at 45 degrees whose cup walls differ."""
    steep = gauge_rims.plain_rim(cup_wall_angle_deg=75.0, cup_depth_mm=3.0)
    plain = gauge_rims.plain_rim(cup_depth_mm=3.0)
    return (write(tmp_path / "plain.csv", gauge_rims.sampled(plain, 1, spacing=0.04)),
            write(tmp_path / "steep.csv", gauge_rims.sampled(steep, 2, spacing=0.04)))


def test_the_demo_says_that_it_is_invented_and_reads_every_convention(labrum) -> None:
    result = labrum("gauge", "demo-trace")
    assert result.exit_code == 0
    assert "not a measured one" in result.stderr
    for label in ("45° tangent", "apex of the inner arc", "sharp corner", "set depth", "largest curvature",
                  "they differ by", "thou", "bite radius", "shoulder", "cup wall", "people with callipers"):
        assert label in result.stdout
    # The trace was made from this rim, then tilted and moved.
    assert "axis moved by -14.2" in result.stdout
    assert "tilt of +0.34" in result.stdout


def test_json_is_one_object_with_the_definitions(labrum) -> None:
    result = labrum("gauge", "demo-trace", "--json", "--quiet")
    read = json.loads(result.stdout)
    assert result.stderr == ""
    assert (read["schema"], read["status"]) == (1, "gauged")
    rim = read["rims"][0]
    assert rim["inner_diameter_mm"]["tangent_45"]["value"] == pytest.approx(16.6, abs=0.015)
    assert rim["dimensions"]["width_mm"]["value"] == pytest.approx(5.3, abs=0.01)
    assert rim["dimensions"]["bite_radius_mm"]["value"] == pytest.approx(0.45, abs=0.06)
    low, high = rim["inner_diameter_mm"]["tangent_45"]["interval_95"]
    assert low < rim["inner_diameter_mm"]["tangent_45"]["value"] < high
    assert rim["convention_spread_thou"] == pytest.approx(rim["convention_spread_mm"]["value"] / 0.0254)
    assert len(rim["inner_diameter_mm"]["at_depth"]["definition"]) > 20
    assert rim["felt_diameter_mm"] is None


def test_the_set_depth_can_be_chosen(labrum) -> None:
    def read(depth: str) -> float:
        out = labrum("gauge", "demo-trace", "--json", "-q", "--depth", depth).stdout
        return json.loads(out)["rims"][0]["inner_diameter_mm"]["at_depth"]["value"]

    # On a straight wall at 64 degrees: half a millimetre deeper is 2 * 0.5 / tan(64) narrower.
    assert read("1.5") - read("2.0") == pytest.approx(1.0 / np.tan(np.radians(64.0)), abs=0.003)


def test_several_are_laid_side_by_side_and_what_differs_is_said(labrum, two) -> None:
    result = labrum("gauge", *two)
    assert result.exit_code == 0
    assert "same diameter by one convention, different by another" in result.stdout.replace("\n", " ")
    assert "less plain, mm" in result.stdout
    assert "set depth +" in result.stdout


def test_the_folder_holds_tables_outlines_and_figures(labrum, two, tmp_path: Path) -> None:
    result = labrum("gauge", *two, "--out", "kept", "--readers", "200")
    assert result.exit_code == 0
    kept = tmp_path / "kept"
    assert json.loads((kept / "gauge.json").read_text())["rims"][1]["name"] == "steep"
    rows = list(csv.DictReader((kept / "readings.csv").read_text().splitlines()))
    assert {r["rim"] for r in rows} == {"plain", "steep"}
    for name in ("plain", "steep", "overlay", "readers"):
        for ending in ("svg", "pdf", "png", "csv"):
            assert (kept / "figures" / f"{name}.{ending}").stat().st_size > 500
    assert not list(tmp_path.glob(".kept*"))
    again = labrum("gauge", *two, "--out", "kept")
    assert again.exit_code == 2
    assert "not empty" in again.stderr


def test_the_outline_goes_into_a_case_as_it_is(labrum, two, tmp_path: Path) -> None:
    labrum("gauge", two[0], "--out", "kept")
    outline = (tmp_path / "kept" / "outlines" / "plain.toml").read_text()
    case = case_from_text(f'schema = 1\n{outline}[lip]\ntype = "average"\n[load]\nforce_n = 20.0\n')
    traced = case_from_text(
        f'schema = 1\n[rim]\ntrace = "{two[0]}"\n[lip]\ntype = "average"\n[load]\nforce_n = 20.0\n')
    assert traced.problem.rim.source == "trace"
    assert np.allclose(case.problem.rim.bite, traced.problem.rim.bite, atol=1e-6)
    assert tomllib.loads(outline)["rim"]["outline_mm"][0][0] >= 0.0


def test_a_shipped_case_reads_its_trace() -> None:
    case = read_case("demo-trace")
    assert case.problem.rim.source == "trace"
    assert 2 * case.problem.rim.bite[0] == pytest.approx(16.6, abs=0.015)
    assert case.inputs[0].name == "demo-trace.csv"


def test_faults_of_every_file_come_at_once_with_file_and_line(labrum, two, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text(Path(two[0]).read_text().replace("r_mm,s_mm\n", "r_mm,s_mm\n8.0,oops\n"))
    result = labrum("gauge", str(bad), "nosuch.csv", two[1])
    assert result.exit_code == 3
    assert f"{bad}:2: got 8.0,oops, allowed two finite numbers" in result.stderr
    assert "nosuch.csv: got no such file or directory" in result.stderr
    assert result.stdout == ""


def test_a_missing_unit_is_asked_for_and_a_wrong_one_named(labrum, tmp_path: Path) -> None:
    points = gauge_rims.sampled(gauge_rims.plain_rim(cup_depth_mm=3.0), spacing=0.05)
    bare = write(tmp_path / "bare.csv", points, "r,s")
    asked = labrum("gauge", bare)
    assert asked.exit_code == 3
    assert "--unit mm" in asked.stderr
    assert labrum("gauge", bare, "--unit", "mm").exit_code == 0
    wrong = labrum("gauge", bare, "--unit", "inch")
    assert wrong.exit_code == 3
    assert "this looks like mm read as inch" in wrong.stderr


def test_bad_options_are_all_named(labrum) -> None:
    wrong = ("--unit", "ell", "--depth", "-1", "--lip", "steel", "--force-n", "0")
    result = labrum("gauge", "demo-trace", "--felt", *wrong)
    assert result.exit_code == 2
    for option in ("--unit", "--depth", "--lip", "--force-n"):
        assert f"labrum: {option}: got" in result.stderr


def test_a_fault_of_our_own_is_a_sentence(labrum, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("labrum.cases.gauging.job.gauged", lambda *a: 1 / 0)
    result = labrum("gauge", "demo-trace")
    assert result.exit_code == 1
    assert "a fault of our own, not of the file: ZeroDivisionError" in result.stderr
    assert "Traceback" in labrum("gauge", "demo-trace", "--debug").stderr


def test_felt_solves_each_rim_on_one_lip(labrum, two, outcome_of) -> None:
    asked: list[Problem] = []

    def solver(problem: Problem, progress: Any) -> Outcome:
        asked.append(problem)
        return outcome_of(problem)

    result = labrum("gauge", *two, "--felt", "--lip", "thin", "--force-n", "12", "--json", solver=solver)
    assert result.exit_code == 0
    assert [p.title for p in asked] == ["plain", "steep"]
    assert asked[0].lip == asked[1].lip
    assert [p.load.force for p in asked] == [12.0, 12.0]
    assert asked[0].lip.thickness == pytest.approx(8.5)
    assert all(p.rim.source == "trace" for p in asked)
    assert [r["felt_diameter_mm"] for r in json.loads(result.stdout)["rims"]] == [20.9, 20.9]


def test_a_rim_that_does_not_converge_has_no_felt_diameter(labrum, two, outcome_of) -> None:
    def solver(problem: Problem, progress: Any) -> Outcome:
        if problem.title == "plain":
            raise NotConverged(3.0, "a made-up cause", "nothing")
        return outcome_of(problem)

    result = labrum("gauge", *two, "--felt", solver=solver)
    assert result.exit_code == 4
    assert "plain: not converged" in result.stderr
    assert "not converged" in result.stdout
    assert "20.900" in result.stdout


def test_every_number_is_json(labrum, tmp_path: Path) -> None:
    from math import inf

    flat = gauge_rims.plain_rim(inner_crown_radius_mm=inf, outer_crown_radius_mm=inf, cup_depth_mm=3.0)
    out = labrum("gauge", write(tmp_path / "flat.csv", gauge_rims.sampled(flat, spacing=0.04)), "--json", "-q")
    read = json.loads(out.stdout)
    assert read["rims"][0]["dimensions"]["inner_crown_radius_mm"]["value"] == "flat"
    assert as_json(read)


def test_the_folder_holds_a_case_of_dimensions_that_can_be_solved(labrum, two, tmp_path: Path) -> None:
    assert labrum("gauge", two[0], "--out", "kept", "--lip", "thin", "--force-n", "15").exit_code == 0
    text = (tmp_path / "kept" / "cases" / "plain.toml").read_text()
    case = case_from_text(text)
    assert case.problem.rim.source == "dimensions"
    assert (case.presets["lip"], case.problem.load.force) == ("thin", 15.0)
    assert case.resolved["rim"]["inner_diameter_mm"] == pytest.approx(16.5, abs=0.02)
    assert "width_mm = 5." in text
    assert " # +- 0.0" in text


def test_a_rim_that_dimensions_do_not_say_is_refused_in_words_and_the_nearest_kept(labrum, tmp_path: Path) -> None:
    points = gauge_rims.sampled(gauge_rims.plain_rim(), 1, spacing=0.04)
    points[:, 1] += 0.3 * np.exp(-(((points[:, 0] - 12.0) / 0.6) ** 2)) * (points[:, 1] < 1.5)
    result = labrum("gauge", write(tmp_path / "hollow.csv", points), "--out", "kept", "--json")
    assert result.exit_code == 0
    assert "no dimensions say this rim" in result.stderr
    told = json.loads(result.stdout)["rims"][0]["rim_of_dimensions"]
    assert not told["is_said"]
    assert told["largest_departure_um"]["rim"] > 20.0
    text = (tmp_path / "kept" / "cases" / "hollow.toml").read_text()
    assert "# The rim of dimensions nearest to" in text
    assert case_from_text(text).problem.rim.source == "dimensions"


def test_an_old_trace_and_a_new_design_lie_over_each_other(labrum, two, case_text: str, tmp_path: Path) -> None:
    (tmp_path / "new.toml").write_text(case_text)
    result = labrum("gauge", two[0], "new.toml", "demo", "--out", "kept")
    assert result.exit_code == 0
    assert "new.toml: drawn" in result.stdout
    first = json.loads((tmp_path / "kept" / "gauge.json").read_text())["rims"][1]
    assert first["drawn"]
    assert first["inner_diameter_mm"]["tangent_45"]["standard_uncertainty"] is None
    assert (tmp_path / "kept" / "figures" / "overlay.svg").stat().st_size > 500


def test_a_case_whose_rim_is_a_trace_is_gauged_as_that(labrum, two, tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(
        'schema = 1\n[rim]\ntrace = "plain.csv"\n[lip]\ntype = "average"\n[load]\nforce_n = 20.0\n')
    read = json.loads(labrum("gauge", "case.toml", "--json", "-q").stdout)["rims"][0]
    assert not read["drawn"]
    assert read["points"] > 100


def test_faults_of_a_case_come_with_those_of_traces(labrum, two, case_text: str, tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text(case_text.replace("force_n", "forze_n"))
    result = labrum("gauge", "bad.toml", "nosuch.csv")
    assert result.exit_code == 3
    assert "bad.toml:" in result.stderr
    assert "nosuch.csv: got no such file" in result.stderr


def test_a_charts_number_is_explained(labrum) -> None:
    result = labrum("gauge", "demo", "--said", "16.50")
    assert "a chart's 16.50 could be\n  the 45° tangent: 16.500 mm, +0.000 of it" in result.stdout
    inches = json.loads(labrum("gauge", "demo", "--said", "0.65in", "--json", "-q").stdout)["rims"][0]["chart"]
    assert {one["kind"] for one in inches["could_be"]} == {"bite radius", "where read", "convention"}
    bad = labrum("gauge", "demo", "--said", "wide")
    assert bad.exit_code == 2
    assert "--said: got wide, allowed a diameter" in bad.stderr
