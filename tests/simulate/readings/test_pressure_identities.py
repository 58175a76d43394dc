"""What mean pressure, contact area, bearing area and force have to do with one another, on any rim and lip.

The integrals are taken again from the outcome's own fields by the trapezoidal rule, apart from the nodal forces that
the measures rest on. That a square's mean is at least the mean's square is Cauchy's and Schwarz's inequality.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.simulate import solve
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged

RIMS = st.fixed_dictionaries({
    "inner_diameter_mm": st.floats(15.0, 19.0),
    "width_mm": st.floats(4.0, 6.5),
    "high_point": st.floats(0.3, 0.6),
    "bite_radius_mm": st.floats(0.2, 1.2),
    "cup_wall_angle_deg": st.floats(46.0, 75.0),
    "cup_depth_mm": st.floats(1.5, 10.0),
})  # fmt: skip
LIPS = st.fixed_dictionaries({"type": st.sampled_from(["thin", "average", "fleshy"]),
                              "backing": st.sampled_from(["bonded", "sliding"])})  # fmt: skip
LOADS = st.fixed_dictionaries(
    {"force_n": st.floats(2.0, 60.0), "friction": st.one_of(st.just(0.0), st.floats(0.05, 1.0))}
)


def solved(rim: dict[str, Any], lip: dict[str, Any], load: dict[str, Any]) -> Outcome | None:
    """Solve to a fifth of the peak, which is enough for identities; None where that cannot be."""
    tables = {"schema": 1, "rim": rim, "lip": lip, "load": load, "accuracy": {"peak_pressure_percent": 20.0}}
    try:
        return solve(case_from_table(tables).problem)
    except (InvalidCase, NotConverged):
        return None


def carried_mn(outcome: Outcome, power: int = 1, inside: float = 0.0) -> float:
    """∫ p^power dA in mN kPa^(power - 1), over radii beyond ``inside``, from pressure at the nodes of the surface."""
    return _integral(outcome.contact.place[:, 0], outcome.contact.pressure_kpa, power, inside)


def carried_by_the_line_mn(outcome: Outcome) -> float:
    """The same of the line of pressure that is drawn and told."""
    radius, pressure = outcome.pressure_profile.T
    return _integral(radius, pressure, 1, 0.0)


def _integral(radius: Any, pressure: Any, power: int, inside: float) -> float:
    kept = radius >= inside
    return float(trapezoid((2.0 * np.pi * radius * pressure**power)[kept], radius[kept]))


def axial_force_n(outcome: Outcome) -> float:
    """The force along the axis, from pressure and shear on the deformed surface."""
    c = outcome.contact
    tangent = np.column_stack([-c.normal[:, 1], c.normal[:, 0]])
    push = -(c.pressure_kpa * c.normal[:, 1] + c.shear_kpa * tangent[:, 1]) * c.place[:, 0]
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(c.place, axis=0).T))])
    return 2e-3 * np.pi * float(trapezoid(push, length))


def check(outcome: Outcome, load: dict[str, Any]) -> None:
    m = outcome.measures
    carried = 1e-3 * m.mean_pressure_kpa * m.contact_area_mm2
    cup = m.cup_wall_reach_mm is not None and m.cup_wall_reach_mm > 0.0
    inside = m.contact_inner_radius_mm if cup else 0.0
    assert 1e-3 * carried_mn(outcome, 1, inside) == pytest.approx(carried, rel=0.02)
    assert axial_force_n(outcome) == pytest.approx(load["force_n"], rel=0.02)
    assert m.bearing_area_mm2 <= m.contact_area_mm2
    own = carried_mn(outcome, 1, inside) ** 2 / carried_mn(outcome, 2, inside)
    assert m.bearing_area_mm2 == pytest.approx(own, rel=0.02)
    assert m.mean_pressure_kpa <= m.peak_pressure_kpa
    assert m.edge_concentration == pytest.approx(m.peak_pressure_kpa / m.mean_pressure_kpa, rel=1e-12)
    if load["friction"] == 0.0 and not cup:
        assert carried == pytest.approx(load["force_n"], rel=1e-6)
    elif load["friction"] == 0.0:
        assert carried < load["force_n"]


@given(RIMS, LIPS, LOADS)
@settings(max_examples=8, derandomize=True, database=None, deadline=None, suppress_health_check=list(HealthCheck))
def test_the_identities_hold_on_random_designs(rim: Any, lip: Any, load: Any) -> None:
    found = solved(rim, lip, load)
    if found is not None:
        check(found, load)


@pytest.mark.slow
@given(RIMS, LIPS, LOADS)
@settings(max_examples=300, derandomize=True, database=None, deadline=None, suppress_health_check=list(HealthCheck))
def test_the_identities_hold_on_many_random_designs(rim: Any, lip: Any, load: Any) -> None:
    found = solved(rim, lip, load)
    if found is not None:
        check(found, load)


@pytest.mark.parametrize("friction", [0.0, 0.3])
def test_where_the_cup_is_touched_each_number_is_the_rims_alone(friction: float) -> None:
    rim = {"inner_diameter_mm": 16.5, "width_mm": 5.2, "cup_wall_angle_deg": 46.0}
    load = {"force_n": 40.0, "friction": friction}
    found = solved(rim, {"type": "fleshy", "backing": "sliding"}, load)
    assert found is not None
    assert found.measures.cup_wall_reach_mm is not None
    assert found.measures.cup_wall_reach_mm > 0.3
    check(found, load)


@pytest.mark.parametrize(("high_point", "bite"), [(0.3046875, 0.5), (0.3125, 0.2)])
def test_the_line_that_is_told_carries_the_force(high_point: float, bite: float) -> None:
    """Without friction and cup all of the force is in it; it is said to be right to 1 % of the peak throughout."""
    rim = {"inner_diameter_mm": 15.0, "width_mm": 4.0, "high_point": high_point, "bite_radius_mm": bite,
           "cup_wall_angle_deg": 46.0, "cup_depth_mm": 2.0}  # fmt: skip
    found = solved(rim, {"type": "thin", "backing": "bonded"}, {"force_n": 2.0, "friction": 0.0})
    assert found is not None
    assert 1e-3 * carried_by_the_line_mn(found) == pytest.approx(2.0, rel=0.01)
