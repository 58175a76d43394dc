"""What a player's lip is expected to be before anything is pressed: from its thickness and its red, or the library.

Everything here is a normal distribution. Its widths are judgement, no source, but for those whose source is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.cases.library.shelf import lip_red
from labrum.cases.player.sheet import SeenLips
from labrum.cases.player.sheet_keys import MEANS_OF_THICKNESS
from labrum.cases.player.tissue import REFERENCE, library_stiffness, library_thicknesses
from labrum.meshes.arrays import Floats
from labrum.simulate.conclusions.varied_lips import EITHER_WAY

SHARE_WITHIN = 1.645
"""Standard deviations either way that hold nine lips in ten."""
STIFFNESS_SD = float(np.log(EITHER_WAY[1]) / SHARE_WITHIN)
"""Of the logarithm of the stiffness: nine lips in ten within the factor of two that the library's is taken to be
worth."""
LIBRARY_SPREAD = 1.5
"""The thin and the fleshy lip stand so many standard deviations from the average one, as the library says."""
RED_SHARE = 0.8
"""How much of the spread of thicknesses is left when the red is known. Judgement: the two go together, loosely."""


@dataclass(frozen=True)
class Expected:
    """Thickness mm with its standard deviation, and of the stiffness's logarithm, about the library's for a thickness.

    ``basis`` says where it comes from.
    """

    thickness: float
    thickness_sd: float
    stiffness_sd: float
    basis: str

    def lip(self, place: Floats) -> tuple[float, float]:
        """Thickness mm and stiffness at a ``place`` (2,) counted in standard deviations."""
        thickness = self.thickness + self.thickness_sd * float(place[0])
        return thickness, float(library_stiffness(thickness) * np.exp(self.stiffness_sd * place[1]))

    def slopes(self, place: Floats) -> Floats:
        """(2, 2) derivatives of thickness mm and of the stiffness's logarithm by the place."""
        step = 0.5
        here, there = (self.lip(place + np.array([way * step, 0.0])) for way in (-1.0, 1.0))
        tilt = float(np.log(there[1] / here[1])) / (2.0 * step)
        return np.array([[self.thickness_sd, 0.0], [tilt, self.stiffness_sd]])

    @property
    def covariance(self) -> Floats:
        """(2, 2) of thickness, mm, and the stiffness's logarithm."""
        slopes = self.slopes(np.zeros(2))
        return slopes @ slopes.T


def expected_lip(seen: SeenLips) -> Expected:
    """What to expect of a lip that was looked at."""
    if seen.thickness is not None:
        assert seen.thickness_by is not None  # the sheet's reader sees to it
        return Expected(
            seen.thickness, MEANS_OF_THICKNESS[seen.thickness_by], STIFFNESS_SD,
            f"thickness measured by {seen.thickness_by}, stiffness the library's for it",
        )  # fmt: skip
    known = library_thicknesses()
    spread = (max(known.values()) - min(known.values())) / (2.0 * LIBRARY_SPREAD)
    by_red = _by_red(seen, known)
    if by_red is not None:
        basis = "thickness guessed from the height of the red, stiffness the library's for it"
        return Expected(by_red, RED_SHARE * spread, STIFFNESS_SD, basis)
    return Expected(known[REFERENCE], spread, STIFFNESS_SD, "nothing known of the lip: the library's average one")


def _by_red(seen: SeenLips, known: dict[str, float]) -> float | None:
    """The thickness that goes with the red that is known, between the library's lips; None where none is."""
    reds = [(seen.red_upper, 0), (seen.red_lower, 1)]
    given = [(red, which) for red, which in reds if red is not None]
    if not given:
        return None
    rows = sorted((sum(lip_red(name)[which] for _, which in given), thickness) for name, thickness in known.items())
    heights, thicknesses = zip(*rows, strict=True)
    return float(np.interp(sum(red for red, _ in given), heights, thicknesses))
