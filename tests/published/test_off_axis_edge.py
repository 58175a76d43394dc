"""What the tissue beyond the lip's edge resists a wave with: a plate with a hole, in plane stress.

- Kirsch's plate: a round hole under a pull s at infinity moves by u_r = s R / E (1 + 2 cos 2 theta) and u_theta =
  -2 s R / E sin 2 theta (Timoshenko & Goodier, *Theory of Elasticity*, section "The effect of circular holes on stress
  distributions in plates"; from memory). Less the even pull, it is the plate's answer to the tractions that were there.
- Every other wave: Navier's equations of a ring, by scipy's solver of boundary-value problems.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from labrum.simulate.off_axis.springs import plate_stiffness

POISSON, SHEAR = 0.5, 1.0
YOUNG = 2.0 * SHEAR * (1.0 + POISSON)


def test_kirschs_hole():
    even = np.array([1.0, -1.0]) * (1.0 + POISSON) / (2.0 * YOUNG)
    further = np.array([2.0, -2.0]) / YOUNG - even
    assert -SHEAR * plate_stiffness(2) @ further == pytest.approx([-0.5, 0.5], rel=1e-12)


def ring(order, reach):
    """(2, 2) traction that a ring from 1 to ``reach``, held there, asks for at its hole, for (U, V) there."""

    def slopes(log_r, y):
        r, (u, v, radial, shear) = np.exp(log_r), y
        around = (u + order * v) / r
        stretch = (radial * (1.0 - POISSON**2) / YOUNG) - POISSON * around
        hoop = YOUNG * around + POISSON * radial
        slide = shear / SHEAR + (order * u + v) / r
        return r * np.array([
            stretch, slide, (hoop - radial - order * shear) / r, (order * hoop - 2.0 * shear) / r,
        ])  # fmt: skip

    places, columns = np.linspace(0.0, np.log(reach), 60), []
    for moved in np.eye(2):
        found = solve_bvp(
            slopes, lambda a, b, m=moved: np.concatenate([a[:2] - m, b[:2]]), places, np.zeros((4, 60)),
            tol=1e-9, max_nodes=20000,
        )  # fmt: skip
        assert found.success
        columns.append(-found.sol(0.0)[2:])
    return np.column_stack(columns)


@pytest.mark.parametrize("order", [2, 3, 5])
def test_the_plate_that_goes_on_for_ever(compare, order):
    found = ring(order, 300.0)
    for name, row, column in (("t_r of U", 0, 0), ("t_r of V", 0, 1), ("t_theta of V", 1, 1)):
        compare(f"plate around, {order} waves: {name}", SHEAR * plate_stiffness(order)[row, column],
                found[row, column], 0.05, "Navier's equations, held 300 R out")  # fmt: skip


@pytest.mark.parametrize("reach", [30.0, 300.0])
def test_a_shifted_plate_is_held_by_a_logarithm(compare, reach):
    found, shift = ring(1, reach), np.array([1.0, -1.0])
    told = shift @ plate_stiffness(1, np.log(reach) - 0.36) @ shift
    compare(f"plate around, shifted, held {reach:g} R out", told, shift @ found @ shift, 0.1, "ln(S / R) - 1 / kappa^2")
    alike = np.ones(2)
    assert alike @ found @ alike == pytest.approx(alike @ plate_stiffness(1) @ alike, rel=0.005)
