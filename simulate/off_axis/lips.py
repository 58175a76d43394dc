r"""Two unlike lips: stiffness, or thickness, that varies around the opening as 1 + eps cos(n t).

*Stiffer*: all that is passive in the tissue, bulk modulus included, times 1 + eps cos(n t); the muscle's tension stays.

*Thicker*: the resting place (R, t, Z) goes to height -h + (Z + h) (1 + eps cos(n t)), the back staying on the teeth.
Pulled back to the even lip by G = I + eps dG, with dG_ZZ = cos(n t) and dG_ZTheta = -n (Z + h) / R sin(n t), the energy
is W(F G^-1) det G, and the first variation of its stress at fixed F is A : (-F dG) - P dG^T + P tr dG (mixed form: the
volume's residual changes by -(1 + p / kappa)). Springs at the lip's rim and supports stay as they are.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.off_axis.harmonic import Base, Cause
from labrum.simulate.off_axis.waves import circle_share
from labrum.simulate.tissue.elements import POINTS, Q


def stiffer(base: Base, order: int = 1) -> Cause:
    """The residuals, per unit eps, of tissue that is 1 + eps cos(n t) times as stiff."""
    waves, tissue = base.waves, base.model.elements.tissue
    passive = replace(tissue, active=np.zeros_like(tissue.active))
    entries = np.zeros((*waves.p.shape, 9))
    entries[..., :5] = base.model.elements.law.stress(waves.f, np.zeros_like(waves.p), passive)
    return Cause(
        force=waves.forces(order, entries), volume=_volumes(base, order, waves.p * tissue.inverse_bulk)
    )


def thicker(base: Base, order: int = 1) -> Cause:
    """The residuals, per unit eps, of a lip that is 1 + eps cos(n t) times as thick."""
    waves, elements = base.waves, base.model.elements
    grid, (cosine, sine) = elements.grid, waves.tangent
    height = grid.origins[:, 1:] + 0.5 * grid.sizes[:, 1:] * POINTS[:, 1] - grid.rows[0]
    lean = order * height / elements.radius
    stretched = np.zeros_like(waves.f)
    stretched[..., [1, 3]] = -waves.f[..., [1, 3]]
    sheared = np.zeros((*lean.shape, 4))
    sheared[..., 0], sheared[..., 3] = lean * waves.f[..., 1], lean * waves.f[..., 3]
    entries = np.zeros((*lean.shape, 9))
    entries[..., :5] = np.einsum("egij,egj->egi", cosine, stretched) + waves.stress
    entries[..., [1, 3]] -= waves.stress[..., [1, 3]]
    entries[..., 5:] = np.einsum("egij,egj->egi", sine, sheared)
    entries[..., 7] += lean * waves.stress[..., 4]
    return Cause(
        force=waves.forces(order, entries), volume=_volumes(base, order, -1.0 - waves.p * elements.tissue.inverse_bulk)
    )


def _volumes(base: Base, order: int, values: Floats) -> Floats:
    """(e, 3) residuals, mm3, of relative volumes (e, 9) at the integration points."""
    return np.asarray(circle_share(order) * (base.model.elements.weight * values) @ Q)
