"""The whole weak form against a solution made up beforehand: its error falls as the elements' theory has it.

The method of manufactured solutions (Roache 2002, J. Fluids Eng. 124:4): choose the answer, find the load that belongs
to it, solve under that load. Q9/P-1 is stable, so displacements in the mean are of order 3 and pressures of order 2
(Boffi, Brezzi & Fortin 2013, *Mixed Finite Element Methods and Applications*, 8.6). The stress of the answer is the
complex-step derivative (Squire & Trapp 1998, SIAM Rev. 40:110) of the energy that `labrum.simulate.weak_form` states,
and shares no line with the forms' own derivatives. All three sources from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse.linalg as spla
from skfem import Basis, ElementQuad2, ElementVector, LinearForm
from skfem.helpers import ddot

from labrum.simulate.weak_form import DiscontinuousLinear, WeakForm, gradient
from tests import bodies

SHEAR, SECOND, THIRD, ACTIVE = 1.0, 0.4, 0.2, 0.6
INSIDE, OUTSIDE, BACK = 1.0, 2.0, -1.0
EXACT = 14  # order to which loads and errors are integrated
SQUEEZED = 0.4


def isochoric(x):
    """A large motion of no change of volume: heights drawn out as circles narrow, then shear along the axis."""
    r, z = x
    up = 1.5 * (z - BACK)
    drawn, drawn_out = z + 0.2 * (1.0 - np.cos(up)), 1.0 + 0.3 * np.sin(up)  # and its slope
    out = r / np.sqrt(drawn_out)
    return out - r, drawn - z + 0.2 * (out**2 - 1.0)


def compressed(x):
    """A large motion that also changes volume."""
    r, z = x
    up = z - BACK
    return 0.1 * np.sin(3.0 * r) * up, 0.1 * np.sin(3.0 * up) + 0.05 * np.cos(3.0 * r) * up**2


def pressed(x):
    """The pressure where volume is kept, MPa: free to choose."""
    return 0.5 * np.cos(2.0 * x[0]) + 0.3 * x[0] * x[1]


def slopes(motion, x, step=1e-30):
    """F (3, 3, ...) of a motion by complex steps."""
    r, z = x
    by_r, by_z = motion((r + 1j * step, z)), motion((r, z + 1j * step))
    f = np.zeros((3, 3, *r.shape))
    for i in range(2):
        f[i, 0], f[i, 1] = np.imag(by_r[i]) / step, np.imag(by_z[i]) / step
        f[i, i] += 1.0
    f[2, 2] = 1.0 + motion(x)[0] / r
    return f


def volume_ratio(f):
    return (f[0, 0] * f[1, 1] - f[0, 1] * f[1, 0]) * f[2, 2]


def energy(f, p):
    """W per resting volume but for p's own term, which no stress comes from."""
    j = volume_ratio(f)
    x = j ** (-2.0 / 3.0) * (f * f).sum(axis=(0, 1)) - 3.0
    return 0.5 * SHEAR * x + SECOND * x**2 + THIRD * x**3 + p * (j - 1.0) + ACTIVE * f[2, 2]


def piola(f, p, step=1e-30):
    """P = dW/dF (3, 3, ...) by complex steps."""
    out = np.zeros_like(f)
    for i, j in ((0, 0), (0, 1), (1, 0), (1, 1), (2, 2)):
        turned = f.astype(complex)
        turned[i, j] += 1j * step
        out[i, j] = np.imag(energy(turned, p)) / step
    return out


@LinearForm
def work(v, w):
    """What the answer's stress does on v: by parts, its body force and tractions."""
    return ddot(w.stress, gradient(v, w.x[0])) * 2 * np.pi * w.x[0]


def solved(count, motion, poisson):
    """Errors in the mean of u, mm, and p, MPa, on ``count`` by ``count`` elements."""
    mesh = bodies.grid(np.linspace(INSIDE, OUTSIDE, count + 1), np.linspace(BACK, 0.0, count + 1))
    tissue = bodies.tissue(count**2, SHEAR, poisson, SECOND, THIRD, ACTIVE)
    form = WeakForm(mesh, tissue)
    fine = Basis(mesh.mesh, ElementVector(ElementQuad2()), intorder=EXACT)
    pressures = fine.with_element(DiscontinuousLinear())
    inverse_bulk = float(tissue.inverse_bulk[0, 0])

    x = np.asarray(fine.global_coordinates())
    f = slopes(motion, x)
    p = (volume_ratio(f) - 1.0) / inverse_bulk if inverse_bulk else pressed(x)
    load = np.concatenate([work.assemble(fine, stress=piola(f, p)), np.zeros(3 * count**2)])

    r, z = mesh.nodes.T
    held = np.ravel(form.numbers[(r == INSIDE) | (r == OUTSIDE) | (z == BACK)])  # the front bears the answer's traction
    free = np.setdiff1d(np.arange(len(load)), held)
    u, squeezed = np.column_stack(motion(mesh.nodes.T)), pressures.project(p).reshape(-1, 3)
    for _ in range(6):
        miss = (load - form.residual(u, squeezed))[free]
        change = np.zeros(len(load))
        change[free] = spla.spsolve(form.tangent(u, squeezed)[free][:, free].tocsc(), miss)
        u, squeezed = u + change[form.numbers], squeezed + change[form.numbers.size :].reshape(-1, 3)
    assert np.abs(miss).max() < 1e-11

    found = fine.interpolate(form.dofs_of(u))
    within = pressures.interpolate(squeezed.ravel())
    volume = 2.0 * np.pi * x[0] * fine.dx
    return (
        float(np.sqrt(np.sum(((np.asarray(found) - np.stack(motion(x))) ** 2).sum(axis=0) * volume))),
        float(np.sqrt(np.sum((np.asarray(within) - p) ** 2 * volume))),
    )


@pytest.mark.parametrize(("motion", "poisson"), [(isochoric, 0.5), (compressed, SQUEEZED)])
def test_errors_fall_at_the_elements_orders(rate, motion, poisson):
    errors = [solved(count, motion, poisson) for count in (5, 10)]
    assert rate([moved for moved, _ in errors]) > 2.95
    assert rate([squeezed for _, squeezed in errors]) == pytest.approx(2.0, abs=0.1)
