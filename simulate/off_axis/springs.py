r"""What springs do in a harmonic: those of the support, and the tissue that goes on beyond the lip's outer edge.

A spring of the support that holds a node along r and z alike holds it around the axis too; one that holds it along the
axis alone does no more.

The tissue that goes on is a plate with a hole of radius R, each layer by itself, as in
`labrum.simulate.contact.surroundings`. A hole's edge moved by (U cos n t, V sin n t) asks, in Kolosov's potentials
(Muskhelishvili 1953, *Some Basic Problems of the Mathematical Theory of Elasticity*; Timoshenko & Goodier, *Theory of
Elasticity*; both from memory), for phi = a z^-(n - 1) and psi = b z^-(n + 1),

    2 G (U - V) = 2 kappa a,   2 G (U + V) = 2 (n - 1) a - 2 b      (R = 1),

whose stresses give the traction on the lip

    t_r     = -(G / R) [ c_n (U - V) + (n + 1) (U + V) ],
    t_theta = -(G / R) [-c_n (U - V) + (n + 1) (U + V) ],      c_n = (n - 1) / kappa for n >= 2:

symmetric and never negative; n = 0 has t_r = -(2 G / R) U alone. Faces are free, so stress is plane, kappa =
(3 - nu) / (1 + nu); tissue is all but incompressible, kappa = 5/3.

At n = 1 the plate as a whole follows a shift (U = -V), and an endless one resists it by nothing: phi = a ln z, and with
the plate held at a radius S, far out, by a further phi = a z^2 / (kappa S^2),

    c_1 = (1 + kappa) / (2 kappa l),   l = ln(S / R) - 1 / kappa^2,

to which a doubling of S adds 0.7. What holds a face's skin lies some lips' widths out; l is taken as one (S = 3.9 R: a
judgement). The rim's sideways stiffness rests on it, 2.4, 1.7 and 1.1 N/mm with l = 0.5, 1 and 2 on one living lip;
rims are compared by it, and everything else off the axis moves by less than 0.1 %.
"""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.contact.surroundings import outer_face
from labrum.simulate.equilibrium.model import Model

KAPPA = 5.0 / 3.0
FAR_LOGARITHM = 1.0


def spring_blocks(model: Model, order: int) -> Floats:
    """(n, 3, 3) stiffness, N/mm over the full circle, of springs against (U, V, W) in harmonic ``order``."""
    out, edge = support_blocks(model), outer_face(model.elements.grid)
    beyond = model.springs[edge, 0] - out[edge, 0, 0]  # 2 pi R times 2 G / R
    plate = np.diag([2.0, 0.0]) if order == 0 else plate_stiffness(order)
    out[edge, :2, :2] += 0.5 * beyond[:, None, None] * plate
    return out


def support_blocks(model: Model) -> Floats:
    """(n, 3, 3) the share of it that what stands behind the lip has; what acts along r alone is the plate's."""
    both, axial = model.springs.min(axis=1), model.springs[:, 1]
    out = np.zeros((len(both), 3, 3))
    out[:, range(3), range(3)] = np.column_stack([both, both, axial])
    return out


def plate_stiffness(order: int, logarithm: float = FAR_LOGARITHM) -> Floats:
    """(2, 2) resistance of the plate around a hole to (U, V) of harmonic ``order`` from one on, over G / R;
    ``logarithm`` is l in the module, for order one.
    """
    apart = (order - 1) / KAPPA if order > 1 else 0.5 * (1.0 + KAPPA) / (KAPPA * logarithm)
    alike = order + 1.0
    return np.array([[apart + alike, alike - apart], [alike - apart, apart + alike]])
