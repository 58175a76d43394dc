"""A search against answers worked out by hand, with a solver that takes no time."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import read_case
from labrum.cases.exits import DONE, NOT_CONVERGED, PARTLY_FAILED
from labrum.cases.searching.costs import costs_at
from labrum.cases.searching.goals import Extreme, Likeness
from labrum.cases.searching.job import SearchOrder, run_search
from labrum.cases.searching.methods import first_places, search_from
from labrum.cases.searching.plan import read_search
from labrum.cases.searching.trials import Trials, Tried
from labrum.cases.solving.screen import Narrator
from labrum.cases.workers.store import Store
from labrum.simulate.postures.asked import Posture
from tests.cases.stand_ins import stand_in_solver as stand_in

PlanFile = Callable[[str], Path]
SOFT = """\
minimise = "peak_pressure_kpa"
[vary]
rim.width_mm = { from = 4.5, to = 7.5 }
rim.bite_radius_mm = { from = 0.4, to = 1.2 }
[set]
rim.inner_crown_radius_mm = "flat"
[limits]
closing_travel_ratio = { least = 0.28 }
[effort]
solves = 50
"""


def tried(path: Path, solver: object, tmp_path: Path) -> Trials:
    plan = read_search(path)
    assert plan.wanted is not None
    store = Store.at(tmp_path / "found.sqlite")
    trials = Trials(plan, Extreme(*plan.wanted), store, "s", solver, lambda trial, count: None, plan.effort.solves)
    search_from(trials)
    return trials




@pytest.mark.slow  # two processes are started
def test_rims_that_wait_for_none_are_solved_at_once_and_found_kept(plan_file: PlanFile, tmp_path: Path) -> None:
    from labrum.cases.solving.fingerprint import solver_identity  # the workers' own

    plan = read_search(plan_file(SOFT))
    assert plan.wanted is not None
    store, here = Store.at(tmp_path / "found.sqlite"), Extreme(*plan.wanted)
    trials = Trials(plan, here, store, solver_identity(), stand_in.at_once, lambda trial, count: None, 50, workers=2)
    places = first_places(len(plan.spans), 5, 1)
    trials.prepare([*places, places[0]])
    assert (trials.fresh, trials.tried) == (5, {})
    assert all(trials.at(place).score is not None for place in places)
    assert trials.fresh == 5
    trials.prepare(places)
    assert trials.fresh == 5


@pytest.fixture(autouse=True)
def any_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    """The stand-in is nobody's fingerprint."""
    monkeypatch.setattr("labrum.cases.workers.task.solver_identity", lambda: "s")
    monkeypatch.setattr("labrum.cases.searching.job.solver_identity", lambda: "s")


def test_the_least_peak_stands_where_the_closing_limit_and_the_widest_bite_are(
    plan_file: PlanFile, tmp_path: Path
) -> None:
    """1 - 0.02 w^2 >= 0.28 holds to w = 6, and a rounder bite is always better: (6.0, 1.2), 20 (40/36 + 0.25) kPa.

    A finer closing limit by one would be worth 2000 F / w^4 = 30.9 kPa, 1 mm more bite 0.3 F / b^2 = 4.17 kPa.
    """
    trials = tried(plan_file(SOFT), stand_in.at_once, tmp_path)
    best = trials.best()
    assert best is not None
    assert best.good
    assert best.settings["rim.width_mm"] == pytest.approx(6.0, abs=0.01)
    assert best.settings["rim.bite_radius_mm"] == pytest.approx(1.2, abs=0.005)
    assert best.score == pytest.approx(20 * (40 / 36 + 0.25), rel=0.003)
    assert len(trials.tried) < 50
    trials.most = 100
    costs = costs_at(trials, best)
    assert costs is not None
    worth = {cost.limit: cost.gain for cost in costs.reached}
    assert worth["closing_travel_ratio >= 0.28"] == pytest.approx(2000 * 20 / 6.0**4, rel=0.03)
    assert worth["rim.bite_radius_mm <= 1.2"] == pytest.approx(0.3 * 20 / 1.2**2, rel=0.05)
    assert costs.unexplained < 0.01


