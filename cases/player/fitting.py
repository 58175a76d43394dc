"""The player's lip: thickness and stiffness by least squares, from the presses and from what is expected of it.

Unknowns are the thickness, the stiffness and the true force of each press, all counted in standard deviations from
what is expected or was read, so each is a residual of its own, beside (predicted less measured) over its standard
deviation for each length. The minimum is the most probable lip (maximum a posteriori), and the inverse of J'J, with J
the Jacobian there, is the posterior's covariance where the prediction is straight over it (Laplace's approximation:
MacKay 2003, Information Theory, Inference, and Learning Algorithms, chapter 27; from memory). Uncertainties told are
expanded by a coverage factor of 2, about 95 % (JCGM 100:2008, 6.3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from labrum.cases.exits import NoEquilibrium
from labrum.cases.player.expected import Expected, expected_lip
from labrum.cases.player.pressing import PressTable
from labrum.cases.player.sheet import Press, Sheet
from labrum.meshes.arrays import Floats
from labrum.simulate.problem import NotConverged

LENGTH_SD_MM, FORCE_SD_N = 0.2, 1.0
COVERAGE = 2.0
THICKNESS_STEP_MM, LOAD_STEP = 0.4, 0.12
"""Of the differences that give slopes: wide, because where contact ends is read with some scatter."""
SETTLED = 1e-3
"""Relative change at which the fit ends: far below a standard deviation."""
LEAST_FORCE_N = 0.1
REACH = 4.0
"""How many standard deviations from what is expected a lip may lie."""
STRANGE = 3.0
"""A residual of so many standard deviations is told: measure again."""
LENGTHS = ("sink", "inner diameter of the print", "outer diameter of the print")


@dataclass(frozen=True)
class Residual:
    """One length of a press, ``number`` counted from 1, measured and as the fitted lip has it, mm."""

    number: int
    what: str
    measured: float
    fitted: float

    @property
    def strange(self) -> bool:
        """Is it too far off for a slip of the hand?"""
        return abs(self.fitted - self.measured) > STRANGE * LENGTH_SD_MM


@dataclass(frozen=True)
class PlayerLip:
    """A lip as far as it is known: ``thickness`` mm, ``stiffness`` 1 being the library's average.

    ``covariance`` (2, 2) is that of the thickness and of the stiffness's logarithm; ``expected`` is what was known
    before anything was pressed.
    """

    thickness: float
    stiffness: float
    covariance: Floats
    expected: Expected
    residuals: tuple[Residual, ...] = ()

    @property
    def thickness_uncertainty(self) -> float:
        """Expanded uncertainty of the thickness, mm."""
        return COVERAGE * float(np.sqrt(self.covariance[0, 0]))

    @property
    def stiffness_between(self) -> tuple[float, float]:
        """The stiffness's interval by its expanded uncertainty."""
        factor = float(np.exp(COVERAGE * np.sqrt(self.covariance[1, 1])))
        return self.stiffness / factor, self.stiffness * factor

    @property
    def narrowed(self) -> float:
        """The uncertainty of the stiffness's logarithm over what it was before anything was pressed."""
        return float(np.sqrt(self.covariance[1, 1] / self.expected.covariance[1, 1]))


def player_lip(sheet: Sheet, table: PressTable | None = None) -> PlayerLip:
    """The lip of a sheet's player: fitted to its presses, or as expected where there are none.

    Raises
    ------
    labrum.cases.exits.NoEquilibrium
        Where no lip within reach can take the presses.
    """
    return fitted_lip(expected_lip(sheet.lips), sheet.presses, table or PressTable())


