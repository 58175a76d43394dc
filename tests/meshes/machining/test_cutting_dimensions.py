"""The numbers of a drawing come back as they were given; tolerances as the tables have them."""

from __future__ import annotations

from math import inf

import pytest

from labrum.meshes.machining.dimensions import (
    Band,
    Dimension,
    dimensions_of,
    iso_2768,
    no_tolerance,
    same_for_lengths,
    with_own,
)
from labrum.meshes.rims.outline import rim_from_outline
from labrum.meshes.rims.rim import RimDimensions, rim_from_dimensions

DEMO = RimDimensions(16.5, 5.2, 0.45, 0.6, 6.0, 8.0, 1.8, 60.0, 10.0)


def by_key(rim: object) -> dict[str, float]:
    return {d.key: d.value for d in dimensions_of(rim)}  # type: ignore[arg-type]


def test_what_was_given_is_what_the_drawing_says() -> None:
    found = by_key(rim_from_dimensions(DEMO))
    assert found.pop("bite_depth") == pytest.approx(0.526978, abs=1e-6)
    assert found == pytest.approx({
        "inner_diameter": 16.5,
        "high_point_diameter": 16.5 + 2 * 0.45 * 5.2,
        "outer_diameter": 16.5 + 2 * 5.2,
        "cup_depth": 10.0,
        "cup_wall_angle": 60.0,
        "bite_radius": 0.6,
        "inner_crown_radius": 6.0,
        "outer_crown_radius": 8.0,
        "shoulder_radius": 1.8,
    })


def test_flat_crowns_bear_no_radius() -> None:
    flat = rim_from_dimensions(RimDimensions(16.5, 5.2, 0.45, 0.6, inf, inf, 1.8, 60.0, 10.0))
    assert {k for k in by_key(flat) if "radius" in k} == {"bite_radius", "shoulder_radius"}


def test_an_outline_names_its_arcs_by_their_number() -> None:
    ring = rim_from_outline([[8.25, 6.0, 0.0], [8.25, 2.5, 1.0], [13.25, 2.5, 0.0], [13.25, 6.0, 0.0]])
    found = by_key(ring)
    assert found["bite_radius"] == pytest.approx(2.5)
    # The tangent of half a circle of radius 2.5 about s = 2.5 stands at 45 degrees at s = 2.5 (1 - sqrt 1/2).
    assert found["bite_depth"] == pytest.approx(0.732233, abs=1e-6)
    assert found["cup_depth"] == pytest.approx(6.0 - 0.732233, abs=1e-6)
    assert found["outer_diameter"] == pytest.approx(26.5)


@pytest.mark.parametrize(("name", "kind", "value", "band"), [
    # Table 1, linear sizes.
    ("f", "diameter", 16.5, 0.1), ("m", "diameter", 16.5, 0.2), ("c", "diameter", 16.5, 0.5),
    ("m", "length", 0.5, 0.1), ("m", "length", 6.0, 0.1), ("m", "length", 6.001, 0.2), ("m", "length", 30.1, 0.3),
    ("f", "length", 3.0, 0.05), ("c", "length", 5.0, 0.3), ("c", "diameter", 40.0, 0.8),
    # Table 2, radii.
    ("m", "radius", 0.6, 0.2), ("f", "radius", 6.0, 0.5), ("c", "radius", 1.8, 0.4), ("c", "radius", 8.0, 2.0),
])
def test_iso_2768_classes(name: str, kind: str, value: float, band: float) -> None:
    """ISO 2768-1:1989; from memory, and so in tables found on the web."""
    assert iso_2768(name)(Dimension("x", "", kind, value)) == Band(band, -band)


@pytest.mark.parametrize(("name", "leg", "degrees"), [("m", 8.0, 1.0), ("f", 11.4, 0.5), ("c", 60.0, 0.5)])
def test_iso_2768_angles_go_by_the_shorter_leg(name: str, leg: float, degrees: float) -> None:
    assert iso_2768(name)(Dimension("x", "", "angle", 60.0, leg_mm=leg)) == Band(degrees, -degrees)


def test_iso_2768_has_nothing_below_half_a_millimetre() -> None:
    assert iso_2768("m")(Dimension("bite_radius", "", "radius", 0.3)) is None


def test_a_band_of_its_own_comes_before_the_rule() -> None:
    rule = with_own(same_for_lengths(0.02, -0.02), {"bite_radius": Band(0.05, -0.01)})
    assert rule(Dimension("bite_radius", "", "radius", 0.3)) == Band(0.05, -0.01)
    assert rule(Dimension("outer_diameter", "", "diameter", 27.0)) == Band(0.02, -0.02)
    assert rule(Dimension("cup_wall_angle", "", "angle", 60.0)) is None
    assert no_tolerance(Dimension("outer_diameter", "", "diameter", 27.0)) is None