def test_fewer_solves_than_a_scan_of_a_thousand_that_finds_no_better(plan_file: PlanFile, tmp_path: Path) -> None:
    trials = tried(plan_file(SOFT), stand_in.at_once, tmp_path)
    best = trials.best()
    assert best is not None
    assert best.score is not None
    width, bite = np.meshgrid(np.linspace(4.5, 7.5, 40), np.linspace(0.4, 1.2, 25))
    allowed = 1 - 0.02 * width**2 >= 0.28
    scan = np.min(stand_in.made_up_peak(width, bite, 20.0)[allowed])
    assert best.score <= scan * 1.0005
    assert len(trials.tried) <= 40


def test_evolution_finds_the_same_rim(plan_file: PlanFile, tmp_path: Path) -> None:
    text = SOFT.replace("solves = 50", 'solves = 250\nmethod = "evolution"\nseed = 4')
    best = tried(plan_file(text), stand_in.at_once, tmp_path).best()
    assert best is not None
    assert best.good
    assert best.score == pytest.approx(20 * (40 / 36 + 0.25), rel=0.01)


def test_a_limit_that_asks_for_one_value_gets_it(plan_file: PlanFile, tmp_path: Path) -> None:
    """Felt diameter is 16.5 + w, so 22.2 means w = 5.7, whatever the peak would like."""
    asked = "felt_diameter_mm = { equals = 22.2, within = 0.02 }"
    text = SOFT.replace("closing_travel_ratio = { least = 0.28 }", asked)
    best = tried(plan_file(text), stand_in.at_once, tmp_path).best()
    assert best is not None
    assert best.good
    assert best.settings["rim.width_mm"] == pytest.approx(5.7, abs=0.021)
    assert best.settings["rim.bite_radius_mm"] > 1.15


def test_rims_that_cannot_be_solved_are_gone_round(plan_file: PlanFile, tmp_path: Path) -> None:
    """``troubled`` stops for widths that round to 6: the best below is just under 5.5 mm."""
    text = SOFT.replace("to = 7.5", "to = 6.4").replace("[limits]\nclosing_travel_ratio = { least = 0.28 }\n", "")
    best = tried(plan_file(text), stand_in.troubled, tmp_path).best()
    assert best is not None
    assert 5.3 < best.settings["rim.width_mm"] <= 5.5


