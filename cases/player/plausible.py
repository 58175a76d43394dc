"""Lips that a player may have: drawn from what is known of the one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.cases.player.fitting import PlayerLip

LEAST_THICKNESS_MM, MOST_THICKNESS_MM = 4.0, 30.0
TIMES = 4  # as many are drawn as could be needed where some fall outside what a lip can be


@dataclass(frozen=True)
class PlausibleLip:
    """A lip a player may have: ``thickness`` mm, ``stiffness`` 1 being the library's average."""

    thickness: float
    stiffness: float


def plausible_lips(lip: PlayerLip, count: int, seed: int = 0) -> tuple[PlausibleLip, ...]:
    """Draw ``count`` lips from the posterior; the same for the same ``seed``.

    They are points of Sobol's sequence, scrambled, put through the normal distribution (scipy.stats.qmc), so that few
    of them stand for all.
    """
    from scipy.stats.qmc import MultivariateNormalQMC, Sobol

    drawn = 2 ** int(np.ceil(np.log2(TIMES * count)))
    mean = [lip.thickness, np.log(lip.stiffness)]
    engine = MultivariateNormalQMC(mean, cov=lip.covariance, engine=Sobol(d=2, rng=np.random.default_rng(seed)))
    points = engine.random(drawn)
    good = points[(points[:, 0] >= LEAST_THICKNESS_MM) & (points[:, 0] <= MOST_THICKNESS_MM)]
    return tuple(PlausibleLip(float(thickness), float(np.exp(log))) for thickness, log in good[:count])
