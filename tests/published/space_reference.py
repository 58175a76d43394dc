"""A large-strain solver in three dimensions built on scikit-fem, sharing nothing with the package it checks.

A round rim (a torus), straight or tilted, is pressed without friction into a bonded ring of neo-Hookean tissue,
W = mu/2 (J^(-2/3) I1 - 3) + kappa/2 (J - 1)^2. Isoparametric 27-node hexahedra over half the circle (the tilt's plane
is a plane of symmetry), displacement only. Contact is a penalty on the exact distance to the torus at the quadrature
points of the surface, per resting area; the load of the rim comes from there. Lengths mm, moduli MPa, forces N.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu
from skfem import Basis, ElementHex2, FacetBasis, MeshHex, MeshHex2

NINE = np.eye(3)


@dataclass(frozen=True)
class Torus:
    """A rim: ``place`` the radius of its lowest circle, ``tube`` its own; it has gone down by ``travel``, and is tilted
    by ``tilt`` rad about the diameter of that circle along y, so that x > 0 goes down.
    """

    place: float
    tube: float
    travel: float
    tilt: float

    def seen(self, x):
        """Distance (m,), its gradient (m, 3) and second derivative (m, 3, 3) at places (m, 3)."""
        c, s = np.cos(self.tilt), np.sin(self.tilt)
        turn = np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
        local = (x + np.array([0.0, 0.0, self.travel])) @ turn
        around = np.hypot(local[:, 0], local[:, 1])
        out = np.column_stack([local[:, :2] / around[:, None], np.zeros(len(x))])
        off, up = around - self.place, local[:, 2] - self.tube
        reach = np.hypot(off, up)
        normal = (off / reach)[:, None] * out + (up / reach)[:, None] * np.array([0.0, 0.0, 1.0])
        along = (-up / reach)[:, None] * out + (off / reach)[:, None] * np.array([0.0, 0.0, 1.0])
        hoop = np.column_stack([-out[:, 1], out[:, 0], np.zeros(len(x))])
        bend = along[:, :, None] * along[:, None, :] / reach[:, None, None]
        bend += hoop[:, :, None] * hoop[:, None, :] * (off / reach / around)[:, None, None]
        return reach - self.tube, normal @ turn.T, turn @ bend @ turn.T


class Ring:
    """Half a ring of tissue on grid lines of hexahedra: ``radii``, ``angles`` (0 to pi) and ``heights`` (top at 0)."""

    def __init__(self, radii, angles, heights, shear, bulk, penalty):
        box = MeshHex2.from_mesh(MeshHex.init_tensor(radii, angles, heights))
        r, t, z = box.doflocs
        mesh = MeshHex2(np.array([r * np.cos(t), r * np.sin(t), z]), box.t)
        self.basis = Basis(mesh, ElementHex2(), intorder=4)
        top = mesh.facets_satisfying(lambda x: np.abs(x[2]) < 1e-9)
        self.face = FacetBasis(mesh, ElementHex2(), facets=top, intorder=8)
        self.shear, self.bulk, self.penalty, self.angles = shear, bulk, penalty, np.asarray(angles)
        self.rest = self.basis.doflocs.T
        self.slopes = np.stack([k[0].grad for k in self.basis.basis]).transpose(2, 3, 0, 1)  # element, point, node, xyz
        self.shapes = np.stack([np.asarray(k[0]) for k in self.face.basis]).transpose(1, 2, 0)
        held = np.zeros(self.rest.shape, bool)
        held[np.abs(self.rest[:, 2] - heights[0]) < 1e-9] = True
        held[np.abs(self.rest[:, 1]) < 1e-9, 1] = True
        self.free = np.flatnonzero(~held.ravel())

    def system(self, u, rim):
        """Residual (3 n,) and tangent of nodal displacements (n, 3) under a rim."""
        at, face = self.basis.element_dofs.T, self.face.element_dofs.T
        stress, tangent = self._law(self._gradients(u))
        weight = self.basis.dx
        forces = np.einsum("eq,eqik,eqnk->eni", weight, stress, self.slopes, optimize=True)
        left = np.einsum("eq,eqiJkL,eqnL->eqJnik", weight, tangent, self.slopes, optimize=True)
        count, points = weight.shape
        flat = self.slopes.transpose(0, 2, 1, 3).reshape(count, 27, points * 3)
        blocks = (flat @ left.reshape(count, points * 3, 27 * 9)).reshape(count, 27, 27, 3, 3).transpose(0, 1, 3, 2, 4)
        press, bend = self.contact(u, rim)
        pushes = np.einsum("fq,fqn,fqi->fni", self.face.dx, self.shapes, press, optimize=True)
        held = np.einsum("fq,fqn,fqij,fqm->fnimj", self.face.dx, self.shapes, bend, self.shapes, optimize=True)
        residual = np.zeros_like(u)
        np.add.at(residual, at, forces)
        np.add.at(residual, face, -pushes)
        return residual.ravel(), self._assembled(at, blocks) + self._assembled(face, held)

    def contact(self, u, rim):
        """(f, q, 3) traction on the tissue per resting area, and (f, q, 3, 3) minus its derivative."""
        places = np.einsum("fqn,fni->fqi", self.shapes, (self.rest + u)[self.face.element_dofs.T])
        gap, normal, bend = rim.seen(places.reshape(-1, 3))
        depth = np.maximum(-gap, 0.0)[:, None]
        on = (gap < 0.0)[:, None, None]
        rate = self.penalty * (on * normal[:, :, None] * normal[:, None, :] - depth[:, :, None] * bend)
        return (self.penalty * depth * normal).reshape(places.shape), rate.reshape(*places.shape, 3)

    def settled(self, u, rim, iterations=40):
        """Displacements (n, 3) in equilibrium under a rim; raises RuntimeError where there is none."""
        residual, tangent = self.system(u, rim)
        for _ in range(iterations):
            left = np.linalg.norm(residual[self.free])
            if left < 1e-8 * np.linalg.norm(residual):
                return u
            u, residual, tangent = self._damped(u, self._solved(tangent, -residual), rim, left)
        raise RuntimeError(f"no equilibrium: {left:.1e} N left")

    def led(self, u, rim, further, small=1e-6):
        """Displacements that go along with the rim in a straight line, from its equilibrium to ``further``.

        Without them a tilt opens the whole contact on the rising side, and the iteration goes astray.
        """
        travel, tilt = further.travel - rim.travel, further.tilt - rim.tilt
        little = replace(rim, travel=rim.travel + small * travel, tilt=rim.tilt + small * tilt)
        residual, tangent = self.system(u, rim)
        return u + self._solved(tangent, residual - self.system(u, little)[0]) / small

    def _solved(self, tangent, wanted):
        inner = tangent[self.free][:, self.free].tocsc()
        solve = splu(inner, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        out = np.zeros(len(wanted))
        out[self.free] = solve.solve(wanted[self.free])
        return out.reshape(-1, 3)

    def _damped(self, u, step, rim, left):
        """As much of a step, by halves, as lets the residual fall and turns no point inside out; else a small part."""
        for share in 0.5 ** np.arange(8):
            moved = u + share * step
            if np.linalg.det(self._gradients(moved)).min() < 0.05:
                continue
            residual, tangent = self.system(moved, rim)
            if np.linalg.norm(residual[self.free]) < left:
                break
        return moved, residual, tangent

    def _gradients(self, u):
        return np.eye(3) + np.einsum("enj,eqnk->eqjk", u[self.basis.element_dofs.T], self.slopes)

    def load(self, u, rim):
        """The whole rim's axial force, N, and its moment about the lowest circle's middle along y, N mm."""
        press, _ = self.contact(u, rim)
        places = np.einsum("fqn,fni->fqi", self.shapes, (self.rest + u)[self.face.element_dofs.T])
        places = places + np.array([0.0, 0.0, rim.travel])
        moment = np.cross(places, press)[..., 1]
        return -2.0 * float(np.sum(self.face.dx * press[..., 2])), 2.0 * float(np.sum(self.face.dx * moment))

    def pressure_along(self, u, rim, angle, places=9):
        """(m, 2) place across the rim (from its lowest point, mm) and Cauchy pressure, MPa, at ``angle``, 0 or pi.

        From the penalty's traction, per area of the stretched surface.
        """
        outward = np.cos(angle)
        near = [np.abs(self.angles - angle).argsort()[k] for k in (0, 1)]
        first, last = self.angles[near[0]], self.angles[near[1]]
        rays = [self._ray(t) for t in (first, 0.5 * (first + last), last)]
        now = [(self.rest + u)[k] for k in rays]
        rest = [self.rest[k] for k in rays]
        ends = np.arange(0, len(rays[0]) - 2, 2)
        out = []
        for x in np.linspace(-1.0, 1.0, places):
            shape = np.array([0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0)])
            slope = np.array([x - 0.5, -2.0 * x, x + 0.5])
            three = ends[:, None] + np.arange(3)
            stretched = [self._area(k, three, shape, slope) for k in (now, rest)]
            place = np.einsum("a,eai->ei", shape, now[0][three])
            gap = rim.seen(place)[0]
            pressure = self.penalty * np.maximum(-gap, 0.0) * stretched[1] / stretched[0]
            out.append(np.column_stack([outward * place[:, 0] - rim.place * np.cos(rim.tilt), pressure]))
        rows = np.vstack(out)
        return rows[np.argsort(rows[:, 0], kind="stable")]

    @staticmethod
    def _area(rays, three, shape, slope):
        """Area per local coordinates on the first of three rays."""
        along = np.einsum("a,eai->ei", slope, rays[0][three])
        around = np.einsum("a,eai->ei", shape, (-1.5 * rays[0] + 2.0 * rays[1] - 0.5 * rays[2])[three])
        return np.linalg.norm(np.cross(along, around), axis=1)

    def _ray(self, angle):
        """Surface nodes at an angle, outwards."""
        r = np.hypot(self.rest[:, 0], self.rest[:, 1])
        off = np.arctan2(self.rest[:, 1], self.rest[:, 0]) - angle
        some = np.flatnonzero((np.abs(self.rest[:, 2]) < 1e-9) & (np.abs(off) < 1e-6))
        return some[np.argsort(r[some])]

    def _assembled(self, at, blocks):
        dofs = (3 * at[:, :, None] + np.arange(3)).reshape(len(at), -1)
        size = dofs.shape[1]
        rows, cols = np.repeat(dofs, size, axis=1), np.tile(dofs, (1, size))
        count = self.rest.size
        return sp.csr_matrix((blocks.reshape(-1), (rows.ravel(), cols.ravel())), shape=(count, count))

    def _law(self, f):
        """First Piola-Kirchhoff stress and its derivative for gradients (e, q, 3, 3)."""
        j, back = np.linalg.det(f)[..., None, None], np.linalg.inv(f).swapaxes(-1, -2)
        square = np.sum(f * f, axis=(-1, -2), keepdims=True)
        soft = self.shear * j ** (-2.0 / 3.0)
        stress = soft * (f - square / 3.0 * back) + self.bulk * (j * j - j) * back
        soft, square, j = soft[..., None, None], square[..., None, None], j[..., None, None]

        def outer(a, b):
            return a[..., :, :, None, None] * b[..., None, None, :, :]

        crossed = np.einsum("eqil,eqkj->eqijkl", back, back)
        tangent = soft * (
            np.einsum("ik,jl->ijkl", NINE, NINE) - 2.0 / 3.0 * (outer(f, back) + outer(back, f))
            + 2.0 / 9.0 * square * outer(back, back) + square / 3.0 * crossed
        )  # fmt: skip
        return stress, tangent + self.bulk * ((2.0 * j * j - j) * outer(back, back) - (j * j - j) * crossed)