def test_a_resumed_search_solves_nothing_twice_and_ends_at_the_same_rim(
    plan_file: PlanFile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(stand_in.SOLVES, str(tmp_path / "solves"))
    path = plan_file(SOFT)
    stop_after = 12

    def stop(trial: Tried, count: int) -> None:
        if count == stop_after:
            raise KeyboardInterrupt

    plan = read_search(path)
    store = Store.at(tmp_path / "found.sqlite")
    with pytest.raises(KeyboardInterrupt):
        search_from(Trials(plan, Extreme("peak_pressure_kpa", 1.0), store, "s", stand_in.noted, stop, 50))
    begun = (tmp_path / "solves").read_text().splitlines()
    assert len(begun) == stop_after
    trials = tried(path, stand_in.noted, tmp_path)
    again = (tmp_path / "solves").read_text().splitlines()
    assert again[:stop_after] == begun
    assert len(again) == len(trials.tried)
    assert trials.fresh == len(again) - stop_after
    best = trials.best()
    assert best is not None
    assert best.settings["rim.width_mm"] == pytest.approx(6.0, abs=0.01)


ALIKE = """\
[set]
rim.inner_diameter_mm = 17.0
rim.inner_crown_radius_mm = "flat"
[vary]
rim.width_mm = { from = 4.5, to = 6.5 }
rim.bite_radius_mm = { from = 1.0, to = 1.9 }
[match]
case = "demo"
measures = ["felt_diameter_mm", "peak_pressure_kpa"]
[effort]
solves = 60
"""


def test_a_rim_of_another_diameter_that_feels_the_same(
    plan_file: PlanFile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Felt diameter 21.7 = 17 + w gives w = 4.7, and the peak then b = 0.3 / (40/5.2^2 + 0.5 - 40/4.7^2) = 1.78."""
    order = SearchOrder(plan_file(ALIKE), out=tmp_path / "found", solver=stand_in.at_once)
    assert run_search(order, Narrator(io.StringIO())) == DONE
    rim = read_case(str(tmp_path / "found" / "rim.toml")).problem.rim
    assert rim.outer_radius - rim.bite[0] == pytest.approx(4.7, abs=0.03)  # 0.1 % of the felt diameter
    assert rim.bite_radius == pytest.approx(0.3 / (40 / 5.2**2 + 0.5 - 40 / 4.7**2), abs=0.2)
    assert "wanted 21.7" in capsys.readouterr().out


def test_likeness_is_nought_only_for_the_same() -> None:
    goal = Likeness({"peak_pressure_kpa": 80.0, "felt_diameter_mm": 20.0})
    assert goal.score({"peak_pressure_kpa": 80.0, "felt_diameter_mm": 20.0}) == 0.0
    assert goal.score({"peak_pressure_kpa": 88.0, "felt_diameter_mm": 20.0}) == pytest.approx(50.0)


def test_the_report_says_what_is_reached_and_what_it_costs(
    plan_file: PlanFile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order = SearchOrder(plan_file(SOFT), out=tmp_path / "found", solver=stand_in.at_once)
    assert run_search(order, Narrator(io.StringIO())) == DONE
    said = capsys.readouterr().out
    assert "the best rim within every limit" in said
    assert "closing_travel_ratio >= 0.28" in said
    assert "for 0.01 more" in said


def test_limits_that_nothing_keeps_are_owned_up_to(
    plan_file: PlanFile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = SOFT.replace("least = 0.28", "least = 0.99").replace("solves = 50", "solves = 20")
    order = SearchOrder(plan_file(text), out=tmp_path / "found", solver=stand_in.at_once)
    assert run_search(order, Narrator(io.StringIO())) == PARTLY_FAILED
    assert "no rim keeps every limit; this one comes nearest" in capsys.readouterr().out


def test_where_nothing_can_be_solved_the_reasons_are_told(plan_file: PlanFile, tmp_path: Path) -> None:
    text = SOFT.replace("from = 4.5, to = 7.5", "from = 5.6, to = 6.4")
    said = io.StringIO()
    order = SearchOrder(plan_file(text), out=tmp_path / "found", solver=stand_in.troubled)
    assert run_search(order, Narrator(said)) == NOT_CONVERGED
    assert "stopped at 10.00 N" in said.getvalue()


FAULTY = """\
minimise = "peak_presure_kpa"
maximise = "sink_mm"
[vary]
rim.width_mm = [4.5, 5.0]
rim.high_point = { from = 0.3, to = 0.5 }
[limits]
sink_mm = { atmost = 3 }
felt_diameter_mm = { equals = 20 }
contact_area_mm2 = { least = 5, most = 4 }
nothing = { most = 1 }
[effort]
method = "luck"
"""


def test_every_fault_of_a_search_comes_in_one_pass(plan_file: PlanFile) -> None:
    with pytest.raises(InvalidCase) as caught:
        read_search(plan_file(FAULTY))
    said = {f.line: str(f) for f in caught.value.faults}
    assert "minimise and maximise" in said[4]
    assert "a search goes between the steps" in said[6]
    assert "{ least }" in said[9]
    assert "{ equals, within }" in said[10]
    assert "least below most" in said[11]
    assert "the name of a measure" in said[12]
    assert '"cobyqa" or "evolution"' in said[14]


def test_what_is_said_of_the_rim_found_is_counted_in_other_lips(
    plan_file: PlanFile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The stand-in minds neither stiffness nor friction: what holds in one lip holds in all nine."""
    order = SearchOrder(plan_file(SOFT), out=tmp_path / "found", robust=True, solver=stand_in.at_once)
    assert run_search(order, Narrator(io.StringIO())) == DONE
    said = capsys.readouterr().out
    assert "Does it hold in other lips: the rim found and the rim begun from" in said
    assert "9 of 9  the rim begun from peaks higher than the rim found" in said


def test_a_likeness_is_put_to_the_test_against_the_rim_to_be_matched(
    plan_file: PlanFile, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order = SearchOrder(plan_file(ALIKE), out=tmp_path / "found", robust=True, solver=stand_in.at_once)
    assert run_search(order, Narrator(io.StringIO())) == DONE
    said = capsys.readouterr().out
    assert "Does it hold in other lips: the rim found and the rim to be matched" in said
    assert "difference of the felt diameters" in said


def test_what_lies_off_the_axis_is_asked_for_by_being_named(plan_file: PlanFile) -> None:
    assert read_search(plan_file(SOFT)).base.problem.posture is None
    steady = SOFT.replace('minimise = "peak_pressure_kpa"', 'maximise = "rocking_stiffness_nmm_per_deg"')
    assert read_search(plan_file(steady)).base.problem.posture == Posture()
    limited = SOFT.replace("closing_travel_ratio", "tilt_to_lift_deg")
    assert read_search(plan_file(limited)).base.problem.posture == Posture()
