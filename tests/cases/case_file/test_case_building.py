"""From a case to a problem: units, defaults, presets, and that what is written down reads back the same."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from labrum.cases.case_file.building import Case, asking_off_axis
from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table, case_from_text, read_case
from labrum.cases.library.shelf import demo_names, demo_place, lip_names, load_names
from labrum.meshes.faults import Fault, GeometryError
from labrum.meshes.rims.outline import rim_from_outline
from labrum.simulate.postures.asked import Posture
from labrum.simulate.problem import Accuracy, Aim, Layer, Load, NotConverged

OWN = """\
schema = 1
[rim]
inner_diameter_mm = 17
width_mm = 5.0
inner_crown_radius_mm = "flat"
[lip]
radius_mm = 24.0
opening_radius_mm = 1.5
backing = "sliding"
edge = "held"
tooth_gap_radius_mm = 6.0
[[lip.layer]]
name = "skin"
thickness_mm = 1.2
shear_modulus_kpa = 50.0
stiffening_kpa = [11.75, 2.0]
poisson_ratio = 0.5
[[lip.layer]]
thickness_mm = 8
shear_modulus_kpa = 25.0
muscle = true
[load]
force_n = 12
mouth_pressure_kpa = 4.0
friction = 0.3
muscle_activation = 0.4
[accuracy]
peak_pressure_percent = 2.0
"""


def test_a_case_becomes_a_problem_in_mm_and_mpa() -> None:
    problem = case_from_text(OWN, "mine.toml").problem
    assert problem.title == "mine"
    assert problem.lip.layers == (
        Layer(
            "skin", 1.2, pytest.approx(0.05), (pytest.approx(0.01175), pytest.approx(0.002)), 0.5, False, 0.0
        ),
        Layer("layer 2", 8.0, pytest.approx(0.025), (0.0, 0.0), 0.495, True, pytest.approx(0.1125), 18.0, 2.8),
    )
    assert problem.lip.thickness == pytest.approx(9.2)
    assert (problem.lip.radius, problem.lip.opening_radius, problem.lip.tooth_gap_radius) == (24.0, 1.5, 6.0)
    assert (problem.lip.backing, problem.lip.edge) == ("sliding", "held")
    assert problem.load == Load(12.0, pytest.approx(0.004), 0.3, 0.4)
    assert problem.accuracy == Accuracy(2.0)
    assert problem.rim.bite[0] == 8.5
    assert problem.rim.outer_radius == 13.5


def test_what_is_left_out_takes_its_default(case_text: str) -> None:
    problem = case_from_text(case_text).problem
    assert (problem.lip.radius, problem.lip.backing, problem.lip.edge) == (25.0, "bonded", "continuing")
    assert (problem.lip.opening_radius, problem.lip.tooth_gap_radius) == (0.0, 0.0)
    assert problem.load == Load(20.0, 0.0, 0.0, 0.0)
    assert problem.accuracy == Accuracy(1.0)
    assert problem.rim.bite_radius == 0.6


def assert_same(one: Case, other: Case) -> None:
    """Same problem, the rim's curve compared by its numbers."""
    assert replace(one.problem, rim=other.problem.rim) == other.problem
    assert np.array_equal(one.problem.rim.curve.start, other.problem.rim.curve.start)
    assert np.array_equal(one.problem.rim.curve.end, other.problem.rim.curve.end)
    assert np.array_equal(one.problem.rim.curve.bulge, other.problem.rim.curve.bulge)
    assert one.problem.rim.bite == other.problem.rim.bite
    assert one.resolved == other.resolved


@pytest.mark.parametrize("name", demo_names())
def test_a_resolved_case_reads_back_as_the_same_problem(name: str) -> None:
    case = read_case(name)
    assert_same(case, case_from_table(json.loads(json.dumps(case.resolved)), folder=demo_place()))


def test_a_resolved_case_of_ones_own_layers_reads_back_as_the_same_problem() -> None:
    case = case_from_text(OWN, "mine.toml")
    assert_same(case, case_from_table(json.loads(json.dumps(case.resolved))))
    assert case.resolved["rim"]["inner_crown_radius_mm"] == "flat"
    assert case.presets == {}


