"""The player's lip: layers between the library's, what is expected, and the fit against lips that are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import RectBivariateSpline

from labrum.cases.library.shelf import library_lip, lip_names, lip_red
from labrum.cases.player.expected import SHARE_WITHIN, STIFFNESS_SD, expected_lip
from labrum.cases.player.fitting import FORCE_SD_N, LENGTH_SD_MM, fitted_lip
from labrum.cases.player.plausible import plausible_lips
from labrum.cases.player.pressing import PressTable
from labrum.cases.player.sheet import Press, SeenLips
from labrum.cases.player.tissue import layer_tables, library_stiffness, nearest_type
from tests.studies.recovery import known_rim, recovered

MEASURED = expected_lip(SeenLips(thickness=12.0, thickness_by="calliper"))


@pytest.mark.parametrize("name", lip_names())
def test_at_the_librarys_thickness_the_lip_is_the_librarys(name: str) -> None:
    known = library_lip(name).layers
    whole = sum(layer["thickness_mm"] for layer in known)
    for ours, theirs in zip(layer_tables(whole, library_stiffness(whole)), known, strict=True):
        assert ours["thickness_mm"] == pytest.approx(theirs["thickness_mm"])
        assert ours["shear_modulus_kpa"] == pytest.approx(theirs["shear_modulus_kpa"])
        assert ours["stiffening_kpa"] == pytest.approx(theirs["stiffening_kpa"])
    assert nearest_type(whole) == name


@pytest.mark.parametrize("thickness", [5.0, 10.2, 13.0, 20.0])
def test_a_lip_is_as_thick_as_it_is_said_to_be(thickness: float) -> None:
    assert sum(layer["thickness_mm"] for layer in layer_tables(thickness, 1.0)) == pytest.approx(thickness)


@pytest.mark.parametrize("name", lip_names())
def test_the_red_alone_tells_the_librarys_type(name: str) -> None:
    upper, lower = lip_red(name)
    for seen in (SeenLips(red_upper=upper, red_lower=lower), SeenLips(red_upper=upper), SeenLips(red_lower=lower)):
        assert nearest_type(expected_lip(seen).thickness) == name
    assert "red" in expected_lip(SeenLips(red_upper=upper)).basis


def test_with_nothing_known_it_is_the_librarys_average_within_a_factor_of_two() -> None:
    lip = fitted_lip(expected_lip(SeenLips()), (), PressTable())
    assert (lip.thickness, lip.stiffness) == pytest.approx((11.5, 1.0))
    assert np.exp(STIFFNESS_SD * SHARE_WITHIN) == pytest.approx(2.0)
    assert "nothing known" in lip.expected.basis
    assert lip.narrowed == 1.0


def test_slopes_of_what_is_expected_are_its_derivatives() -> None:
    place, step = np.array([0.3, -0.4]), 1e-6
    found = [
        [np.subtract(*(np.array([lip[0], np.log(lip[1])]) for lip in
                       (MEASURED.lip(place + d * np.eye(2)[k]) for d in (step, -step)))) / (2 * step)]
        for k in (0, 1)
    ]  # fmt: skip
    assert MEASURED.slopes(place) == pytest.approx(np.vstack(found).T, abs=1e-6)


def test_a_press_depends_on_force_over_stiffness_alone() -> None:
    """All moduli scaled and nothing else pressing, the equations of equilibrium scale: solved, not looked up."""
    from labrum.cases.player.pressing import pressing_problem
    from labrum.simulate import solve

    rim = known_rim()
    one, other = (solve(pressing_problem(rim, 12.0, k, 10.0 * k)).measures for k in (1.0, 1.6))
    assert other.sink_mm == pytest.approx(one.sink_mm, abs=1e-3)
    assert other.contact_outer_radius_mm == pytest.approx(one.contact_outer_radius_mm, abs=0.01)
    assert other.peak_pressure_kpa == pytest.approx(1.6 * one.peak_pressure_kpa, rel=0.01)


def exact_presses(thickness: float, stiffness: float, forces: tuple[float, ...], table: PressTable) -> list[Press]:
    rim = known_rim()
    found = [table.lengths(rim, thickness, stiffness, force) for force in forces]
    return [Press(rim, force, *map(float, one)) for force, one in zip(forces, found, strict=True)]


@pytest.fixture(scope="module")
def table() -> PressTable:
    """What was pressed once need not be solved again."""
    return PressTable()


def test_two_presses_narrow_the_stiffness_by_half_and_one_by_less(table: PressTable) -> None:
    presses = exact_presses(12.8, 0.8, (10.0, 25.0), table)
    two, one = (fitted_lip(MEASURED, some, table) for some in (presses, presses[:1]))
    assert two.narrowed <= 0.5
    assert two.narrowed < one.narrowed < 1.0
    low, high = two.stiffness_between
    assert low < 0.8 < high
    assert abs(two.thickness - 12.8) < two.thickness_uncertainty
    assert not any(one.strange for one in two.residuals)


def test_a_press_that_no_such_lip_gives_is_told(table: PressTable) -> None:
    presses = exact_presses(12.8, 0.8, (10.0, 25.0), table)
    wrong = [replace(presses[0], sink=presses[0].sink + 2.5), presses[1]]  # type: ignore[operator]
    assert any(one.strange for one in fitted_lip(MEASURED, wrong, table).residuals)


def test_plausible_lips_are_those_of_the_posterior_and_the_same_each_time(table: PressTable) -> None:
    lip = fitted_lip(MEASURED, exact_presses(12.8, 0.8, (10.0,), table), table)
    many = plausible_lips(lip, 512)
    rows = np.array([[one.thickness, np.log(one.stiffness)] for one in many])
    assert rows.mean(axis=0) == pytest.approx([lip.thickness, np.log(lip.stiffness)], abs=0.02)
    assert np.cov(rows.T) == pytest.approx(lip.covariance, rel=0.05, abs=0.002)
    assert plausible_lips(lip, 5) == plausible_lips(lip, 5)
    assert plausible_lips(lip, 5) != plausible_lips(lip, 5, seed=1)


@pytest.mark.slow
def test_a_random_lip_is_found_again() -> None:
    """Within twice the interval told, 4 standard deviations; how often within once is the slow test's question."""
    row = recovered(1, seed=7)
    low, high = np.log(row["stiffness_between"])
    assert abs(row["found"][0] - row["thickness"]) < 2.0 * row["thickness_uncertainty"]
    assert abs(np.log(row["found"][1] / row["stiffness"])) < high - low
    assert row["narrowed"] <= 0.5


