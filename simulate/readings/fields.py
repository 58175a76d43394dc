"""Stress, stretch and pressure in the tissue, averaged to the nodes, in the units people read."""

from __future__ import annotations

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.outcome import Section
from labrum.simulate.tissue.elements import Elements, N, Q
from labrum.simulate.tissue.law import volume_ratio

_TO_NODES = np.linalg.inv(N)  # values at the nine nodes of the biquadratic through the nine integration points


def cauchy(f: Floats, piola: Floats) -> Floats:
    """Cauchy stress rr, zz, hoop, rz (..., 4) from gradients and first Piola-Kirchhoff stress (..., 5)."""
    a, b, c, d, h = np.moveaxis(f, -1, 0)
    j = volume_ratio(f)
    prr, prz, pzr, pzz, phh = np.moveaxis(piola, -1, 0)
    rr, zz = prr * a + prz * b, pzr * c + pzz * d
    rz = 0.5 * (prr * c + prz * d + pzr * a + pzz * b)
    return np.stack([rr / j, zz / j, phh * h / j, rz / j], axis=-1)


def largest_stretch(f: Floats) -> Floats:
    """Largest principal stretch (...) of gradients (..., 5), the hoop direction included."""
    a, b, c, d, h = np.moveaxis(f, -1, 0)
    crr, czz, crz = a**2 + c**2, b**2 + d**2, a * b + c * d
    mean, half = 0.5 * (crr + czz), 0.5 * (crr - czz)
    return np.maximum(np.sqrt(mean + np.hypot(half, crz)), h)


def skin_stretch(model: Model, state: State) -> float:
    """Largest principal stretch at the integration points of the top layer."""
    top = model.elements.grid.layer == 0
    return float(largest_stretch(model.elements.gradients(state.u))[top].max())


def section_of(model: Model, state: State, layer_names: tuple[str, ...]) -> Section:
    """The deformed section with nodal stresses and stretches."""
    elements, grid = model.elements, model.elements.grid
    f = elements.gradients(state.u)
    stress = cauchy(f, elements.law.stress(f, state.p @ Q.T, elements.tissue))
    return Section(
        rest=grid.nodes,
        deformed=grid.nodes + state.u,
        quads=grid.quads,
        layer=grid.layer,
        layer_names=layer_names,
        cauchy_kpa=1e3 * _nodal(elements, stress),
        stretch=_nodal(elements, largest_stretch(f)[..., None])[:, 0],
    )


def _nodal(elements: Elements, values: Floats) -> Floats:
    """Average (n, m) over the elements at a node of values (e, 9, m) carried from integration points to nodes."""
    quads = elements.grid.quads
    at_nodes = np.einsum("ag,egm->eam", _TO_NODES, values)
    count = np.bincount(quads.ravel(), minlength=len(elements.grid.nodes))
    out = [np.bincount(quads.ravel(), at_nodes[..., m].ravel()) / count for m in range(values.shape[-1])]
    return np.stack(out, axis=-1)
