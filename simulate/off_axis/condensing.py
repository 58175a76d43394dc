"""Pressures and centre nodes of a harmonic leave each element exactly, as those of the base state do.

The elimination is that of `labrum.simulate.tissue.condensation` with three components a node and several right-hand
sides at once. A layer with no compliance is eliminated with a small one; `labrum.simulate.off_axis.harmonic` restores
the exact constraint.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.off_axis.waves import WaveMatrices

OUTER, CENTRE = slice(0, 24), slice(24, 27)


@dataclass(frozen=True)
class Reduced:
    """What gives back the centre nodes and pressures that were eliminated.

    ``stiffness`` (e, 24, 24) of the outer nodes; ``bulk`` (e, 3, 3); ``squeeze`` (e, 27, 3) coupling times bulk;
    ``coupling`` (e, 27, 3); ``inverse`` (e, 3, 3) and ``rows`` (e, 3, 24) of the centre node.
    """

    stiffness: Floats
    bulk: Floats
    squeeze: Floats
    coupling: Floats
    inverse: Floats
    rows: Floats

    @classmethod
    def of(cls, matrices: WaveMatrices, bulk: Floats) -> Reduced:
        """Eliminate with ``bulk`` (e, 3, 3), the inverse of the compliance."""
        squeeze = matrices.coupling @ bulk
        full = matrices.stiffness + squeeze @ matrices.coupling.swapaxes(1, 2)
        inverse = np.asarray(np.linalg.inv(full[:, CENTRE, CENTRE]), dtype=np.float64)
        rows = np.ascontiguousarray(full[:, CENTRE, OUTER])
        stiffness = full[:, OUTER, OUTER] - rows.swapaxes(1, 2) @ (inverse @ rows)
        return cls(stiffness, bulk, squeeze, matrices.coupling, inverse, rows)

    def residual(self, force: Floats, volume: Floats) -> Floats:
        """(e, 24, m) residual left on the outer nodes by residuals (e, 27, m) N and (e, 3, m) mm3."""
        whole = force + self.squeeze @ volume
        return np.asarray(whole[:, OUTER] - self.rows.swapaxes(1, 2) @ (self.inverse @ whole[:, CENTRE]))

    def interior(self, outer: Floats, force: Floats, volume: Floats) -> tuple[Floats, Floats]:
        """Centre displacements (e, 3, m) and pressures (e, 3, m) that go with outer ones (e, 24, m)."""
        whole = force[:, CENTRE] + (self.squeeze @ volume)[:, CENTRE]
        centre = -self.inverse @ (whole + self.rows @ outer)
        both = np.concatenate([outer, centre], axis=1)
        return centre, np.asarray(self.bulk @ (self.coupling.swapaxes(1, 2) @ both + volume))
