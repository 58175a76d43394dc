"""What the rim's edges carry against its crown, and how the inner edge of contact wanders.

A rim is read from the cup outwards as edge, crown, edge: the bite's piece and what lies inside it, the crown, and
from the shoulder's piece on. The bite's piece holds the bite point, where the tangent stands at 45 degrees to the
axis; the shoulder's piece holds the like point outside. So an outline or a trace is read as dimensions are.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np

from labrum.meshes.rims.rim import Rim
from labrum.simulate.equilibrium.traction import Traction
from labrum.simulate.readings.pressure import between_nodes, on_rim, vanishing

MIDDLE_SHARE = 0.7  # of the crown, so that what the edges press on its ends is not counted as the crown's
SAMPLES = 4001


@dataclass(frozen=True)
class Crown:
    """Arc lengths on the rim's curve, mm, between which the crown lies."""

    first: float
    last: float

    @property
    def middle(self) -> tuple[float, float]:
        """Arc lengths between which its middle lies."""
        cut = 0.5 * (1.0 - MIDDLE_SHARE) * (self.last - self.first)
        return self.first + cut, self.last - cut


def crown_of(rim: Rim) -> Crown | None:
    """The crown of a rim; None where one piece is both edges, or no outer edge is drawn."""
    curve = rim.curve
    at = np.linspace(rim.cup_end, curve.length, SAMPLES)
    rising, low = curve.tangent_at(at)[:, 1], int(np.argmin(curve.at(at)[:, 1]))
    outside = np.nonzero(rising[low:] >= 1.0 / sqrt(2.0))[0]
    inside = np.nonzero(rising[:low] <= -1.0 / sqrt(2.0))[0]
    if len(outside) == 0 or len(inside) == 0:
        return None
    bite, shoulder = curve.piece_at(at[[inside[-1], low + outside[0]]])
    first, last = float(curve.offset[bite + 1]), float(curve.offset[shoulder])
    return Crown(first, last) if last > first else None


def edge_to_crown(rim: Rim, contact: Traction) -> float | None:
    """Peak pressure on bite and shoulder over that on the crown's middle 70 %; at most 1 is wide enough.

    None where the rim has no crown between its edges, or nothing presses on the crown's middle.
    """
    crown, touching = crown_of(rim), np.nonzero(on_rim(rim, contact))[0]
    if crown is None or len(touching) < 2:
        return None
    first, last = int(touching[0]), int(touching[-1])
    foot, pressure = (between_nodes(k, first, last) for k in (contact.foot, contact.pressure))
    low, high = crown.middle
    on_crown = pressure[(foot >= low) & (foot <= high)].max(initial=0.0)
    on_edges = pressure[(foot <= crown.first) | (foot >= crown.last)].max(initial=0.0)
    return float(on_edges / on_crown) if on_crown > 0.0 else None


def inner_edge_of_contact(rim: Rim, contact: Traction) -> float | None:
    """Radius, mm, where contact with the rim begins; None where it goes on up the cup's wall, or to the axis."""
    touching = np.nonzero(on_rim(rim, contact))[0]
    if len(touching) == 0 or touching[0] == 0 or contact.active[touching[0] - 1]:
        return None
    return vanishing(contact, int(touching[0]), -1)
