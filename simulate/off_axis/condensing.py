"""Pressures and centre nodes of a harmonic leave each element exactly, as those of the base state do.

The elimination is that of `labrum.simulate.tissue.condensation` with three components a node and several right-hand
sides at once. A layer with no compliance is eliminated with a small one; `labrum.simulate.off_axis.harmonic` restores
the exact constraint.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.compiled.waves import condensed_wave
from labrum.simulate.off_axis.waves import WaveMatrices, Waves, circle_share

OUTER, CENTRE = slice(0, 24), slice(24, 27)


@dataclass(frozen=True)
class Reduced:
    """What gives back the centre nodes and pressures that were eliminated.

    ``stiffness`` (e, 24, 24) of the outer nodes; ``bulk`` (e, 3, 3); ``coupling`` (e, 27, 3); ``inverse`` (e, 3, 3)
    and ``rows`` (e, 3, 24) of the centre node.
    """

    stiffness: Floats
    bulk: Floats
    coupling: Floats
    inverse: Floats
    rows: Floats

    @classmethod
    def about(cls, waves: Waves, order: int, bulk: Floats) -> Reduced:
        """Harmonic ``order`` of a state, by the compiled kernel where there is one."""
        body = waves.elements.compiled
        if body is None:
            return cls.of(waves.matrices(order), bulk)
        found = condensed_wave(body, waves.u, waves.coefficients, bulk, order, circle_share(order))
        return cls(found.stiffness, bulk, found.coupling, found.centre_inverse, found.centre_rows)

    @classmethod
    def of(cls, matrices: WaveMatrices, bulk: Floats) -> Reduced:
        """Eliminate with ``bulk`` (e, 3, 3), the inverse of the compliance."""
        squeeze = matrices.coupling @ bulk
        full = matrices.stiffness + squeeze @ matrices.coupling.swapaxes(1, 2)
        inverse = np.asarray(np.linalg.inv(full[:, CENTRE, CENTRE]), dtype=np.float64)
        rows = np.ascontiguousarray(full[:, CENTRE, OUTER])
        stiffness = full[:, OUTER, OUTER] - rows.swapaxes(1, 2) @ (inverse @ rows)
        return cls(stiffness, bulk, matrices.coupling, inverse, rows)

    @cached_property
    def squeeze(self) -> Floats:
        """(e, 27, 3) coupling times bulk."""
        return np.asarray(self.coupling @ self.bulk)

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
