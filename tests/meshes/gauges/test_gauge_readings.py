"""Readings of drawn rims against the geometry worked by hand."""

from __future__ import annotations

from dataclasses import replace
from math import cos, inf, isinf, isnan, radians, sin, sqrt, tan

import numpy as np
import pytest

from labrum.meshes.gauges.readings import CONVENTIONS, RIM_QUANTITIES, diameters, dimensions, spread_of_readings
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.rims.rim import rim_from_dimensions
from tests import gauge_rims


def test_every_convention_has_a_name_and_one_line() -> None:
    assert [c.name for c in CONVENTIONS] == [
        "tangent_45", "arc_apex", "sharp_corner", "at_depth", "largest_curvature"]
    for thing in (*CONVENTIONS, *RIM_QUANTITIES):
        assert "\n" not in thing.definition
        assert 10 < len(thing.definition) < 125


@pytest.mark.parametrize("bite", [0.3, 0.6, 1.0])
@pytest.mark.parametrize("wall", [55.0, 75.0])
def test_a_flat_rim_reads_as_worked_by_hand(bite: float, wall: float) -> None:
    d = replace(gauge_rims.PLAIN, bite_radius_mm=bite, cup_wall_angle_deg=wall,
                inner_crown_radius_mm=inf, outer_crown_radius_mm=inf)
    read, w = diameters(rim_from_dimensions(d)), radians(wall)
    centre = 0.5 * d.inner_diameter_mm + bite / sqrt(2.0)  # of the bite's arc, at height bite above the flat
    assert read["tangent_45"] == pytest.approx(d.inner_diameter_mm, abs=1e-9)
    # The arc leaves the level at 0 and the wall at w: its middle looks w / 2 inwards of straight down.
    assert read["arc_apex"] == pytest.approx(2 * (centre - bite * sin(w / 2)), abs=1e-9)
    # Tangents at both ends of an arc of angle w meet bite tan(w / 2) beyond them.
    assert read["sharp_corner"] == pytest.approx(2 * (centre - bite * tan(w / 2)), abs=1e-9)
    wall_end = (centre - bite * sin(w), bite * (1 - cos(w)))
    assert read["at_depth"] == pytest.approx(2 * (wall_end[0] - (1.0 - wall_end[1]) / tan(w)), abs=1e-9)
    assert read["largest_curvature"] == pytest.approx(read["arc_apex"], abs=1e-6)
    assert spread_of_readings(read) == pytest.approx(max(read.values()) - min(read.values()))


def test_a_round_crown_carried_on_meets_the_wall_where_circle_and_line_do() -> None:
    d, rim = gauge_rims.PLAIN, gauge_rims.plain_rim()
    high = 0.5 * d.inner_diameter_mm + d.high_point * d.width_mm
    wall = radians(d.cup_wall_angle_deg)
    end = rim.curve.end[1]  # of the wall
    # On the wall line at t from its end, distance to the crown's centre (high, R) is R: halve the interval.
    low, up = 0.0, 2.0

    def outside(t: float) -> bool:
        r, s = end[0] + t * cos(wall), end[1] - t * sin(wall)
        return np.hypot(r - high, s - d.inner_crown_radius_mm) > d.inner_crown_radius_mm

    assert not outside(low)
    assert outside(up)
    for _ in range(60):
        middle = 0.5 * (low + up)
        low, up = (low, middle) if outside(middle) else (middle, up)
    assert diameters(rim)["sharp_corner"] == pytest.approx(2 * (end[0] + low * cos(wall)), abs=1e-9)


def test_dimensions_give_back_what_drew_the_rim() -> None:
    for seed in range(20):
        rim = gauge_rims.random_rim(seed)
        read = dimensions(rim)
        assert read["width_mm"] == pytest.approx(rim.outer_radius - rim.bite[0])
        assert read["bite_radius_mm"] == pytest.approx(rim.bite_radius)
        # Pieces from the bite's: bite, inner crown, outer crown, shoulder.
        first = int(rim.curve.piece_at(rim.cup_end + 1e-6)[0])
        for name, k in (("inner_crown_radius_mm", 1), ("outer_crown_radius_mm", 2), ("shoulder_radius_mm", 3)):
            assert read[name] == pytest.approx(rim.curve.radius[first + k]), name
        assert read["cup_wall_angle_deg"] == pytest.approx(-np.degrees(rim.curve.heading[first]), abs=1e-6)


def test_the_flat_band_is_the_sum_of_two_half_chords() -> None:
    band = sqrt(2 * 6.0 * 0.05 - 0.05**2) + sqrt(2 * 8.0 * 0.05 - 0.05**2)
    assert dimensions(gauge_rims.plain_rim())["flat_band_mm"] == pytest.approx(band, abs=1e-9)
    assert isinf(dimensions(gauge_rims.plain_rim(inner_crown_radius_mm=inf))["inner_crown_radius_mm"])


def test_a_ring_of_wire_has_no_corner_and_no_cup() -> None:
    rim = rim_from_outline([[8.25, 6.0, 0.0], [8.25, 2.5, 1.0], [13.25, 2.5, 0.0], [13.25, 6.0, 0.0]])
    read = diameters(rim)
    assert read["tangent_45"] == pytest.approx(2 * (10.75 - 2.5 / sqrt(2.0)))
    assert read["at_depth"] == pytest.approx(2 * (10.75 - sqrt(2.5**2 - 1.5**2)), abs=1e-9)
    assert dimensions(rim)["cup_wall_angle_deg"] == pytest.approx(90.0, abs=1e-6)


def test_a_depth_below_everything_reads_nothing() -> None:
    assert isnan(diameters(gauge_rims.plain_rim(), depth=60.0)["at_depth"])


def test_conventions_agree_as_the_bite_vanishes() -> None:
    """With the edge the places that sit on it close in on the corner, at first order in the radius."""
    apart = []
    for bite in (0.4, 0.2, 0.1):
        read = diameters(gauge_rims.plain_rim(bite_radius_mm=bite))
        on_edge = [read[name] for name in ("tangent_45", "arc_apex", "sharp_corner")]
        apart.append(max(on_edge) - min(on_edge))
    rates = np.log2(np.array(apart[:-1]) / apart[1:])
    assert np.allclose(rates, 1.0, atol=0.15)
