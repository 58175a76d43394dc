"""Rims side by side, and the interval that goes with a reading."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.meshes.gauges.gauge import disagreements, gauged
from labrum.meshes.gauges.readings import at_depth, tangent_45
from labrum.meshes.traces.trace import rim_of_points
from tests import gauge_rims


def gauge(seed: int, **changes: float):
    return gauged(rim_of_points(gauge_rims.sampled(gauge_rims.plain_rim(**changes), seed, spacing=0.03)), draws=60)


def test_same_by_one_convention_different_by_another() -> None:
    # Two rims with one diameter at 45 degrees; the steeper cup wall keeps the other wider 1 mm down.
    flat, steep = gauge(1), gauge(2, cup_wall_angle_deg=75.0)
    found = disagreements([flat, steep])
    assert [(d.first, d.second) for d in found] == [(0, 1)]
    assert "45° tangent" in dict(found[0].same)
    apart = dict(found[0].different)["set depth"]
    steeper = gauge_rims.plain_rim(cup_wall_angle_deg=75.0)
    assert apart == pytest.approx(2 * (at_depth(steeper, 1.0).r - at_depth(gauge_rims.plain_rim(), 1.0).r), abs=0.02)


def test_one_rim_measured_twice_is_one_size_by_all() -> None:
    assert disagreements([gauge(1), gauge(2)]) == []


def test_intervals_hold_the_value_and_are_four_uncertainties_wide() -> None:
    found = gauge(1)
    for reading in (*found.diameters, *found.dimensions):
        assert reading.low < reading.value < reading.high, reading.name
        assert reading.high - reading.low == pytest.approx(4 * reading.uncertainty, rel=0.35), reading.name
    assert found.reading("tangent_45").value == pytest.approx(2 * tangent_45(found.rim, 1.0).r)


def test_uncertainty_falls_with_more_points() -> None:
    rim = gauge_rims.plain_rim()
    few, many = (gauged(rim_of_points(gauge_rims.sampled(rim, 5, spacing=s)), draws=200).reading("tangent_45")
                 for s in (0.04, 0.01))
    assert few.uncertainty / many.uncertainty == pytest.approx(2.0, rel=0.3)  # four times the points


def test_alike_errors_of_neighbours_widen_the_uncertainty() -> None:
    rim = gauge_rims.plain_rim()
    clean = rim.curve.at(np.arange(0.01, rim.curve.length, 0.02))
    rng = np.random.default_rng(0)
    rough = rng.standard_normal((len(clean), 2))
    alike = np.array([np.convolve(c, np.ones(5) / 5**0.5, mode="same") for c in rough.T]).T
    one, five = (gauged(rim_of_points(clean + 0.005 * e), draws=100).reading("width_mm") for e in (rough, alike))
    # Sums over five neighbours: means scatter five times as much in variance as independent errors of that size.
    assert 1.5 < five.uncertainty / one.uncertainty < 3.0
