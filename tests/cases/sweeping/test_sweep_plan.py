"""A plan: what it spells out, and every fault in it with its line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import qmc

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.library.shelf import demo_place, library_lip
from labrum.cases.sweeping.expansion import Member, members, unit_sample
from labrum.cases.sweeping.plan import Sample, SweepPlan, read_plan
from labrum.simulate.problem import Aim

PlanFile = Callable[[str], Path]


def expand(path: Path) -> tuple[SweepPlan, list[Member]]:
    plan = read_plan(path)
    return plan, members(plan, "this solver")


def test_lists_ranges_and_choices_multiply_the_last_fastest(plan_file: PlanFile) -> None:
    plan, cases = expand(
        plan_file(
            "[vary]\n"
            "rim.width_mm = { from = 5.0, to = 5.6, step = 0.2 }\n"
            'lip.type = ["thin", "average"]\n'
            "load.force_n = { from = 10, to = 20, count = 3 }\n"
            "[choose.contour]\n"
            "round = { rim.inner_crown_radius_mm = 5.0, rim.outer_crown_radius_mm = 6.0 }\n"
            'flat = { rim.inner_crown_radius_mm = "flat" }\n'
        )
    )
    assert plan.count == len(cases) == 4 * 2 * 3 * 2
    assert cases[0].settings == {"rim.width_mm": 5.0, "lip.type": "thin", "load.force_n": 10.0, "contour": "round"}
    assert cases[1].settings["contour"] == "flat"
    assert [m.settings["rim.width_mm"] for m in cases[::12]] == [5.0, 5.2, 5.4, 5.6]
    last = cases[-1].case
    assert last is not None
    assert last.problem.load.force == 20.0
    assert last.resolved["rim"]["inner_crown_radius_mm"] == "flat"
    assert last.resolved["rim"]["outer_crown_radius_mm"] == 8.0  # the base's, as this choice leaves it alone
    assert len({m.key for m in cases}) == len(cases)


def test_a_lip_type_replaces_layers_and_a_preset_the_force(plan_file: PlanFile) -> None:
    _, cases = expand(plan_file('[vary]\nlip.type = ["fleshy"]\nload.preset = ["horn-soft"]\n'))
    case = cases[0].case
    assert case is not None
    assert case.problem.lip.thickness == pytest.approx(15.0)
    assert case.problem.load.force == 4.0


def test_what_is_asked_off_the_axis_is_varied_though_the_base_asks_nothing(plan_file: PlanFile) -> None:
    _, cases = expand(plan_file("[vary]\noff_axis.arch_radius_mm = [20.0, 28.0]\n"))
    postures = [member.case.problem.posture for member in cases if member.case is not None]
    assert [posture.arch_radius_mm for posture in postures if posture is not None] == [20.0, 28.0]
    _, cases = expand(plan_file("[vary]\nrim.width_mm = [5.0]\n"))
    assert cases[0].case is not None
    assert cases[0].case.problem.posture is None


def test_rims_are_swept_at_equal_mean_pressure_or_sink(plan_file: PlanFile) -> None:
    """A plan holds rims at what it gives in place of the base's force."""
    text = "[vary]\nload.mean_pressure_kpa = [60.0]\nrim.width_mm = [4.0, 5.0]\n"
    _, cases = expand(plan_file(text))
    assert [member.case.problem.load.aim for member in cases] == 2 * [Aim("mean_pressure_kpa", 60.0)]
    _, cases = expand(plan_file("[vary]\nload.sink_mm = [1.5, 2.0]\n"))
    assert [member.case.problem.load.aim.value for member in cases] == [1.5, 2.0]
    assert "force_n" not in cases[0].case.resolved["load"]


def test_factors_scale_every_layer_of_whatever_lip(plan_file: PlanFile) -> None:
    _, cases = expand(
        plan_file('[vary]\nlip.stiffness_factor = [0.5]\nlip.thickness_factor = [1.2]\nlip.type = ["thin"]\n')
    )
    case = cases[0].case
    assert case is not None
    for layer, before in zip(case.problem.lip.layers, library_lip("thin").layers, strict=True):
        assert layer.thickness == pytest.approx(1.2 * before["thickness_mm"])
        assert layer.shear_modulus == pytest.approx(0.5e-3 * before["shear_modulus_kpa"])
        assert layer.stiffening[0] == pytest.approx(0.5e-3 * before["stiffening_kpa"][0])


def test_spans_are_sampled_between_their_ends_the_same_each_time(plan_file: PlanFile) -> None:
    path = plan_file(
        "[vary]\nrim.width_mm = { from = 5.0, to = 6.0 }\nrim.bite_radius_mm = { from = 0.4, to = 0.8 }\n"
        "load.force_n = [10, 20]\n[sample]\npoints = 16\nseed = 3\n"
    )
    _, cases = expand(path)
    widths = np.array([m.settings["rim.width_mm"] for m in cases if m.settings["load.force_n"] == 10.0])
    assert len(cases) == 32
    assert sorted(np.floor((widths - 5.0) * 16)) == list(range(16))  # one in each sixteenth, as Sobol's must
    assert [m.key for m in cases] == [m.key for m in expand(path)[1]]


def test_the_sample_fills_the_square_better_than_chance() -> None:
    """Centred discrepancy (Hickernell 1998, as scipy has it) of 64 points: Sobol's beats the mean of random ones."""
    ours = qmc.discrepancy(unit_sample(2, Sample(64, 5)))
    rng = np.random.default_rng(1)
    chance = np.mean([qmc.discrepancy(rng.random((64, 2))) for _ in range(20)])
    assert ours < 0.1 * chance


