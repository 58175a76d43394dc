"""Element forces, condensed tangents and element-wise sums by the compiled kernels; plain arrays in and out."""

from __future__ import annotations

import ctypes
from ctypes import byref, c_int64, c_void_p
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.simulate.compiled.loading import Library, address, floats, pointers, room


class _Body(ctypes.Structure):
    _fields_ = (
        ("columns", c_int64), ("rows", c_int64), ("origins", c_void_p), ("sizes", c_void_p), ("shear", c_void_p),
        ("second", c_void_p), ("third", c_void_p), ("inverse_bulk", c_void_p), ("active", c_void_p), ("law", c_int64),
    )  # fmt: skip


@dataclass(frozen=True)
class CondensedArrays:
    """What the kernel leaves of ``e`` elements whose pressures and centre nodes are eliminated.

    ``force`` (e, 9, 2) and ``volume`` (e, 3) residuals before elimination; ``stiffness`` (e, 16, 16) and
    ``outer_force`` (e, 16) after it; ``coupling`` (e, 18, 3), ``centre_inverse`` (e, 2, 2), ``centre_rows`` (e, 2, 16)
    and ``centre_force`` (e, 2) to get back what was eliminated.
    """

    force: Floats
    volume: Floats
    stiffness: Floats
    outer_force: Floats
    coupling: Floats
    centre_inverse: Floats
    centre_rows: Floats
    centre_force: Floats

    @classmethod
    def empty(cls, count: int) -> tuple[CondensedArrays, Any]:
        """Arrays for so many elements, not yet filled, and the pointers to them."""
        shapes = ((9, 2), (3,), (16, 16), (16,), (18, 3), (2, 2), (2, 16), (2,))
        arrays, filled = room([(count, *shape) for shape in shapes])
        return cls(*arrays), filled


@dataclass(frozen=True, eq=False)
class CompiledBody:
    """A tensor grid of ``shape`` (columns, rows) elements with its tissue, ready for the kernels.

    ``origins``, ``sizes`` (e, 2) mm; ``constants`` shear, second, third (MPa) and inverse bulk modulus (1/MPa), each
    (e,); ``active`` (e, 9) MPa at the integration points; ``law`` number of the tissue law among the compiled ones.
    """

    library: Library
    shape: tuple[int, int]
    origins: Floats
    sizes: Floats
    constants: tuple[Floats, Floats, Floats, Floats]
    active: Floats
    law: int

    def __getstate__(self) -> dict[str, Any]:
        """Leave out what holds addresses, which mean nothing in another process."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @property
    def count(self) -> int:
        """Number of elements."""
        return self.shape[0] * self.shape[1]

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return (2 * self.shape[0] + 1) * (2 * self.shape[1] + 1)

    @cached_property
    def structure(self) -> _Body:
        """The same as the kernels read it."""
        arrays = (self.origins, self.sizes, *self.constants, self.active)
        return _Body(*self.shape, *(address(array) for array in arrays), self.law)

    def forces(self, u: Floats, p: Floats) -> tuple[Floats, Floats, float]:
        """Residual forces (e, 9, 2) N, volume residuals (e, 3) mm3 and the smallest J, of u (n, 2) and p (e, 3)."""
        u, p = floats(u, (self.nodes, 2)), floats(p, (self.count, 3))
        force, volume = np.empty((self.count, 9, 2)), np.empty((self.count, 3))
        smallest = self.library.table.element_forces(
            byref(self.structure), address(u), address(p), address(force), address(volume)
        )
        return force, volume, float(smallest)

    def smallest_ratio(self, u: Floats) -> float:
        """Smallest J at any integration point."""
        u = floats(u, (self.nodes, 2))
        return float(self.library.table.smallest_ratio(byref(self.structure), address(u)))

    def condensed(self, u: Floats, p: Floats, bulk: Floats) -> tuple[CondensedArrays, float]:
        """Residuals and condensed tangents with the inverse compliance ``bulk`` (e, 3, 3); and the smallest J."""
        u, p, bulk = floats(u, (self.nodes, 2)), floats(p, (self.count, 3)), floats(bulk, (self.count, 3, 3))
        out, filled = CondensedArrays.empty(self.count)
        smallest = self.library.table.condensed(
            byref(self.structure), address(u), address(p), address(bulk), filled
        )
        return out, float(smallest)

    def interior(
        self, volume: Floats, coupling: Floats, centre: tuple[Floats, Floats, Floats], bulk: Floats, step: Floats
    ) -> tuple[Floats, Floats]:
        """The step (n, 2) with the centre nodes' share filled in, and pressure increments (e, 3).

        Arrays are those of `CondensedArrays`; ``centre`` are inverse, rows and force.
        """
        bulk, pressure = floats(bulk, (self.count, 3, 3)), np.empty((self.count, 3))
        whole = np.array(floats(step, (self.nodes, 2)))
        kept = [floats(k) for k in (volume, coupling, *centre)]
        given = pointers([None, kept[0], None, None, *kept[1:]])
        self.library.table.interior(*self.shape, given, address(bulk), address(whole), address(pressure))
        return whole, pressure

    def product(self, stiffness: Floats, x: Floats, chosen: Bools | None = None) -> Floats:
        """Element matrices (e, 16, 16) times x (k, n, 2), summed at the nodes; of ``chosen`` nodes' elements only."""
        x, stiffness = floats(x, (len(x), self.nodes, 2)), floats(stiffness, (self.count, 16, 16))
        out = np.empty(x.shape)
        which = None if chosen is None else address(chosen)
        self.library.table.product(*self.shape, address(stiffness), which, len(x), address(x), address(out))
        return out

    def nodal_sums(self, parts: Floats) -> Floats:
        """Sums (n, 2) at the nodes of element vectors (e, k, 2) of each element's first k nodes."""
        parts, out = floats(parts, (self.count, parts.shape[1], 2)), np.empty((self.nodes, 2))
        self.library.table.nodal_sums(*self.shape, parts.shape[1], address(parts), address(out))
        return out
