"""A traced rim varied through its dimensions by sweeps, searches and tolerances: said once, refused where none do."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import read_case
from labrum.cases.dimensioning.traced_case import in_dimensions, is_traced, needs_dimensions
from labrum.cases.exploring.profile import dimensions_of, traced_profile
from labrum.cases.exploring.start import starting_tables
from labrum.cases.exploring.tables import case_from_page, tables_of
from labrum.cases.library.shelf import demo_place
from labrum.cases.searching.plan import read_search
from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping.expansion import members
from labrum.cases.sweeping.job import Means, SweepOrder, run_sweep
from labrum.cases.sweeping.plan import read_plan
from labrum.cases.tolerancing.parameters import rim_parameters
from tests import gauge_rims
from tests.cases.stand_ins import stand_in_solver as stand_in

Writer = Callable[[str], Path]


@pytest.fixture
def plan(tmp_path: Path) -> Writer:
    def write(text: str, case: str = "demo-trace") -> Path:
        path = tmp_path / "plan.toml"
        path.write_text(f'schema = 1\ncase = "{case}"\n{text}')
        return path

    return write


@pytest.fixture
def hollow(tmp_path: Path) -> str:
    """A traced case that no dimensions say."""
    points = gauge_rims.sampled(gauge_rims.plain_rim(), 1, spacing=0.04)
    points[:, 1] += 0.3 * np.exp(-(((points[:, 0] - 12.0) / 0.6) ** 2)) * (points[:, 1] < 1.5)
    rows = "\n".join(f"{r:.5f},{s:.5f}" for r, s in points)
    (tmp_path / "hollow.csv").write_text(f"r_mm,s_mm\n{rows}\n")
    text = 'schema = 1\n[rim]\ntrace = "hollow.csv"\n[lip]\ntype = "average"\n[load]\nforce_n = 20.0\n'
    (tmp_path / "hollow.toml").write_text(text)
    return "hollow.toml"


def test_the_shipped_trace_keeps_all_but_its_rim() -> None:
    """The trace was made from a rim of 16.6 mm, width 5.3, cup wall 64 degrees, with 3 micrometre noise."""
    case = read_case("demo-trace")
    found = in_dimensions(case)
    rim = found.case.resolved["rim"]
    assert rim["inner_diameter_mm"] == pytest.approx(16.6, abs=0.01)
    assert rim["width_mm"] == pytest.approx(5.3, abs=0.01)
    assert rim["cup_wall_angle_deg"] == pytest.approx(64.0, abs=0.1)
    assert found.case.problem.lip == case.problem.lip
    assert found.case.presets == case.presets
    assert is_traced(case)
    assert not is_traced(found.case)
    assert "um at r =" in found.words


def test_only_dimensions_ask_for_dimensions() -> None:
    case = read_case("demo-trace")
    assert needs_dimensions(case, [("rim", "width_mm"), ("load", "force_n")])
    assert not needs_dimensions(case, [("load", "force_n")])
    assert not needs_dimensions(read_case("demo"), [("rim", "width_mm")])


def test_a_sweep_varies_it_and_says_so_once(plan: Writer, tmp_path: Path) -> None:
    place = plan("[vary]\nrim.width_mm = [5.0, 5.5]\n")
    told = io.StringIO()
    run_sweep(SweepOrder(place, means=Means(1, solver=stand_in.at_once)), Narrator(told))
    assert told.getvalue().count("is varied through its dimensions") == 1
    found = members(read_plan(place), "s")
    assert [m.case.resolved["rim"]["width_mm"] for m in found if m.case] == [5.0, 5.5]
    assert {m.case.resolved["rim"]["inner_diameter_mm"] for m in found if m.case} == {
        in_dimensions(read_case("demo-trace")).case.resolved["rim"]["inner_diameter_mm"]}


def test_a_plan_that_leaves_the_rim_alone_keeps_the_trace(plan: Writer) -> None:
    read = read_plan(plan("[vary]\nload.force_n = [5, 8]\n"))
    assert read.remark == ""
    assert "trace" in read.base.resolved["rim"]


def test_a_search_varies_and_sets_it(plan: Writer) -> None:
    read = read_search(plan('minimise = "peak_pressure_kpa"\n[vary]\nrim.width_mm = { from = 4.5, to = 6.0 }\n'))
    assert "varied through its dimensions" in read.remark
    assert read.base.resolved["rim"]["bite_radius_mm"] == pytest.approx(0.45, abs=0.06)
    settled = read_search(plan('minimise = "peak_pressure_kpa"\n[set]\nrim.bite_radius_mm = 0.8\n'
                               "[vary]\nload.force_n = { from = 10.0, to = 20.0 }\n"))
    assert "trace" not in settled.base.resolved["rim"]


def test_a_drawn_outline_is_varied_like_a_trace(plan: Writer) -> None:
    """The shipped ring of round wire, 2.5 mm in radius: its dimensions say so."""
    read = read_plan(plan("[vary]\nrim.width_mm = [4.3, 4.6]\n", "round-ring"))
    assert read.base.resolved["rim"]["bite_radius_mm"] == pytest.approx(2.5, abs=0.01)
    assert "the rim of this outline is varied through its dimensions" in read.remark
    found = in_dimensions(read_case("round-ring"))
    assert {p.path[1] for p in rim_parameters(found.case, "0.05mm", [])} >= {"width_mm", "shoulder_radius_mm"}


def test_the_page_starts_with_the_dimensions_of_shipped_outlines() -> None:
    start = starting_tables("round-ring")
    assert start["shipped_dimensions"].keys() == {"round-ring", "demo-trace"}
    assert start["dimensions"] == start["shipped_dimensions"]["round-ring"]
    assert starting_tables("demo")["dimensions"] is None


def test_tolerances_are_given_to_its_dimensions() -> None:
    found = rim_parameters(in_dimensions(read_case("demo-trace")).case, "0.05mm", [])
    assert {p.path[1] for p in found} >= {"inner_diameter_mm", "width_mm", "bite_radius_mm", "shoulder_radius_mm"}


@pytest.mark.slow
def test_a_rim_that_no_dimensions_say_is_refused_plainly(plan: Writer, hollow: str) -> None:
    with pytest.raises(InvalidCase, match=r"hollow\.toml: rim\.trace: .*stand off it by up to .* um at r = "):
        read_plan(plan("[vary]\nrim.width_mm = [5.0]\n", hollow))
    with pytest.raises(InvalidCase, match="labrum gauge TRACE --out FOLDER"):
        read_search(plan('minimise = "peak_pressure_kpa"\n[vary]\nrim.width_mm = { from = 4.5, to = 6.0 }\n', hollow))
    assert read_plan(plan("[vary]\nload.force_n = [5]\n", hollow)).count == 1


def test_the_page_gets_outline_and_sliders(hollow: str, tmp_path: Path) -> None:
    found = json.loads(json.dumps(traced_profile(demo_place() / "demo-trace.csv", "demo-trace.csv")))
    demo = tables_of(read_case("demo"))
    turned = case_from_page({**demo, "rim": found["dimensions"]["rim"]})
    drawn = case_from_page({**demo, "rim": {"outline_mm": found["outline_mm"]}})
    assert turned.problem.rim.bite == pytest.approx(drawn.problem.rim.bite, abs=1e-3)
    assert "um at r =" in found["dimensions"]["words"]
    nearest = traced_profile(tmp_path / "hollow.csv", "hollow.csv")["dimensions"]
    assert not nearest["is_said"]
    assert "no dimensions say this rim" in nearest["words"]


def test_a_case_opened_in_the_page_brings_sliders_only_where_it_has_none() -> None:
    assert dimensions_of(read_case("demo")) is None
    found = dimensions_of(read_case("round-ring"))
    assert found is not None
    assert found["rim"]["width_mm"] == pytest.approx(4.268, abs=0.01)
