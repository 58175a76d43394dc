r"""The weak form of the lip's equilibrium, assembled by scikit-fem: the readable definition of the physics.

The kernels of `labrum.simulate.tissue` and of `labrum.simulate.contact.air` are its fast form, and a test holds them to
it to rounding. Nothing here is made for speed.

**Kinematics.** A point that rests at (R, Z) stands at (R + u_r, Z + u_z). In the directions r, z and hoop

    F = 1 + Grad u,   Grad u = [[u_r,R  u_r,Z  0], [u_z,R  u_z,Z  0], [0  0  u_r / R]],   J = det F.

**Energy** per resting volume, with I1b = J^(-2/3) F : F, and p an independent pressure (a Lagrange multiplier at
kappa = infinity):

    W = U(I1b - 3) + p (J - 1) - p^2 / (2 kappa) + s_a e.F e,   U(x) = mu/2 x + c2 x^2 + c3 x^3,

e the hoop direction, along which the ring muscle's fibres run: s_a is their tension per resting area. Every layer has
its own constants.

**Equilibrium.** Find u, with its held components, and p, such that for all v and q

    R_u(v) = int P : Grad v dV + int_air p_a (cof F N) . v dA = 0,     R_p(q) = int (J - 1 - p / kappa) q dV = 0,
    P = dW/dF = U' G + p cof F + s_a e e^T,     G = dI1b/dF = 2 J^(-2/3) (F - (F : F)/3 F^(-T)),     cof F = J F^(-T),

dV = 2 pi R dR dZ, dA = 2 pi R dS: integrals go round the full circle, and forces are in N. Air of
pressure p_a pushes against the deformed normal, cof F N dA by Nanson's formula, N pointing out of the resting tissue.

**Tangent.** With H = Grad du, and D[H] the derivative in the direction H,

    a(du, v) = int DP[H] : Grad v dV,   b(v, dp) = int dp cof F : Grad v dV,   c(dp, q) = int dp q / kappa dV,
    DP[H] = U'' (G : H) G + U' DG[H] + p D cof F[H],
    DG[H] = 2 J^(-2/3) (H - 2/3 (F^(-T) : H) (F - (F : F)/3 F^(-T)) - 2/3 (F : H) F^(-T) + (F : F)/3 F^(-T) H^T F^(-T)),
    D cof F[H] = J ((F^(-T) : H) F^(-T) - F^(-T) H^T F^(-T)),

and Newton's step solves a(du, v) + b(v, dp) = -R_u(v), b(du, q) - c(dp, q) = -R_p(q).

**Elements.** u is biquadratic, p linear in each element and discontinuous (Q9/P-1); integrals are taken by 3 x 3 Gauss
points, which the R in dV makes inexact by a little: the rule belongs to the definition.

Contact with the rim and the teeth is no part of this form: it adds nodal multipliers, see
`labrum.simulate.contact.signorini`. Supports that are springs add int k u . v dA.

Sources, from memory: Bonet & Wood 2008, *Nonlinear Continuum Mechanics for Finite Element Analysis* (virtual work, 4;
follower loads, 8.5); Holzapfel 2000, *Nonlinear Solid Mechanics*, 6.4 and 8.3 (split energies, mixed forms); Simo,
Taylor & Pister 1985, Comput. Methods Appl. Mech. Engrg. 51:177; Boffi, Brezzi & Fortin 2013, *Mixed Finite Element
Methods and Applications*, 8.6 (the pair of elements).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import scipy.sparse as sp
from skfem import Basis, BilinearForm, ElementQuad2, ElementVector, FacetBasis, LinearForm
from skfem.assembly.form.coo_data import COOData
from skfem.assembly.form.form import FormExtraParams
from skfem.element import DiscreteField, ElementH1
from skfem.helpers import ddot, det, inv, mul, transpose
from skfem.refdom import RefQuad

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.grids.grid import Grid
from labrum.simulate.tissue.law import Tissue

GAUSS_ORDER = 5  # 3 x 3 points
AIR_ORDER = 7  # 4 points an edge, exact


def gradient(v: DiscreteField, radius: Floats) -> Floats:
    """Grad v (3, 3, ...) of a vector field without torsion: directions r, z, hoop."""
    out = np.zeros((3, 3, *radius.shape))
    out[:2, :2] = v.grad
    out[2, 2] = v[0] / radius
    return out


def deformation_gradient(u: DiscreteField, radius: Floats) -> Floats:
    """F (3, 3, ...)."""
    return np.asarray(np.eye(3)[..., None, None] + gradient(u, radius))


def cofactor_tensor(f: Floats) -> Floats:
    """Cofactor J F^(-T) of F (3, 3, ...), the derivative of J."""
    return np.asarray(det(f) * transpose(inv(f)))


def cofactor_slope(f: Floats, h: Floats) -> Floats:
    """Derivative of the cofactor in the direction H."""
    back = transpose(inv(f))
    return np.asarray(det(f) * (ddot(back, h) * back - _product(back, transpose(h), back)))


def invariant_slope(f: Floats) -> Floats:
    """G, the derivative of I1b with respect to F."""
    return np.asarray(2.0 * det(f) ** (-2 / 3) * (f - ddot(f, f) / 3 * transpose(inv(f))))


def invariant_bend(f: Floats, h: Floats) -> Floats:
    """Derivative of G in the direction H."""
    back, size = transpose(inv(f)), ddot(f, f)
    turned = size / 3 * _product(back, transpose(h), back)
    inner = h - 2 / 3 * ddot(back, h) * (f - size / 3 * back) - 2 / 3 * ddot(f, h) * back + turned
    return np.asarray(2.0 * det(f) ** (-2 / 3) * inner)


def shape_slopes(f: Floats, w: FormExtraParams) -> tuple[Floats, Floats]:
    """U' and U'' at F, from the constants ``shear``, ``second``, ``third``."""
    x = det(f) ** (-2 / 3) * ddot(f, f) - 3.0
    return w.shear / 2 + 2 * w.second * x + 3 * w.third * x**2, 2 * w.second + 6 * w.third * x


