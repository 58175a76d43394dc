"""How high the tissue stands inside the rim, and how far up the cup's wall it has come."""

from __future__ import annotations

import numpy as np

from labrum.meshes.rims.rim import Rim
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.traction import Traction
from labrum.simulate.load_path.adaptive_grid import surface_samples
from labrum.simulate.readings.pressure import on_rim, vanishing


def crest_height(model: Model, state: State, rim: Rim) -> float:
    """Height z, mm over the resting lip's surface, of the highest tissue inside the bite point's radius.

    Over the high point's plane it is more by the rim's travel. Minus infinity where no tissue is inside.
    """
    _, surface = surface_samples(model, state)
    return float(surface[surface[:, 0] < rim.bite[0], 1].max(initial=-np.inf))


def wall_reach(rim: Rim, contact: Traction) -> float | None:
    """Arc length, mm, of cup wall and floor that tissue touches; None where no cup is drawn.

    Each stretch ends where its pressure, drawn on, vanishes, or at the joint of cup and rim.
    """
    if rim.cup_floor is None:
        return None
    in_cup = contact.active & ~on_rim(rim, contact)
    starts = np.nonzero(in_cup & ~np.concatenate([[False], in_cup[:-1]]))[0]
    ends = np.nonzero(in_cup & ~np.concatenate([in_cup[1:], [False]]))[0]
    return float(sum(_stretch(rim, contact, int(a), int(b)) for a, b in zip(starts, ends, strict=True)))


def _stretch(rim: Rim, contact: Traction, first: int, last: int) -> float:
    goes_on = last + 1 < len(contact.active) and contact.active[last + 1]
    outer = rim.cup_end if goes_on else vanishing(contact, last, +1, contact.foot)
    inner = vanishing(contact, first, -1, contact.foot) if first > 0 else contact.foot[first]
    return max(0.0, min(outer, rim.cup_end) - inner)
