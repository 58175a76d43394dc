"""Contact search by the compiled kernel: what points see of a chain of arcs and lines."""

from __future__ import annotations

import ctypes
from ctypes import byref, c_int64, c_void_p
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.meshes.curves.distance import Nearest
from labrum.simulate.compiled.loading import Library, address, floats, room

FLAGS = ("is_arc", "corner")
NUMBERS = (
    "origin", "tangent", "lo", "hi", "offset", "apex", "radius", "middle", "half", "side", "tail", "head",
    "vertex_normal",
)  # fmt: skip


class Chain(ctypes.Structure):
    """A curve prepared for distances, as the kernel takes it; keeps the numbers it points to alive."""

    _fields_ = (("count", c_int64), *((name, c_void_p) for name in (*FLAGS, *NUMBERS)))

    @classmethod
    def of(cls, curve: Curve) -> Chain:
        """Prepare a curve."""
        pieces = curve.pieces
        kept: list[NDArray[Any]] = [np.ascontiguousarray(getattr(pieces, name), dtype=np.uint8) for name in FLAGS]
        kept += [floats(getattr(pieces, name)) for name in NUMBERS]
        chain = cls(len(pieces.is_arc), *(address(array) for array in kept))
        chain.kept = kept
        return chain


def nearest(library: Library, chain: Chain, points: Floats, shift: float) -> Nearest:
    """What (m, 2) points, each moved up by ``shift`` mm, see of the chain, as `Curve.nearest` has it."""
    points, count = floats(points, (len(points), 2)), len(points)
    one, two = (count,), (count, 2)
    (distance, foot, normal, hessian, piece, arc_length), seen = room([one, two, two, one, one, one])
    cosines = np.empty(chain.count)
    library.table.search(byref(chain), count, address(points), shift, address(cosines), seen)
    return Nearest(distance, foot, normal, hessian, piece.view(np.int64), arc_length)
