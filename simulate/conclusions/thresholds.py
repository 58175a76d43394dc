"""Where one word for a number ends and the next begins, and the words: the same in a table, a report and on the page.

All of them are choices, made so that the same number always gets the same word. No study ties them to what players
feel, and none is a limit of comfort or safety.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Scale:
    """Bands of a number: ``limits`` between them, rising, and ``names`` from the lowest up, one more."""

    limits: tuple[float, ...]
    names: tuple[str, ...]

    def band(self, value: float) -> str:
        """Name the band; a value on a limit is in the upper one."""
        return self.names[int(np.searchsorted(self.limits, value, side="right"))]

    def told(self, value: float, error: float) -> str | None:
        """Name the band; None where a limit lies within the value's error."""
        return None if min(abs(value - limit) for limit in self.limits) <= error else self.band(value)


CONCENTRATED, SHARP = 1.5, 2.5
"""Peak over mean: even is 1, and a smooth round contact on a half-space has 4/pi = 1.27 (Hertz; Johnson 1985, Contact
Mechanics, section 4.2)."""
CONCENTRATION = Scale((CONCENTRATED, SHARP), ("even", "concentrated", "sharp"))

ON_CROWN = 1.0
"""Peak on the rim's edges over that on its crown: at most this is *wide enough*, above it the edges carry the peak."""
EDGE_TO_CROWN = Scale((ON_CROWN,), ("crown", "edges"))

STOPPED, PINNED, FREE = 0.2, 0.5, 0.9
"""Closing travel, rim on over rim off."""
CLOSING = Scale((PINNED, FREE), ("pinned", "hindered", "free"))
CLOSING_WORDS = {
    "pinned": "the rim pins the opening",
    "hindered": "the rim hinders the opening",
    "free": "the opening closes freely",
}

BEARING = Scale((0.5, 0.7, 0.9), ("a small part", "a part", "most", "nearly all"))
"""Bearing area over contact area: how much of what touches carries."""

DRIFT_MM_PER_10N = Scale((0.1, 0.3), ("hardly", "a little", "clearly"))
"""Movement of the felt diameter, either way."""

FORGIVING_DEG = Scale((1.0, 3.0), ("hardly", "fairly", "well"))
"""Tilt that raises the peak by a tenth."""

CUP_WORDS = {
    "yes": "The lip reaches the cup.",
    "no": "The lip does not reach the cup.",
    None: "Whether the lip reaches the cup cannot be told: it comes just as far as the wall.",
}

NO_SHARE = 0.005
"""A share of the volume past the bite that would be written as 0 %."""

THIRDS = Scale((0.0, 1 / 3, 2 / 3), ("cup", "inner", "middle", "outer"))
"""Where across the contact with the rim, from its inner end (0) to its outer (1)."""
PLACE_WORDS = {
    "cup": "the cup's wall",
    "inner": "the inner edge",
    "middle": "the face of the rim",
    "outer": "the outer edge",
}


def place_across(radius: float, inner: float, outer: float) -> str:
    """Name the third of a contact from ``inner`` to ``outer`` that a radius lies in, or the cup's wall inside of it."""
    return THIRDS.band((radius - inner) / (outer - inner))
