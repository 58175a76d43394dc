"""What a chart's number could have been read from, against rims drawn so that the answer is known."""

from __future__ import annotations

from dataclasses import replace
from math import inf, radians, sin, sqrt, tan

import pytest

from labrum.meshes.dimensioning.chart_number import ChartNumber, Explanation, explanations
from labrum.meshes.gauges.gauge import gauged_drawing
from labrum.meshes.gauges.readings import sharp_corner
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions
from tests import gauge_rims

PLAIN = gauge_rims.PLAIN


def of(kind: str, d: RimDimensions, number: float, half: float = 0.005) -> list[Explanation]:
    found = explanations(gauged_drawing(rim_from_dimensions(d)), d, ChartNumber(number, half))
    return [one for one in found if one.kind == kind]


def test_the_convention_that_gives_the_number_is_named() -> None:
    (found,) = of("convention", PLAIN, 16.50)
    assert (found.name, found.value) == ("tangent_45", pytest.approx(16.5))
    assert [one.name for one in of("convention", PLAIN, 16.49, half=0.05)] == ["tangent_45", "sharp_corner"]
    assert of("convention", PLAIN, 14.0) == []


@pytest.mark.parametrize("other", [0.2, 0.35, 1.0])
def test_the_bite_that_gives_the_number_stands_in_the_same_corner(other: float) -> None:
    """On a flat rim by hand: corner and wall stay, so the 45 degree diameter moves by 2 (tan(w/2) - 1/sqrt 2) a mm."""
    flat = replace(PLAIN, inner_crown_radius_mm=inf)
    per_mm = 2.0 * (tan(radians(flat.cup_wall_angle_deg) / 2) - 1.0 / sqrt(2.0))
    (found,) = of("bite radius", flat, flat.inner_diameter_mm + per_mm * (other - flat.bite_radius_mm))
    assert found.value == pytest.approx(other, abs=1e-4)


def test_on_a_round_crown_the_corner_stays_too() -> None:
    (found,) = of("bite radius", PLAIN, 16.4)
    high, outer = 8.25 + PLAIN.high_point * PLAIN.width_mm, 8.25 + PLAIN.width_mm
    other = replace(PLAIN, inner_diameter_mm=16.4, width_mm=outer - 8.2, high_point=(high - 8.2) / (outer - 8.2),
                    bite_radius_mm=found.value)
    corner = [sharp_corner(rim_from_dimensions(d), 1.0).r for d in (PLAIN, other)]
    assert corner[0] == pytest.approx(corner[1], abs=1e-5)


def test_the_place_is_where_the_profile_has_that_radius() -> None:
    """On the bite's arc at 30 degrees: r = centre - bite sin(30), and s likewise."""
    rim = rim_from_dimensions(PLAIN)
    centre = 8.25 + PLAIN.bite_radius_mm / sqrt(2.0)
    (found,) = of("where read", PLAIN, 2.0 * (centre - PLAIN.bite_radius_mm * sin(radians(30.0))))
    assert found.angle_deg == pytest.approx(30.0, abs=0.5)
    assert found.value < rim.bite[1]


def test_a_number_wider_than_the_high_point_has_no_place_on_the_inner_side() -> None:
    assert of("where read", PLAIN, 24.0) == []