def test_a_rim_that_cannot_be_is_a_case_with_its_reason(plan_file: PlanFile) -> None:
    _, cases = expand(plan_file("[vary]\nrim.inner_crown_radius_mm = [6.0, 1.0]\n"))
    assert cases[0].case is not None
    assert cases[1].case is None
    assert "rim.inner_crown_radius_mm: got 1, allowed at least" in cases[1].reason


def test_the_title_does_not_change_a_key_and_the_solver_does(plan_file: PlanFile, tmp_path: Path) -> None:
    plan = read_plan(plan_file("[vary]\nrim.width_mm = [5.0]\n"))
    (tmp_path / "own.toml").write_text("""\
schema = 1
title = "Another title"
[rim]
inner_diameter_mm = 16.5
width_mm = 5.2
[lip]
type = "average"
radius_mm = 25.0
[load]
force_n = 20.0
""")
    other = tmp_path / "other.toml"
    other.write_text('schema = 1\ncase = "own.toml"\n[vary]\nrim.width_mm = [5.0]\n')
    key = members(plan, "a")[0].key
    assert members(read_plan(other), "a")[0].key == key
    assert members(plan, "b")[0].key != key


FAULTY = """\
schema = 1
case = "demo"
titel = "a slip"
[vary]
rim.widht_mm = [5.0]
rim.width_mm = [5.0, "wide", 5.0]
rim.high_point = { from = 0.5, to = 0.4, step = 0.1 }
rim.bite_radius_mm = { from = 0.3, to = 0.6, setp = 0.1 }
load.force_n = { from = 10, to = 20 }
lip.type = { from = 1, to = 2 }
lips.type = ["thin"]
[choose.contour]
round = { rim.inner_crown_radius_mm = -5.0, rim.high_point = 0.4 }
[choose.empty]
"""


def test_every_fault_comes_in_one_pass_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "faulty.toml"
    path.write_text(FAULTY)
    with pytest.raises(InvalidCase) as caught:
        read_plan(path)
    said = {f.line: str(f) for f in caught.value.faults}
    assert "did you mean title?" in said[3]
    assert "did you mean width_mm?" in said[5]
    assert 'vary.rim.width_mm[1]: got "wide"' in said[6]
    assert "more than from, 0.5" in said[7]
    assert "did you mean step?" in said[8]
    assert "[sample]" in said[9]
    assert "not a number" in said[10]
    assert "one of rim, lip, load, accuracy" in said[11]
    assert "choose.contour.round.rim.inner_crown_radius_mm" in said[13]
    assert "named choices" in said[14]
    assert len(caught.value.faults) == len(said) == 10


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "nothing to vary"),
        ("[vary]\nrim.width_mm = { from = 4, to = 5 }\n[sample]\npoints = 60\n", "take 64"),
        ("[vary]\nrim.width_mm = [4]\n[sample]\npoints = 64\n", "nothing to sample"),
        ("[vary]\nrim.width_mm = { from = 4, to = 5, count = 1 }\n", "whole number from 2"),
        ("[vary]\nrim.width_mm = { from = 4, to = 5, step = 2 }\n", "a step that fits"),
        ("[vary]\nrim.width_mm = 5.0\n", "in brackets: [5.0]"),
        ('[vary]\n"rim.width_mm" = [5.0]\n', "without quotes"),
        ("[vary]\nrim.width_mm = [4]\n[choose.w]\nsmall = { rim.width_mm = 3 }\n", "a key changed once"),
        ("[vary]\nload.force_n = { from = 1, to = 400, count = 5000 }\n"
         "rim.width_mm = { from = 1, to = 9, count = 5000 }\n", "at most 50000"),
    ],
)  # fmt: skip
def test_plans_that_make_no_sense_say_so(plan_file: PlanFile, text: str, words: str) -> None:
    with pytest.raises(InvalidCase, match=words.replace("[", r"\[").replace("]", r"\]")):
        read_plan(plan_file(text))


def test_a_missing_plan_and_a_missing_base_say_so(tmp_path: Path) -> None:
    with pytest.raises(InvalidCase, match="no such file, allowed a readable TOML file"):
        read_plan(tmp_path / "none.toml")
    (tmp_path / "plan.toml").write_text('schema = 1\ncase = "mine.toml"\n[vary]\nrim.width_mm = [5]\n')
    with pytest.raises(InvalidCase, match=r"mine.toml: file: got no such file"):
        read_plan(tmp_path / "plan.toml")


def test_a_traced_rim_keeps_its_trace_wherever_the_plan_stands(tmp_path: Path) -> None:
    """The shipped traced case, and a copy of it beside another plan: the same rim, so the same keys."""
    (tmp_path / "there").mkdir()
    for name in ("demo-trace.toml", "demo-trace.csv"):
        (tmp_path / "there" / name).write_bytes((demo_place() / name).read_bytes())
    keys = []
    for number, case in enumerate(("demo-trace", "there/demo-trace.toml")):
        plan = tmp_path / f"plan{number}.toml"
        plan.write_text(f'schema = 1\ncase = "{case}"\n[vary]\nload.force_n = [5, 8]\n')
        keys.append([member.key for member in members(read_plan(plan), "s")])
    assert keys[0] == keys[1]
    assert all(keys[0])