def _product(a: Floats, b: Floats, c: Floats) -> Floats:
    return np.asarray(np.einsum("ij...,jk...,kl...->il...", a, b, c))


@LinearForm
def balance(v: DiscreteField, w: FormExtraParams) -> Floats:
    """R_u of the tissue: int P : Grad v dV."""
    radius = w.x[0]
    f = deformation_gradient(w.u, radius)
    piola = shape_slopes(f, w)[0] * invariant_slope(f) + w.p * cofactor_tensor(f)
    piola[2, 2] += w.active
    return np.asarray(ddot(piola, gradient(v, radius)) * 2 * np.pi * radius)


@LinearForm
def volume(q: DiscreteField, w: FormExtraParams) -> Floats:
    """R_p: int (J - 1 - p / kappa) q dV."""
    radius = w.x[0]
    return np.asarray((det(deformation_gradient(w.u, radius)) - 1.0 - w.p * w.inverse_bulk) * q * 2 * np.pi * radius)


@BilinearForm
def stiffness(du: DiscreteField, v: DiscreteField, w: FormExtraParams) -> Floats:
    """Form a: int DP[Grad du] : Grad v dV."""
    radius = w.x[0]
    f, h = deformation_gradient(w.u, radius), gradient(du, radius)
    first, second = shape_slopes(f, w)
    slope = invariant_slope(f)
    change = second * ddot(slope, h) * slope + first * invariant_bend(f, h) + w.p * cofactor_slope(f, h)
    return np.asarray(ddot(change, gradient(v, radius)) * 2 * np.pi * radius)