def test_an_outline_keeps_its_rows(case_text: str) -> None:
    rows = [[8.25, 7.5, 0], [8.25, 2.5, 1.0], [13.25, 2.5, 0], [13.25, 7.5, 0]]
    case = case_from_text(
        case_text.replace("inner_diameter_mm = 16.5\nwidth_mm = 5.2", f"outline_mm = {rows}")
    )
    assert case.resolved["rim"] == {"outline_mm": rows}
    assert case.problem.rim.outer_radius == pytest.approx(13.25)


def with_a_gap(case_text: str) -> str:
    """The same lip where breath has something to push on."""
    return case_text.replace('type = "average"', 'type = "average"\ntooth_gap_radius_mm = 4.0')


def test_explicit_values_stand_over_a_preset(case_text: str) -> None:
    text = with_a_gap(case_text).replace("force_n = 20.0", 'preset = "trumpet-loud"\nforce_n = 33.0')
    load = case_from_text(text).problem.load
    assert (load.force, load.mouth_pressure) == (33.0, pytest.approx(0.015))


@pytest.mark.parametrize(("name", "value"), [("mean_pressure_kpa", 62.0), ("sink_mm", 2.5)])
def test_what_is_felt_may_be_given_in_place_of_the_force(case_text: str, name: str, value: float) -> None:
    """By itself, and over a preset's force, whose breath stays."""
    for text, breath in ((f"{name} = {value}", 0.0), (f'preset = "trumpet-loud"\n{name} = {value}', 0.015)):
        case = case_from_text(with_a_gap(case_text).replace("force_n = 20.0", text))
        assert case.problem.load.aim == Aim(name, value)
        assert case.problem.load.known_force is None
        assert case.problem.load.mouth_pressure == pytest.approx(breath)
        assert {key for key in case.resolved["load"] if key in ("force_n", "mean_pressure_kpa", "sink_mm")} == {name}
        assert case_from_table(case.resolved).problem.load == case.problem.load


@pytest.mark.parametrize("lip", lip_names())
@pytest.mark.parametrize("load", load_names())
def test_no_preset_warns_on_a_library_lip_nor_when_read_again(case_text: str, lip: str, load: str) -> None:
    """A preset's breath is left out where the lip gives it nothing to push on; with a gap it is there."""
    text = case_text.replace("average", lip).replace("force_n = 20.0", f'preset = "{load}"')
    for one, breathes in ((text, False), (text.replace("[load]", "tooth_gap_radius_mm = 4.0\n[load]"), True)):
        case = case_from_text(one)
        assert case.warnings == ()
        assert (case.problem.load.mouth_pressure > 0.0) == breathes
        again = case_from_table(json.loads(json.dumps(case.resolved)))
        assert (again.problem.load, again.warnings) == (case.problem.load, ())


def trace_rim(path: Path) -> Any:
    """Stand in for the reader of measured profiles: plain rows of r, s and bulge."""
    try:
        rows = np.loadtxt(path, delimiter=",", ndmin=2)
    except ValueError as error:
        raise GeometryError((Fault("rim.trace", str(error), "numbers"),)) from None
    return rim_from_outline(rows, source="trace")


@pytest.fixture
def trace_case(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, case_text: str) -> Path:
    monkeypatch.setitem(sys.modules, "labrum.meshes.traces.trace", SimpleNamespace(rim_from_trace=trace_rim))
    (tmp_path / "case.toml").write_text(
        case_text.replace("inner_diameter_mm = 16.5\nwidth_mm = 5.2", 'trace = "a.csv"')
    )
    return tmp_path / "case.toml"


def test_a_trace_is_looked_for_beside_the_case(trace_case: Path) -> None:
    (trace_case.parent / "a.csv").write_text("8.25,7.5,0\n8.25,2.5,1\n13.25,2.5,0\n13.25,7.5,0\n")
    case = read_case(str(trace_case))
    assert case.problem.rim.source == "trace"
    assert case.inputs == (trace_case.parent / "a.csv",)
    assert case.resolved["rim"] == {"trace": "a.csv"}


