"""What the contact pressure tells: peak, integrals, extent, and its line along the contact."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.meshes.grids.quadratic import edge_polynomial
from labrum.meshes.rims.rim import Rim
from labrum.simulate.equilibrium.traction import Traction, peak
from labrum.simulate.problem import KPA_PER_MPA
from labrum.simulate.readings.pressure_line import pressure_lines, profile_of

BETWEEN = 4  # points of a drawn profile a node


@dataclass(frozen=True)
class PressureReading:
    """What the contact pressure tells; MPa, N, mm, mm2. Integrals are over the area projected on the rim plane.

    ``force`` is what pressure carries everywhere, ``carried`` (∫p dA) and ``square`` (∫p² dA, N MPa) on the rim proper
    alone, over ``area``. With friction, shear carries the rest of the rim's force. So carried / area is the pressure's
    mean, and by Cauchy and Schwarz carried² / square is at most ``area``.
    """

    peak: float
    peak_raw: float
    peak_radius: float
    force: float
    carried: float
    square: float
    felt_radius: float
    inner_radius: float
    outer_radius: float
    area: float

    @property
    def mean(self) -> float:
        """Mean pressure on the rim proper."""
        return self.carried / self.area

    @property
    def bearing_area(self) -> float:
        """Area on which an even pressure would carry as much with the same integral of its square."""
        return self.carried**2 / self.square


def on_rim(rim: Rim, contact: Traction) -> Bools:
    """(k,) nodes that touch the rim proper, not the cup's wall or floor."""
    return contact.active & (contact.foot >= rim.cup_end)


def pressure_reading(rim: Rim, contact: Traction) -> PressureReading:
    """Peak, integrals and extent of the contact pressure."""
    top, at = peak(contact.pressure, contact.active)
    axial = contact.reaction * -contact.normal[:, 1]
    force, square = float(axial.sum()), float(np.sum(contact.pressure * axial))
    share, share_of_square = shares_on_rim(rim, contact)
    rim_nodes = on_rim(rim, contact)
    inner, outer = _ends(contact, rim_nodes, rim)
    return PressureReading(
        peak=top,
        peak_raw=peak(contact.raw, contact.active)[0],
        peak_radius=float(np.interp(at, np.arange(len(contact.place)), contact.place[:, 0])),
        force=force,
        carried=share * force,
        square=share_of_square * square,
        felt_radius=float(np.sum(contact.place[:, 0] * axial)) / force if force else 0.0,
        inner_radius=inner,
        outer_radius=outer,
        area=float(np.pi * (outer**2 - inner**2)),
    )


def shares_on_rim(rim: Rim, contact: Traction) -> tuple[float, float]:
    """Which parts of ∫p dA and of ∫p² dA stand on the rim proper; 1 where the cup is not touched.

    A node at the joint stands for both sides: so the integrals are parted where the surface passes the joint, between
    the nodes, by the trapezoidal rule on the surface's own quadratics. The sums over nodes are exact as wholes.
    """
    touching = np.nonzero(contact.active)[0]
    if len(touching) < 3 or bool(on_rim(rim, contact)[touching].all()):
        return 1.0, 1.0
    first, last = max(int(touching[0]) - 1, 0), min(int(touching[-1]) + 1, len(contact.pressure) - 1)
    radius, pressure, foot = (
        between_nodes(k, first, last) for k in (contact.place[:, 0], contact.pressure, contact.foot)
    )
    pressure, middle = np.maximum(pressure, 0.0), 0.5 * (foot[1:] + foot[:-1]) >= rim.cup_end
    shares = []
    for power in (1, 2):
        density = pressure**power * radius
        pieces = 0.5 * (density[1:] + density[:-1]) * np.maximum(np.diff(radius), 0.0)
        whole = float(pieces.sum())
        shares.append(float(pieces[middle].sum()) / whole if whole else 1.0)
    return shares[0], shares[1]


def _ends(contact: Traction, touching: Bools, rim: Rim) -> tuple[float, float]:
    """Radii where contact with the rim proper begins and ends."""
    where = np.nonzero(touching)[0]
    if len(where) == 0:
        return 0.0, 0.0
    first, last = int(where[0]), int(where[-1])
    if first > 0 and contact.active[first - 1]:  # contact goes on up the cup wall: the rim begins at its joint
        inner = float(rim.curve.at([rim.cup_end])[0, 0])
    else:
        inner = vanishing(contact, first, -1)
    return inner, vanishing(contact, last, +1)


def vanishing(contact: Traction, end: int, towards: int, along: Floats | None = None) -> float:
    """Radius at which the pressure of the last two touching nodes, drawn on, reaches zero before the next node.

    ``along`` (k,) replaces the radius by another coordinate of the nodes, such as arc length on the curve.
    """
    r, p = contact.place[:, 0] if along is None else along, contact.pressure
    beyond, before = end + towards, end - towards
    if not 0 <= beyond < len(r):
        return float(r[end])
    fall = p[before] - p[end]
    share = p[end] / fall if fall > p[end] else 1.0
    reach = np.clip(share * abs(r[end] - r[before]), 0.0, abs(r[beyond] - r[end]))
    return float(r[end] + np.sign(r[beyond] - r[end]) * reach)


def between_nodes(values: Floats, first: int, last: int) -> Floats:
    """Nodal ``values`` (k,) from node ``first`` to ``last`` and between them: quadratic on whole edges, else linear."""
    at = np.linspace(first, last, BETWEEN * (last - first) + 1)
    start = np.minimum(2 * (at // 2).astype(int), len(values) - 3)
    middle, slope, bend = edge_polynomial(values[start[:, None] + np.arange(3)]).T
    x = at - start - 1.0
    curved = middle + slope * x + bend * x**2
    whole = (start >= first) & (start + 2 <= last)
    return np.where(whole, curved, np.interp(at, np.arange(len(values)), values))


def profile(contact: Traction) -> Floats:
    """(m, 2) deformed radius mm, ascending, and pressure kPa along the contact, between nodes too.

    See `labrum.simulate.readings.pressure_line`; zero at the ends, but where contact goes on to the axis.
    """
    return profile_of(pressure_lines(contact.place, KPA_PER_MPA * contact.pressure, contact.active))