@BilinearForm
def coupling(dp: DiscreteField, v: DiscreteField, w: FormExtraParams) -> Floats:
    """Form b: int dp cof F : Grad v dV."""
    radius = w.x[0]
    return np.asarray(dp * ddot(cofactor_tensor(deformation_gradient(w.u, radius)), gradient(v, radius))
                      * 2 * np.pi * radius)  # fmt: skip


@BilinearForm
def compliance(dp: DiscreteField, q: DiscreteField, w: FormExtraParams) -> Floats:
    """Form c: int dp q / kappa dV."""
    return np.asarray(dp * q * w.inverse_bulk * 2 * np.pi * w.x[0])


@BilinearForm
def inertia(a: DiscreteField, v: DiscreteField, w: FormExtraParams) -> Floats:
    """Virtual work of the inertia in one direction, int rho a v dV: the mass of what rests, wherever it has gone."""
    return np.asarray(w.density * a * v * 2 * np.pi * w.x[0])


@LinearForm
def air_load(v: DiscreteField, w: FormExtraParams) -> Floats:
    """R_u of the air, its virtual work with the sign turned: int p_a (cof F N) . v dA."""
    radius = w.x[0]
    push = w.pressure * mul(cofactor_tensor(deformation_gradient(w.u, radius)), _in_section(w.n))
    return np.asarray((push[0] * v[0] + push[1] * v[1]) * 2 * np.pi * radius)


@BilinearForm
def air_stiffness(du: DiscreteField, v: DiscreteField, w: FormExtraParams) -> Floats:
    """Its derivative: int p_a (D cof F[Grad du] N) . v dA."""
    radius = w.x[0]
    f = deformation_gradient(w.u, radius)
    push = w.pressure * mul(cofactor_slope(f, gradient(du, radius)), _in_section(w.n))
    return np.asarray((push[0] * v[0] + push[1] * v[1]) * 2 * np.pi * radius)


def _in_section(normal: Floats) -> Floats:
    """A normal (2, ...) of the section in the directions r, z, hoop."""
    return np.concatenate([normal, 0.0 * normal[:1]])


class DiscontinuousLinear(ElementH1):
    """The pressure's element P-1 on quadrilaterals: 1, xi, eta in each, with no ties between neighbours."""

    interior_dofs = 3
    maxdeg = 1
    dofnames = ["p", "p_xi", "p_eta"]  # noqa: RUF012  (scikit-fem's own way to declare an element)
    doflocs = np.full((3, 2), 0.5)
    refdom = RefQuad

    def lbasis(self, X: Floats, i: int) -> tuple[Floats, Floats]:
        """Value and gradient of function ``i`` at points X (2, k) between 0 and 1."""
        slope = np.zeros_like(X)
        if i == 0:
            return np.ones_like(X[0]), slope
        slope[i - 1] = 2.0
        return 2.0 * X[i - 1] - 1.0, slope


def _of_two(found: COOData) -> Floats:
    """Element matrices (e, test, trial) of a form on two bases: their entries come trial by trial.

    scikit-fem's own ``tolocal`` takes them test by test, which is right for one basis and a symmetric form only.
    """
    tests, trials = found.local_shape
    return np.asarray(found.data.reshape(trials, tests, -1).T)


