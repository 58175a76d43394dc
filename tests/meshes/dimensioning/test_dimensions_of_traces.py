"""Profiles said in dimensions: drawn rims come back, the doubt stated is the doubt found, others are refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf, isfinite, isinf, sqrt

import numpy as np
import pytest

from labrum.meshes.dimensioning.box_coordinates import KEYS, from_box, into_box, slopes_at, values_of
from labrum.meshes.dimensioning.dimensioned import (
    DimensionedRim,
    dimensioned_outline,
    dimensioned_points,
    dimensioned_trace,
)
from labrum.meshes.dimensioning.fitting import fit_box
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions
from labrum.meshes.traces.trace import rim_of_points
from tests import gauge_rims
from tests.studies.traced import measured_points

PLAIN = gauge_rims.PLAIN
TUBA = replace(PLAIN, inner_diameter_mm=32.0, width_mm=7.8, bite_radius_mm=1.0, inner_crown_radius_mm=9.0)


def said(points: np.ndarray) -> DimensionedRim:
    return dimensioned_trace(rim_of_points(points))


def test_every_place_of_the_box_is_a_rim_and_comes_back() -> None:
    rng = np.random.default_rng(1)
    for _ in range(200):
        x = np.array([rng.uniform(5, 15), *rng.uniform(1, 4, 2), *rng.uniform(0.02, 0.999, 4), rng.uniform(0.8, 1.57),
                      rng.uniform(5, 12), 0.0])
        d = from_box(x)
        rim_from_dimensions(d)
        assert np.allclose(into_box(d), x, atol=1e-9)


def test_slopes_are_those_of_the_formulas() -> None:
    x = into_box(PLAIN)
    slopes = slopes_at(x)
    inner = PLAIN.high_point * PLAIN.width_mm
    assert slopes[KEYS.index("inner_diameter_mm"), 0] == pytest.approx(2.0)
    assert slopes[KEYS.index("bite_radius_mm"), 3] == pytest.approx(sqrt(2.0) * inner, rel=1e-6)
    # Crown R = sqrt(2) run / k, so dR / dk = -R / k.
    assert slopes[KEYS.index("inner_crown_radius_mm"), 4] == pytest.approx(-6.0 / x[4], rel=1e-6)
    assert slopes[KEYS.index("high_point"), 1] == pytest.approx((1 - PLAIN.high_point) / PLAIN.width_mm, rel=1e-6)


@pytest.mark.parametrize("d", [PLAIN, TUBA, replace(PLAIN, bite_radius_mm=0.15, cup_wall_angle_deg=85.0),
                               replace(PLAIN, width_mm=3.4, high_point=0.3, shoulder_radius_mm=0.9)])
def test_a_drawn_rim_gives_back_what_drew_it(d: RimDimensions) -> None:
    back = dimensioned_outline(rim_from_outline(rim_from_dimensions(d).curve.vertices))
    assert back.is_said
    assert back.departure.um < 0.2
    assert np.allclose(values_of(back.dimensions), values_of(d), atol=2e-4)


def test_the_fit_reaches_it_from_far_away() -> None:
    x = into_box(PLAIN)
    points = gauge_rims.sampled(gauge_rims.plain_rim(), noise=0.0)
    start = x + np.array([0.3, -0.4, 0.3, 0.2, -0.1, 0.1, -0.2, 0.15, -0.5, 0.05])
    fit = fit_box(start, np.ones(10, dtype=bool), points)
    assert np.allclose(fit.x, x, atol=1e-6)


def of_random_rim(seed: int) -> tuple[DimensionedRim, DimensionedRim]:
    """What noisy points at uneven places give, and what the drawn outline gives."""
    rim = gauge_rims.random_rim(1000 + seed)
    read = rim_from_outline(rim.curve.vertices)
    points = measured_points(rim, np.random.default_rng([7, seed]))
    return dimensioned_points(read, points, 0.01), dimensioned_outline(read)


@pytest.fixture(scope="module")
def thirty() -> list[tuple[DimensionedRim, DimensionedRim]]:
    return [of_random_rim(seed) for seed in range(30)]


def test_thirty_random_rims_come_back(thirty) -> None:
    """From noise of 5 to 10 micrometres and steps unlike by ten; without either, to less than a micrometre."""
    for back, exact in thirty:
        assert exact.departure.um < 0.2
        assert back.is_said, back.refusal()
        assert abs(back.dimensions.width_mm - exact.dimensions.width_mm) < 0.03
        assert abs(back.rim.outer_radius - exact.rim.outer_radius) < 0.01


def test_the_doubt_stated_is_the_doubt_found(thirty) -> None:
    """Of a normal law 68.3 and 95.4 % lie within one and two standard deviations (ISO/IEC Guide 98-3, table G.1, from
    memory); of some 250 numbers that hang together, near that."""
    size = np.array([abs(getattr(back.dimensions, key) - getattr(exact.dimensions, key)) / back.uncertainties[key]
                     for back, exact in thirty for key in KEYS
                     if isfinite(back.uncertainties[key]) and isfinite(exact.uncertainties[key])])
    assert 0.60 < (size < 1.0).mean() < 0.76
    assert (size < 2.0).mean() > 0.92
    assert size.max() < 5.0


@pytest.mark.parametrize("seed", range(4))
def test_a_trace_as_read_gives_the_same(seed: int, thirty) -> None:
    """The reader divides the points into arcs and lines of its own; the dimensions follow from the points."""
    rim = gauge_rims.random_rim(1000 + seed)
    back, known = said(measured_points(rim, np.random.default_rng([7, seed]))), thirty[seed][0]
    assert back.is_said
    assert np.allclose(values_of(back.dimensions)[:4], values_of(known.dimensions)[:4], atol=2e-3)


def test_the_doubt_falls_as_the_root_of_the_points() -> None:
    rim = gauge_rims.plain_rim()
    few, many = (said(gauge_rims.sampled(rim, 3, spacing=s)).uncertainties for s in (0.08, 0.02))
    for key in ("inner_diameter_mm", "width_mm", "inner_crown_radius_mm", "shoulder_radius_mm"):
        assert few[key] / many[key] == pytest.approx(2.0, rel=0.35)


def test_flat_crowns_are_called_flat_and_their_high_point_unknown() -> None:
    flat = gauge_rims.plain_rim(inner_crown_radius_mm=inf, outer_crown_radius_mm=inf)
    back = said(gauge_rims.sampled(flat, 1, noise=0.008, spacing=0.04))
    assert isinf(back.dimensions.inner_crown_radius_mm)
    assert isinf(back.dimensions.outer_crown_radius_mm)
    assert isinf(back.uncertainties["high_point"])
    assert any("may lie anywhere" in note for note in back.notes)
    assert back.dimensions.width_mm == pytest.approx(PLAIN.width_mm, abs=0.02)


def bent(change: Callable[[np.ndarray], None], noise: float = 0.005) -> np.ndarray:
    points = gauge_rims.sampled(gauge_rims.plain_rim(), 1, noise=noise, spacing=0.04)
    change(points)
    return points[points[:, 0] > 1.5]


def test_a_hollow_in_the_crown_is_refused_with_the_nearest_that_can_be_said() -> None:
    def hollow(p: np.ndarray) -> None:
        p[:, 1] += 0.3 * np.exp(-(((p[:, 0] - 12.0) / 0.6) ** 2)) * (p[:, 1] < 1.5)

    back = said(bent(hollow))
    assert not back.is_said
    assert "no dimensions say this rim" in back.refusal()
    assert f"{back.departure.um:.0f} um at r = {back.departure.r:.2f}" in back.refusal()
    assert 11.0 < back.departure.r < 13.5
    assert back.rim.outer_radius == pytest.approx(13.45, abs=0.1)


def test_a_round_cup_does_not_spoil_the_rim_and_is_told() -> None:
    def cup(p: np.ndarray) -> None:
        deep = (p[:, 0] < 8.0) & (p[:, 1] > 2.0)
        p[deep, 0] -= 0.05 * (p[deep, 1] - 2.0) ** 2

    back = said(bent(cup))
    assert back.is_said
    assert back.cup is not None
    assert back.cup.um > 500.0
    assert any("no straight wall" in note for note in back.notes)
    assert back.dimensions.inner_diameter_mm == pytest.approx(16.5, abs=0.02)
    assert back.dimensions.cup_wall_angle_deg == pytest.approx(62.0, abs=1.0)


def test_an_outside_that_leans_does_not_spoil_the_rim_and_is_told() -> None:
    drawn = gauge_rims.plain_rim().curve
    rows = drawn.vertices[:-2].copy()
    lean, turn = np.radians(84.0), drawn.heading[-2]
    end = drawn.centre[-2] + drawn.radius[-2] * np.array([np.sin(lean), -np.cos(lean)])
    rows[-1, 2] = np.tan((lean - turn) / 4)
    ends = [[*end, 0.0], [*(end + 6.0 * np.array([np.cos(lean), np.sin(lean)])), 0.0]]
    back = dimensioned_outline(rim_from_outline(np.vstack([rows, ends])))
    assert back.is_said
    assert back.departure.um < 1.0
    assert any("no upright wall" in note for note in back.notes)
    assert back.dimensions.width_mm == pytest.approx(5.2, abs=0.002)


def test_a_cup_without_a_floor_keeps_room_for_the_lip() -> None:
    points = gauge_rims.sampled(gauge_rims.plain_rim(), 1, spacing=0.04)
    back = said(points[points[:, 1] < 2.5])
    assert back.dimensions.cup_depth_mm >= 10.0
    assert isinf(back.uncertainties["cup_depth_mm"])
    assert any("stand-in" in note for note in back.notes)


def test_a_profile_without_a_cup_gets_a_usual_one() -> None:
    ring = [[8.45, 2.0, 0.0], [8.5, 1.8, 0.35], [10.75, 0.0, 0.41421356], [13.25, 2.5, 0.0], [13.25, 6.0, 0.0]]
    back = dimensioned_outline(rim_from_outline(ring))
    assert isfinite(back.departure.distance)
    rim_from_dimensions(back.dimensions)