def fitted_lip(expected: Expected, presses: Sequence[Press], table: PressTable) -> PlayerLip:
    """Fit a lip to presses; see `player_lip`."""
    if not presses:
        return PlayerLip(*expected.lip(np.zeros(2)), expected.covariance, expected)
    from scipy.optimize import least_squares  # slow to load, and many sheets have no press

    fit = _Fit(expected, tuple(presses), table)
    start, reach = fit.start(), np.full(2 + len(presses), REACH)
    try:
        ends = {"ftol": SETTLED, "xtol": SETTLED}
        found = least_squares(fit.residuals, start, jac=fit.jacobian, bounds=(-reach, reach), **ends)
        jacobian = fit.jacobian(found.x)
        lengths = fit.lengths(found.x)
    except NotConverged as stop:
        raise NoEquilibrium(f"no lip near what is expected takes these presses: {stop}") from stop
    if not found.success:
        raise NoEquilibrium(f"the fit to the presses did not settle: {found.message}")
    inverse = np.linalg.inv(jacobian.T @ jacobian)[:2, :2]
    slopes = expected.slopes(found.x[:2])
    told = [Residual(i + 1, LENGTHS[k], m, float(lengths[i][k])) for i, k, m in fit.measured]
    return PlayerLip(*expected.lip(found.x[:2]), slopes @ inverse @ slopes.T, expected, tuple(told))


@dataclass(frozen=True)
class _Fit:
    expected: Expected
    presses: tuple[Press, ...]
    table: PressTable

    @property
    def measured(self) -> list[tuple[int, int, float]]:
        """The number of a press, which of its lengths, and that as measured, mm."""
        return [(i, k, m) for i, press in enumerate(self.presses) for k, m in enumerate(press.lengths) if m is not None]

    def start(self) -> Floats:
        """A first place whose presses have equilibria: as expected, or stiffer."""
        for stiffer in (0.0, 1.0, 2.0, 3.0):
            place = np.array([0.0, stiffer, *np.zeros(len(self.presses))])
            if np.all(np.isfinite(self.residuals(place))):
                return place
        raise NoEquilibrium("no lip near what is expected takes these presses: are the forces right?")

    def forces(self, place: Floats) -> Floats:
        """True forces, N."""
        read = np.array([press.force for press in self.presses])
        return np.maximum(read + FORCE_SD_N * place[2:], LEAST_FORCE_N)

    def lengths(self, place: Floats) -> list[Floats]:
        """What each press leaves, mm; raises `NotConverged`."""
        lip = self.expected.lip(place[:2])
        return [
            self.table.lengths(press.rim, *lip, float(force))
            for press, force in zip(self.presses, self.forces(place), strict=True)
        ]

    def residuals(self, place: Floats) -> Floats:
        """(2 + 1 a press + 1 a length,); infinite where a press has no equilibrium, which the solver steps back
        from.
        """
        try:
            lengths = self.lengths(place)
        except NotConverged:
            return np.full(len(place) + len(self.measured), np.inf)
        data = [(lengths[i][k] - m) / LENGTH_SD_MM for i, k, m in self.measured]
        return np.concatenate([place, data])

    def jacobian(self, place: Floats) -> Floats:
        """Slopes of `residuals`; raises `NotConverged`."""
        slopes, lip = self.expected.slopes(place[:2]), self.expected.lip(place[:2])
        rows = np.zeros((len(self.measured), len(place)))
        for press, force, number in zip(self.presses, self.forces(place), range(len(self.presses)), strict=True):
            by_thickness, by_load = self._slopes_of(press, lip, float(force))
            for row, (i, k, _) in enumerate(self.measured):
                if i == number:
                    rows[row, :2] = by_thickness[k] * slopes[0] - by_load[k] * slopes[1]
                    rows[row, 2 + i] = by_load[k] * FORCE_SD_N / force
        return np.vstack([np.eye(len(place)), rows / LENGTH_SD_MM])

    def _slopes_of(self, press: Press, lip: tuple[float, float], force: float) -> tuple[Floats, Floats]:
        """Slopes of a press's lengths by thickness, a mm, and by the logarithm of force over stiffness."""
        (thickness, stiffness), load = lip, np.exp(LOAD_STEP)
        thick = [self.table.lengths(press.rim, thickness + d, stiffness, force) for d in _either(THICKNESS_STEP_MM)]
        more = [self.table.lengths(press.rim, thickness, stiffness, force * f) for f in (1.0 / load, load)]
        return (thick[1] - thick[0]) / (2.0 * THICKNESS_STEP_MM), (more[1] - more[0]) / (2.0 * LOAD_STEP)


def _either(step: float) -> tuple[float, float]:
    return -step, step