@pytest.mark.parametrize("rows", ["8.25,7.5,0\n8.25,x,1\n", "8.25,7.5,0\n8.25,2.5,0\n13,2.5,0\n"])
def test_faults_of_a_trace_stand_at_the_key_that_names_it(trace_case: Path, rows: str) -> None:
    (trace_case.parent / "a.csv").write_text(rows)
    with pytest.raises(InvalidCase) as caught:
        read_case(str(trace_case))
    assert {(fault.line, fault.fault.key.partition("[")[0]) for fault in caught.value.faults} == {
        (5, "rim.trace")
    }


def test_a_trace_that_cannot_be_decoded_is_a_fault(trace_case: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (trace_case.parent / "a.csv").write_bytes(b"\xff\xfe\x00")
    reader = SimpleNamespace(rim_from_trace=lambda path: path.read_text(encoding="utf-8"))
    monkeypatch.setitem(sys.modules, "labrum.meshes.traces.trace", reader)
    with pytest.raises(InvalidCase, match=r'case\.toml:5: rim\.trace: got "a\.csv", .*utf-8'):
        read_case(str(trace_case))


REMARKS = [
    (
        'type = "average"',
        'type = "average"\nradius_mm = 15.0',
        "lip.radius_mm: the lip disc ends close outside the rim; from 24.9 mm on its edge hardly matters",
    ),
    (
        'type = "average"',
        'type = "average"\ntooth_gap_radius_mm = 11.0',
        "lip.tooth_gap_radius_mm: the tooth gap is wider than the rim's high point: "
        "no tooth stands behind the rim",
    ),
    (
        'type = "average"',
        'type = "average"\nfold_radius_mm = 22.0',
        "lip.fold_radius_mm: it changes nothing here: only a sliding back ends at the fold",
    ),
    (
        "force_n = 20.0",
        "force_n = 20.0\nmouth_pressure_kpa = 4.0",
        "load.mouth_pressure_kpa: the mouth's pressure has nothing to push on: the back is bonded, "
        "lip.tooth_gap_radius_mm and lip.opening_radius_mm are 0",
    ),
    (
        'type = "average"\n\n[load]',
        "[[lip.layer]]\nthickness_mm = 9.0\nshear_modulus_kpa = 30.0\n[load]\nmuscle_activation = 0.5",
        "load.muscle_activation: no layer of the lip is a muscle that can contract",
    ),
]


@pytest.mark.parametrize(("old", "new", "remark"), REMARKS, ids=[r.split(":")[0] for _, _, r in REMARKS])
def test_what_deserves_a_second_look_is_remarked_on(case_text: str, old: str, new: str, remark: str) -> None:
    assert old in case_text
    assert case_from_text(case_text.replace(old, new)).warnings == (remark,)


def test_a_failed_solve_crosses_a_process_border() -> None:
    import pickle

    stop = pickle.loads(pickle.dumps(NotConverged(9.6, "the mesh folded", "less force")))
    assert (stop.force_reached, stop.cause, stop.advice, stop.history) == (
        9.6,
        "the mesh folded",
        "less force",
        (),
    )


def test_nothing_is_asked_off_the_axis_without_its_table() -> None:
    case = case_from_text(OWN)
    assert case.problem.posture is None
    assert "off_axis" not in case.resolved


def test_an_empty_table_asks_for_tilt_and_shift_and_the_lips_are_told_by_their_ratio() -> None:
    assert case_from_text(OWN + "[off_axis]\n").problem.posture == Posture()
    case = case_from_text(OWN + "[off_axis]\ntilt_deg = 2\narch_radius_mm = 24\nlower_lip_stiffness = 1.5\n")
    # 1.2 and 0.8 of the mean are 1.5 to 1
    assert case.problem.posture == Posture(2.0, 24.0, pytest.approx(0.2), 0.0)
    assert case_from_table(case.resolved).problem.posture == case.problem.posture


def test_asking_off_the_axis_keeps_what_the_case_asks() -> None:
    asking = asking_off_axis(case_from_text(OWN))
    assert asking.problem.posture == Posture()
    assert case_from_table(asking.resolved).problem.posture == Posture()
    own = case_from_text(OWN + "[off_axis]\ntilt_deg = 2\n")
    assert asking_off_axis(own) is own