@pytest.mark.slow
def test_of_fifty_random_lips_nine_in_ten_are_found_again() -> None:
    rows = [recovered(which, seed=1) for which in range(50)]
    assert sum(row["thickness_in"] for row in rows) >= 45
    assert sum(row["stiffness_in"] for row in rows) >= 45
    assert max(row["narrowed"] for row in rows) <= 0.5


@pytest.mark.slow
def test_the_posterior_by_linearisation_is_that_by_sampling() -> None:
    """Self-normalised importance sampling (Robert & Casella 2004, Monte Carlo Statistical Methods, 3.3; from memory).

    200,000 lips are drawn from what is expected, with a true force for each press, and weighted by the likelihood. The
    press is a spline over thickness and the logarithm of force over stiffness, through solved presses.
    """
    table, rim = PressTable(), known_rim()
    presses = exact_presses(12.6, 0.85, (10.0, 25.0), table)
    lip = fitted_lip(MEASURED, presses, table)
    thick, load = np.linspace(8.5, 15.5, 8), np.linspace(np.log(3.0), np.log(80.0), 12)
    solved = np.array([[table.lengths(rim, t, 1.0, float(np.exp(f))) for f in load] for t in thick])
    splines = [RectBivariateSpline(thick, load, solved[:, :, k], kx=3, ky=3) for k in range(3)]
    places = np.random.default_rng(3).standard_normal((200_000, 4))
    thickness = MEASURED.thickness + MEASURED.thickness_sd * places[:, 0]
    logs = np.log([library_stiffness(t) for t in thickness]) + MEASURED.stiffness_sd * places[:, 1]
    misfit = np.zeros(len(places))
    for number, press in enumerate(presses):
        force = np.maximum(press.force + FORCE_SD_N * places[:, 2 + number], 0.1)
        at = np.clip(np.log(force) - logs, load[0], load[-1])
        for spline, measured in zip(splines, press.lengths, strict=True):
            misfit += ((spline.ev(np.clip(thickness, 8.5, 15.5), at) - measured) / LENGTH_SD_MM) ** 2
    weight = np.exp(-0.5 * misfit)
    weight /= weight.sum()
    assert 1.0 / np.sum(weight**2) > 2000  # effective sample size
    rows = np.column_stack([thickness, logs])
    mean = weight @ rows
    spread = np.sqrt(weight @ (rows - mean) ** 2)
    stated = np.sqrt(np.diag(lip.covariance))
    assert np.all(np.abs([lip.thickness, np.log(lip.stiffness)] - mean) <= 0.25 * stated)
    assert stated == pytest.approx(spread, rel=0.15)
    both = np.cov(rows.T, aweights=weight)[0, 1] / spread.prod()
    assert lip.covariance[0, 1] / stated.prod() == pytest.approx(both, abs=0.1)
