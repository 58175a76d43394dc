"""Element tangents of a wave of the angle by the compiled kernels; plain arrays in and out."""

from __future__ import annotations

from ctypes import byref
from dataclasses import dataclass

from labrum.meshes.arrays import Floats
from labrum.simulate.compiled.elements import CompiledBody
from labrum.simulate.compiled.loading import address, floats, room


@dataclass(frozen=True)
class WaveArrays:
    """What the kernel leaves of ``e`` elements whose pressures and centre nodes are eliminated.

    ``stiffness`` (e, 24, 24) N/mm; ``coupling`` (e, 27, 3) mm2, ``centre_inverse`` (e, 3, 3) and ``centre_rows``
    (e, 3, 24) to get back what was eliminated.
    """

    stiffness: Floats
    coupling: Floats
    centre_inverse: Floats
    centre_rows: Floats


def condensed_wave(body: CompiledBody, u: Floats, p: Floats, bulk: Floats, order: int, share: float) -> WaveArrays:
    """Condensed tangents of a wave of ``order`` about displacements (n, 2) mm and pressures (e, 3) MPa.

    ``bulk`` (e, 3, 3) is the inverse compliance, ``share`` what the wave leaves of the full circle.
    """
    count = body.count
    u, p, bulk = floats(u, (body.nodes, 2)), floats(p, (count, 3)), floats(bulk, (count, 3, 3))
    arrays, filled = room([(count, *shape) for shape in ((24, 24), (27, 3), (3, 3), (3, 24))])
    body.library.waves.wave_condensed(
        byref(body.structure), address(u), address(p), address(bulk), float(order), share, filled
    )
    return WaveArrays(*arrays)


def wave_points(body: CompiledBody, u: Floats, p: Floats) -> tuple[Floats, Floats, Floats]:
    """Stress (e, 9, 5) and the cosine and sine part of its derivative, (e, 9, 5, 5) and (e, 9, 4, 4), MPa."""
    count = body.count
    u, p = floats(u, (body.nodes, 2)), floats(p, (count, 3))
    (stress, cosine, sine), filled = room([(count, 9, *shape) for shape in ((5,), (5, 5), (4, 4))])
    body.library.waves.wave_points(byref(body.structure), address(u), address(p), filled)
    return stress, cosine, sine
