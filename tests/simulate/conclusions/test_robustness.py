"""Varied lips, what is concluded of them and how it is counted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pytest

from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions
from labrum.simulate import solve
from labrum.simulate.conclusions.measure_errors import doubt, higher
from labrum.simulate.conclusions.questions import conclusions, peak_place
from labrum.simulate.conclusions.rivals import Entrant, contested, pairings
from labrum.simulate.conclusions.robustness import Conclusion, Stopped, Trial, tried
from labrum.simulate.conclusions.thresholds import CONCENTRATED, FREE, PINNED
from labrum.simulate.conclusions.varied_lips import own_name, varied_lips
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.outcome import Contact, Outcome, Section
from labrum.simulate.problem import Accuracy, Layer, Lip, Load, Problem
from tests.some_measures import some_measures

SKIN = Layer("skin", 1.0, 0.05, (0.012, 0.003), 0.495, False)
CORE = Layer("core", 6.0, 0.03, (0.007, 0.0), 0.49, True, 0.1125)


def problem(width: float = 5.2, bite: float = 0.6, friction: float = 0.0, force: float = 8.0) -> Problem:
    rim = rim_from_dimensions(RimDimensions(16.5, width, 0.45, bite, 6.0, 8.0, 1.8, 60.0, 10.0))
    lip = Lip((SKIN, CORE), 25.0, 0.0, "bonded", 0.0)
    return Problem("a trial", rim, lip, Load(force, 0.0, friction, 0.0), Accuracy(5.0))


MEASURES = some_measures(
    peak_pressure_kpa=100.0, peak_radius_mm=8.5, peak_pressure_error_percent=1.0, mean_pressure_kpa=60.0,
    contact_area_mm2=300.0, bearing_area_mm2=280.0, edge_concentration=1.4, skin_stretch_max=1.3,
    contact_inner_radius_mm=8.0, contact_outer_radius_mm=14.0, felt_diameter_mm=21.5, felt_drift_mm_per_10n=0.1,
    sink_mm=2.0, past_bite=True, intrusion_height_mm=1.0, intrusion_volume_mm3=200.0, drawn_in_volume_mm3=0.0,
    touches_cup=False, cup_clearance_mm=5.0, closing_travel_ratio=None,
)  # fmt: skip
PROFILE = ((8.0, 0.0), (8.5, 100.0), (11.0, 50.0), (13.5, 80.0), (14.0, 0.0))


def outcome(profile: Sequence[tuple[float, float]] = PROFILE, **measures: object) -> Outcome:
    """An outcome with the measures that a test is about; nothing else in it means anything."""
    return Outcome(
        rim=problem().rim, measures=replace(MEASURES, **measures), force_n=8.0, pressure_profile=np.array(profile),
        lip_surface=np.zeros((2, 3)), contact=Contact(*(np.zeros((2, 2)),) * 2, *(np.zeros(2),) * 2, np.ones(2, bool)),
        section=Section(*(np.zeros((9, 2)),) * 2, np.zeros((1, 9), int), np.zeros(1, int), ("skin",),
                        np.zeros((9, 4)), np.ones(9)),
        history=(), unknowns=1, newton_iterations=1, solve_seconds=0.1, largest_penetration_mm=0.0, warnings=(),
    )  # fmt: skip


LOST = Stopped("stopped at 3 N", "not converged")


def trials(*results: Outcome | Stopped) -> tuple[Trial, ...]:
    return tuple(Trial(f"lip {number}", result) for number, result in enumerate(results))


def said(results: Sequence[Outcome | Stopped], question: str, own: str = "lip 0") -> Conclusion:
    return next(c for c in conclusions(trials(*results), own) if c.name == question)


# --- the varied lips ---------------------------------------------------------------------------------------------


def test_nine_lips_cross_three_stiffnesses_with_three_frictions() -> None:
    case = problem(friction=0.15)
    lips = varied_lips(case)
    assert len(lips) == len({lip.name for lip in lips}) == 9
    assert {lip.problem.load.friction for lip in lips} == {0.05, 0.15, 0.5}
    (own,) = (lip for lip in lips if lip.name == own_name(case))
    assert own.problem == case


def test_a_factor_scales_every_modulus_of_every_layer_but_not_the_muscle() -> None:
    case = problem()
    for factor in (0.5, 2.0):
        found = next(lip.problem for lip in varied_lips(case) if lip.name == f"stiffness x{factor:g}, friction 0")
        for layer, given in zip(found.lip.layers, (SKIN, CORE), strict=True):
            moduli = (layer.shear_modulus, *layer.stiffening)
            assert moduli == pytest.approx([factor * m for m in (given.shear_modulus, *given.stiffening)], rel=1e-15)
            assert replace(layer, shear_modulus=given.shear_modulus, stiffening=given.stiffening) == given
        assert replace(found, lip=case.lip) == case


@pytest.mark.parametrize("friction", [0.05, 0.5])
def test_the_cases_own_friction_is_not_tried_twice(friction: float) -> None:
    lips = varied_lips(problem(friction=friction))
    assert len(lips) == 6
    assert own_name(problem(friction=friction)) in {lip.name for lip in lips}


def test_rims_with_different_frictions_meet_the_same_lips() -> None:
    pair = (problem(friction=0.1), problem(width=6.0, friction=0.2))
    first, second = (varied_lips(case, pair) for case in pair)
    assert [lip.name for lip in first] == [lip.name for lip in second]
    assert len(first) == 12


@pytest.fixture(scope="module")
def solved_here() -> Outcome:
    """The problem, solved in earnest and in this process."""
    return solve(problem())


def test_stiffness_and_force_doubled_together_leave_the_shape(solved_here: Outcome) -> None:
    """Dimensions: with every modulus and the force doubled, pressures double and lengths stay."""
    stiff = next(lip.problem for lip in varied_lips(problem()) if lip.name == "stiffness x2, friction 0")
    a, b = solved_here.measures, solve(replace(stiff, load=replace(stiff.load, force=16.0))).measures
    assert b.peak_pressure_kpa == pytest.approx(2.0 * a.peak_pressure_kpa, rel=1e-5)
    for name in ("sink_mm", "felt_diameter_mm", "intrusion_volume_mm3", "bearing_area_mm2"):
        assert getattr(b, name) == pytest.approx(getattr(a, name), rel=1e-5)


# --- what is concluded of one rim --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("radius", "place"), [(7.9, "cup"), (8.5, "inner"), (9.9, "inner"), (10.1, "middle"), (12.1, "outer")]
)
def test_the_peak_lies_in_a_third_of_the_contact(radius: float, place: str) -> None:
    assert peak_place(outcome(((7.8, 0.0), (radius, 100.0), (14.0, 0.0)), peak_radius_mm=radius)) == place


@pytest.mark.parametrize(("rival", "place"), [(97.9, "inner"), (98.1, None), (99.9, None)])
def test_two_places_within_both_errors_cannot_be_told_apart(rival: float, place: str | None) -> None:
    """The peak is good to 1 %, and so is its rival."""
    assert peak_place(outcome(((8.0, 0.0), (8.5, 100.0), (13.0, rival), (14.0, 0.0)))) == place


@pytest.mark.parametrize(
    ("question", "changes", "words"),
    [
        ("concentration", {"edge_concentration": 1.6}, "the load is concentrated"),
        ("concentration", {"edge_concentration": 1.4}, "the load is fairly even"),
        ("concentration", {"edge_concentration": CONCENTRATED}, "cannot be told"),
        ("felt_side", {"felt_diameter_mm": 21.3}, "the rim feels larger"),
        ("felt_side", {"felt_diameter_mm": 21.0}, "the rim feels smaller"),
        ("felt_side", {"felt_diameter_mm": 16.5 + 2 * 0.45 * 5.2}, "the rim feels as large"),
        ("past_bite", {}, "tissue stands past"),
        ("past_bite", {"past_bite": False, "intrusion_height_mm": 0.0}, "no tissue stands past"),
        ("past_bite", {"intrusion_height_mm": 0.0001}, "cannot be told"),
        ("drawn_in", {"drawn_in_volume_mm3": 3.0}, "tissue from under the rim is drawn in"),
        ("drawn_in", {}, "no tissue from under the rim"),
        ("touches_cup", {"touches_cup": True, "cup_wall_reach_mm": 0.5}, "the lip touches the cup"),
        ("touches_cup", {"touches_cup": True, "cup_wall_reach_mm": 0.01}, "cannot be told"),
        ("touches_cup", {"errors": {"cup_clearance_mm": 5.0}}, "cannot be told"),
        ("touches_cup", {}, "the lip stays clear"),
        ("closing_travel", {"closing_travel_ratio": 0.95}, "closes freely"),
        ("closing_travel", {"closing_travel_ratio": 0.7}, "hinders"),
        ("closing_travel", {"closing_travel_ratio": 0.2}, "pins"),
        ("closing_travel", {"closing_travel_ratio": FREE}, "cannot be told"),
        ("closing_travel", {"closing_travel_ratio": PINNED + 0.001}, "cannot be told"),
    ],
)
def test_what_is_said_of_one_lip(question: str, changes: dict[str, object], words: str) -> None:
    found = said([outcome(**changes)], question)
    assert words in found.words
    assert found.survives == ("cannot" not in words and "as large" not in words)


def test_what_does_not_apply_is_not_concluded() -> None:
    names = {c.name for c in conclusions(trials(outcome(touches_cup=None, cup_clearance_mm=None)), "lip 0")}
    assert names == {"peak_place", "concentration", "felt_side", "past_bite", "drawn_in"}


def test_every_lip_is_counted_once_the_lost_ones_too() -> None:
    results = [outcome(edge_concentration=e) for e in (1.3, 1.4, 1.7, CONCENTRATED)]
    found = said([*results, LOST], "concentration")
    assert (found.holds, found.fails) == (("lip 0", "lip 1"), ("lip 2",))
    assert (found.cannot_tell, found.without_result) == (("lip 3",), ("lip 4",))
    assert (found.of, found.survives) == (5, False)
    assert (found.number, found.lowest, found.highest) == (1.3, 1.3, 1.7)


def test_a_lost_lip_keeps_a_conclusion_from_surviving() -> None:
    assert said([outcome()] * 2, "past_bite").survives
    assert not said([outcome(), LOST], "past_bite").survives


def test_the_claim_is_the_own_lips_answer_else_the_commonest() -> None:
    even, uneven = outcome(edge_concentration=1.2), outcome(edge_concentration=2.0)
    assert len(said([uneven, even, even], "concentration").holds) == 1
    without_own = said([LOST, even, even, uneven], "concentration")
    assert without_own.holds == ("lip 1", "lip 2")
    assert without_own.number is None


def test_with_every_lip_lost_nothing_is_concluded() -> None:
    assert conclusions(trials(LOST, LOST), "lip 0") == ()


# --- two rims ----------------------------------------------------------------------------------------------------


def entrant(name: str, *results: Outcome | Stopped) -> Entrant:
    return Entrant(name, trials(*results), "lip 0")


def test_a_difference_within_the_two_errors_cannot_be_told() -> None:
    """100 kPa good to 1 % and p good to 1 % are told apart from p = 100 (1.01 / 0.99) = 102.02 on."""
    first = [outcome(peak_pressure_kpa=p) for p in (102.1, 102.0, 90.0)]
    found = contested(entrant("A", *first, outcome()), entrant("B", *[outcome()] * 3, LOST))[0]
    assert found.words == "A peaks higher than B"
    assert (found.holds, found.cannot_tell) == (("lip 0",), ("lip 1",))
    assert (found.fails, found.without_result) == (("lip 2",), ("lip 3",))
    assert found.number == pytest.approx(2.1)
    assert (found.lowest, found.highest) == (pytest.approx(-10.0), pytest.approx(2.1))


def test_the_sentence_leads_with_the_rim_that_has_more() -> None:
    more = outcome(bearing_area_mm2=300.0, felt_diameter_mm=22.0, intrusion_volume_mm3=250.0)
    found = contested(entrant("A", outcome()), entrant("B", more))
    words = [c.words for c in found]
    areas = next(c for c in found if c.name == "bearing_area_mm2")
    assert (areas.number, areas.lowest, areas.highest) == (20.0, 20.0, 20.0)
    assert "B bears on more area than A" in words
    assert "B lets more tissue past the bite than A" in words
    assert "B feels larger than A" in words
    assert "A and B cannot be told apart: difference of the peaks" in words


def test_a_freer_lip_is_told_only_where_a_muscle_contracts() -> None:
    free, held = (outcome(closing_travel_ratio=ratio) for ratio in (0.95, 0.6))
    assert contested(entrant("A", free), entrant("B", held))[-1].words == "A leaves the lip freer than B"
    always = [measure for measure in CATALOGUE.values() if measure.claim is not None and not measure.optional]
    assert len(contested(entrant("A", outcome()), entrant("B", outcome()))) == len(always)


def test_three_rims_make_three_pairs() -> None:
    rims = [entrant(name, outcome()) for name in "ABC"]
    assert [(p.first, p.second) for p in pairings(rims)] == [("A", "B"), ("A", "C"), ("B", "C")]


def test_every_measure_with_a_number_has_a_doubt() -> None:
    named = {k for k, v in vars(MEASURES).items() if not isinstance(v, bool)}
    numbers = named - {"peak_pressure_error_percent", "errors"}
    assert {name for name, measure in CATALOGUE.items() if measure.error is not None} == numbers
    assert doubt(MEASURES, "peak_pressure_kpa") == pytest.approx(1.0)
    assert higher(MEASURES, replace(MEASURES, felt_drift_mm_per_10n=None), "felt_drift_mm_per_10n") is None


# --- solving ----------------------------------------------------------------------------------------------------


def test_trials_come_back_in_order_however_they_finish() -> None:
    lips = varied_lips(problem())
    heard: list[str] = []

    def backwards(problems: Sequence[Problem]) -> Iterator[tuple[int, Outcome | Stopped]]:
        yield from ((n, LOST if n == 4 else outcome()) for n in reversed(range(len(problems))))

    found = tried(lips, backwards, lambda trial: heard.append(trial.name))
    assert [trial.name for trial in found] == [lip.name for lip in lips] == heard[::-1]
    assert [trial.outcome is None for trial in found].index(True) == 4
