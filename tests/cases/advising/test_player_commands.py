"""The commands about a player: exit codes, what is on stdout, and the slopes they rest on."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import Result

from labrum.cases.advising.present import present_of
from labrum.cases.advising.present_told import present_text
from labrum.cases.player.fitting import player_lip
from labrum.cases.player.plausible import PlausibleLip
from labrum.cases.player.playing import playing_case, playing_force
from labrum.cases.player.sheet import KnownRim, Sheet, read_sheet, sheet_from_text
from labrum.cases.player.slopes import StillPresses, changed_rim, slopes_of, strongest
from labrum.simulate import solve
from labrum.simulate.measures.catalogue import CATALOGUE
from tests.studies.players import one_by_one, players, sheet_of

Labrum = Callable[..., Result]
UNPRESSED = 'schema = 1\ninstrument = "trumpet"\n[lips]\nred_upper_mm = 6.2\n'


def present_rim(sheet: Sheet) -> KnownRim:
    assert sheet.present is not None
    return sheet.present


def test_a_sheet_without_presses_tells_the_librarys_lip_and_says_so(labrum: Labrum, tmp_path: Path) -> None:
    (tmp_path / "s.toml").write_text(UNPRESSED)
    done = labrum("lip", "s.toml", "--json", "--out", "kept")
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    assert (told["nearest_type"], told["narrowed_to"], told["presses"]) == ("average", 1.0, [])
    assert "Nothing was pressed" in told["basis"]
    assert json.loads((tmp_path / "kept" / "lip.json").read_text()) == told
    assert labrum("lip", "s.toml").stdout.splitlines()[-1].startswith("next: press a known rim twice")


def test_a_bad_sheet_exits_3_with_its_faults(labrum: Labrum, tmp_path: Path) -> None:
    (tmp_path / "s.toml").write_text('schema = 1\ninstrument = "kazoo"\n[lips]\nthickness_mm = -1\n')
    for command in ("lip", "present"):
        done = labrum(command, "s.toml")
        assert (done.exit_code, done.stdout) == (3, "")
        assert [line.split(": ")[0] for line in done.stderr.splitlines()] == ["s.toml:2", "s.toml:3", "s.toml:4"]


def test_present_asks_for_the_present_rim(labrum: Labrum, tmp_path: Path) -> None:
    (tmp_path / "s.toml").write_text(UNPRESSED)
    done = labrum("present", "s.toml")
    assert done.exit_code == 3
    assert "present.rim" in done.stderr


@pytest.mark.parametrize("instrument", ["trumpet", "horn", "trombone", "tuba"])
def test_forces_that_are_not_known_are_the_librarys(instrument: str) -> None:
    text = 'schema = 1\ninstrument = "{}"\n[forces]\nloud_n = 33.0\n[present]\nrim = "demo"\n'
    sheet = sheet_from_text(text.format(instrument))
    assert playing_force(sheet, "loud") == 33.0
    assert playing_force(sheet, "soft") in (4.0, 5.0)
    case = playing_case(sheet, PlausibleLip(11.5, 1.0), present_rim(sheet), "loud")
    assert case.problem.load.force == 33.0
    assert case.problem.load.mouth_pressure > 0.0
    assert case.warnings == ()


def test_slopes_are_those_of_cold_solves_and_have_the_trades_signs() -> None:
    """A wider rim, a rounder bite and a flatter inner crown: common practice, no source, and the README's table."""
    sheet, lip = read_sheet("demo-player"), PlausibleLip(11.5, 1.0)
    rim = present_rim(sheet)
    presses = StillPresses(sheet, lip, "loud")
    slopes = slopes_of(rim, presses)
    by_key = {slope.key: slope for slope in slopes}
    width = by_key["width_mm"]
    assert width.change["peak_pressure_kpa"] < 0 < width.change["bearing_area_mm2"]
    assert by_key["bite_radius_mm"].change["peak_pressure_kpa"] < 0
    assert by_key["inner_diameter_mm"].change["felt_diameter_mm"] > 0
    from labrum.cases.player.playing import still_case

    ends = [changed_rim(rim, {"width_mm": 4.6 + d}) for d in (-0.2, 0.2)]
    less, more = (solve(still_case(sheet, lip, end, "loud").problem).measures for end in ends if end is not None)
    for name in ("bearing_area_mm2", "felt_diameter_mm", "sink_mm"):
        cold = 0.5 * (getattr(more, name) - getattr(less, name))
        assert width.change[name] == pytest.approx(cold, abs=2.0 * width.error[name])
    best = strongest(slopes, "peak_pressure_kpa", -1.0)
    assert best is not None
    assert best.change["peak_pressure_kpa"] < 0
    assert set(width.change) <= set(CATALOGUE)


@pytest.mark.slow
def test_the_invented_player_from_sheet_to_reasons(labrum: Labrum, tmp_path: Path) -> None:
    done = labrum("present", "demo-player", "--out", "told", "--json")
    assert done.exit_code == 0
    told = json.loads(done.stdout)
    assert {one["complaint"]: one["verdict"] for one in told["complaints"]}["cuts"] == "borne out"
    assert told["arc_of_peak"]["loud"] == "bite"
    assert told["tried"]["measures"]["peak_pressure_kpa"] < told["measures"]["loud"]["peak_pressure_kpa"]
    assert {path.name for path in (tmp_path / "told").iterdir()} >= {"present.json", "soft.toml", "loud.toml"}


@pytest.mark.slow
def test_a_pinned_player_is_told_a_dimension_and_what_it_costs_at_soft() -> None:
    """A wider rim pins: common practice, no source."""
    sheet, rim = sheet_of(next(one for one in players() if one["alias"] == "Heron"))
    found = present_of(sheet, rim, player_lip(sheet), one_by_one, lambda words: None)
    (remedy,) = found.remedies
    assert remedy.slope.change["closing_travel_ratio"] > remedy.slope.error["closing_travel_ratio"]
    width = next(slope for slope in found.playing if slope.key == "width_mm")
    assert width.change["closing_travel_ratio"] < 0.0
    assert width.change["muscle_shortening_ratio"] < 0.0
    assert width.sure("closing_travel_ratio")
    assert width.sure("muscle_shortening_ratio")
    assert set(found.trials) == {"soft", "loud"}
    assert "pins: most by" in present_text(found, "heron.toml")