@dataclass(frozen=True)
class WeakForm:
    """The form on one grid with one tissue; residuals and tangents are functions of u (n, 2) mm and p (e, 3) MPa."""

    grid: Grid
    tissue: Tissue

    @cached_property
    def moving(self) -> Basis:
        """Biquadratic displacements."""
        return Basis(self.grid.mesh, ElementVector(ElementQuad2()), intorder=GAUSS_ORDER)

    @cached_property
    def squeezing(self) -> Basis:
        """Discontinuous linear pressures."""
        return self.moving.with_element(DiscontinuousLinear())

    @cached_property
    def numbers(self) -> Ints:
        """(n, 2) degree of freedom of every displacement component of the grid's nodes."""
        out = np.empty((len(self.grid.nodes), 2), dtype=np.int64)
        out[self.grid.quads] = self.moving.element_dofs.T.reshape(-1, 9, 2)
        return out

    def element_residuals(self, u: Floats, p: Floats) -> tuple[Floats, Floats]:
        """R_u (e, 18), N, and R_p (e, 3), mm3, of every element, nodes in the grid's order."""
        fields = self._fields(u, p)
        return balance.elemental(self.moving, **fields).tolocal(), volume.elemental(self.squeezing, **fields).tolocal()

    def element_tangents(self, u: Floats, p: Floats) -> tuple[Floats, Floats, Floats]:
        """Forms a (e, 18, 18), b (e, 18, 3) and c (e, 3, 3) of every element, rows belonging to v and q."""
        fields = self._fields(u, p)
        return (
            stiffness.elemental(self.moving, **fields).tolocal(),
            _of_two(coupling.elemental(self.squeezing, self.moving, **fields)),
            compliance.elemental(self.squeezing, **fields).tolocal(),
        )

    def residual(self, u: Floats, p: Floats) -> Floats:
        """R_u and R_p (2 n + 3 e,) of the whole grid, in scikit-fem's order (see `numbers`)."""
        fields = self._fields(u, p)
        return np.concatenate([balance.assemble(self.moving, **fields), volume.assemble(self.squeezing, **fields)])

    def tangent(self, u: Floats, p: Floats) -> sp.csr_matrix:
        """The saddle-point matrix [[a, b], [b^T, -c]] (2 n + 3 e, 2 n + 3 e) of the whole grid."""
        fields = self._fields(u, p)
        a, c = stiffness.assemble(self.moving, **fields), compliance.assemble(self.squeezing, **fields)
        b = coupling.assemble(self.squeezing, self.moving, **fields)
        return sp.bmat([[a, b], [b.T, -c]], format="csr")

    def mass(self, density: float) -> sp.csr_matrix:
        """The consistent mass matrix (2 n, 2 n), t, of tissue of ``density`` t/mm3, r and z of each node in turn."""
        one_way = inertia.assemble(self.moving.with_element(ElementQuad2()), density=density)
        order = np.argsort(self.grid.dof_nodes)
        return sp.kron(one_way[order][:, order], sp.eye(2), format="csr")

    def back_within(self, radius: float) -> FacetBasis:
        """The part of the back face that rests within ``radius`` mm, where the mouth's air may stand."""
        back = self.grid.rows[0]
        facets = self.grid.mesh.facets_satisfying(lambda x: np.isclose(x[1], back) & (x[0] < radius))
        return FacetBasis(self.grid.mesh, self.moving.elem, facets=facets, intorder=AIR_ORDER)

    def air_on(self, face: FacetBasis, u: Floats, pressure: float) -> tuple[Floats, sp.csr_matrix]:
        """Residual (2 n,) N and tangent (2 n, 2 n) N/mm of air of ``pressure`` MPa on a face, in scikit-fem's order."""
        fields = {"u": face.interpolate(self.dofs_of(u)), "pressure": pressure}
        return air_load.assemble(face, **fields), air_stiffness.assemble(face, **fields)

    def dofs_of(self, u: Floats) -> Floats:
        """Nodal components (n, 2) in scikit-fem's order (2 n,)."""
        out = np.empty(self.numbers.size)
        out[self.numbers] = u
        return out

    def _fields(self, u: Floats, p: Floats) -> dict[str, Any]:
        """What the forms read: u, p and the constants at the integration points."""
        points = self.moving.dx.shape
        names = ("shear", "second", "third", "inverse_bulk", "active")
        constants = {name: np.broadcast_to(getattr(self.tissue, name), points) for name in names}
        moved, squeezed = self.moving.interpolate(self.dofs_of(u)), self.squeezing.interpolate(p.ravel())
        return {"u": moved, "p": squeezed, **constants}
