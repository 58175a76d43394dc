"""How something rigid moves, or how the teeth are shaped, as one harmonic of the angle.

A rigid turn by one radian about the diameter that lies at theta = 90 degrees, through the axis at height z0, moves the
place (r, z) at angle t by ((z - z0) cos t, -(z - z0) sin t, -r cos t); a shift by one mm towards theta = 0 by
(cos t, -sin t, 0). A harmonic's components (U, V, W) are multiplied by (cos, sin, cos).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from labrum.meshes.arrays import Floats


class Motion(Protocol):
    """A field v of displacement per unit, harmonic ``order``, that something rigid follows."""

    @property
    def order(self) -> int:
        """Number of waves around the circle."""
        ...

    def at(self, places: Floats) -> Floats:
        """(k, 3) components of v at deformed ``places`` (k, 2), mm per unit."""
        ...

    def turned(self, places: Floats, forces: Floats) -> Floats:
        """(k, 3) change, per unit, of a force (k, 2) along the normals of what moves: -(grad v)^T of it; of any force
        that goes along with a rigid turn.
        """
        ...


@dataclass(frozen=True)
class Tilt:
    """A turn by one radian about the diameter at theta = 90 degrees, at height ``height`` mm: at theta = 0 what turns
    comes nearer the teeth.
    """

    height: float
    order: int = 1

    def at(self, places: Floats) -> Floats:
        """(k, 3) mm per radian."""
        above = places[:, 1] - self.height
        return np.column_stack([above, -above, -places[:, 0]])

    def turned(self, places: Floats, forces: Floats) -> Floats:
        """(k, 3) change per radian of forces that turn along."""
        return np.column_stack([forces[:, 1], -forces[:, 1], -forces[:, 0]])


@dataclass(frozen=True)
class Shift:
    """A shift by one mm towards theta = 0, along the rim's plane."""

    order: int = 1

    def at(self, places: Floats) -> Floats:
        """(k, 3) mm per mm."""
        return np.tile([1.0, -1.0, 0.0], (len(places), 1))

    def turned(self, places: Floats, forces: Floats) -> Floats:
        """(k, 3) zeros: nothing turns."""
        return np.zeros((len(places), 3))


@dataclass(frozen=True)
class Descent:
    """A descent by one mm along the axis, towards the teeth."""

    order: int = 0

    def at(self, places: Floats) -> Floats:
        """(k, 3) mm per mm."""
        return np.tile([0.0, 0.0, -1.0], (len(places), 1))

    def turned(self, places: Floats, forces: Floats) -> Floats:
        """(k, 3) zeros: nothing turns."""
        return np.zeros((len(places), 3))


@dataclass(frozen=True)
class Relief:
    """A relief of the teeth: they stand ``rise(r)`` cos(n t) mm higher (nearer the rim), with ``slope`` its d/dr."""

    order: int
    rise: Callable[[Floats], Floats]
    slope: Callable[[Floats], Floats]

    def at(self, places: Floats) -> Floats:
        """(k, 3) mm per unit."""
        none = np.zeros(len(places))
        return np.column_stack([none, none, self.rise(places[:, 0])])

    def turned(self, places: Floats, forces: Floats) -> Floats:
        """(k, 3) change per unit of forces along the teeth's normals."""
        r = places[:, 0]
        around = np.divide(self.order * self.rise(r), r, out=np.zeros(len(r)), where=r > 0.0)
        return np.column_stack([-self.slope(r) * forces[:, 1], around * forces[:, 1], np.zeros(len(r))])


def arch_relief(radius: float) -> Relief:
    """The second harmonic of teeth on a circle of ``radius`` mm: they fall off along theta = 0 and 180 degrees.

    The front teeth lie on z = -x^2 / (2 radius) = -r^2 / (4 radius) (1 + cos 2 theta), x across; its mean part belongs
    to the base state.
    """
    return Relief(2, lambda r: -(r**2) / (4.0 * radius), lambda r: -r / (2.0 * radius))
