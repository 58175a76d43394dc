"""A rounded bite is read as such: no reading is worse, by what it is chosen by, than the rim that was measured."""

from __future__ import annotations

import numpy as np
import pytest

from labrum.meshes.rims.rim import Rim
from labrum.meshes.traces.chain_moves import rounded
from labrum.meshes.traces.chains import ChainFit, FreeChain, fit_chain
from labrum.meshes.traces.trace import MeasuredRim, rim_of_points
from tests.studies.traced import drawn

# Of the study's first 200 rims those whose bite, or whole, was once read far off.
ONCE_MISREAD = (6, 61, 63, 96, 99, 111, 114, 135, 164, 176, 197)
# A little worse is alike: the model is chosen on means of neighbours.
ALIKE = 1.0


def chain_of(rim: Rim, lift: float) -> FreeChain:
    """Give the rim's own pieces, level and upright ones tied, as a maker drew them."""
    curve = rim.curve
    heading, sweep = curve.heading, curve.piece_length * curve.curvature
    turn = (heading[1:] - (heading + sweep)[:-1] + np.pi) % (2.0 * np.pi) - np.pi
    turn[np.abs(turn) < 1e-9] = 0.0
    quarter = 0.5 * np.pi * np.round(heading / (0.5 * np.pi))
    tied = np.where(np.abs(heading - quarter) < 1e-7, quarter, np.nan)
    first = (float(curve.start[0, 0]), float(curve.start[0, 1]) + lift)
    return FreeChain(first, float(heading[0]), curve.piece_length, curve.curvature, turn, curve.is_arc, turn != 0.0,
                     tied)


def best_of_the_true_model(rim: Rim, read: MeasuredRim) -> ChainFit:
    """Fit the model that the points were made from, to all of them."""
    points = read.points + np.array([0.0, read.lift])
    return fit_chain(chain_of(rim, read.lift), points, np.ones(len(points)), read.fit.noise)


def bite_uncertainty(fit: ChainFit) -> float:
    """Standard uncertainty of the first convex arc's radius: the bound of Cramer and Rao for these points."""
    chain = fit.chain
    i = int(np.flatnonzero(chain.is_arc & (chain.curvature > 0.0))[0])
    angle = 1 + len(chain.length) + int(chain.is_arc[:i].sum())
    slope = np.zeros(chain.packed().shape)
    sweep = chain.length[i] * chain.curvature[i]
    slope[2 + i], slope[angle] = 1.0 / sweep, -chain.length[i] / sweep**2
    spread = np.linalg.pinv(fit.jacobian.T @ fit.jacobian, rcond=1e-15, hermitian=True)
    return float(np.sqrt(slope @ spread @ slope))


@pytest.mark.parametrize("which", ONCE_MISREAD)
def test_a_reading_is_as_good_as_the_rim_measured(which: int) -> None:
    """The points' own best of the true model is a bound that no reading may miss; its bite is known as well as that."""
    true, points, _ = drawn(1, which)
    read = rim_of_points(points)
    best = best_of_the_true_model(true, read)
    chosen = read.fit.residual @ read.fit.residual / read.fit.noise**2 + read.fit.chain.price(len(read.points))
    assert chosen <= best.criterion(len(read.points)) + ALIKE
    assert read.fit.noise < 0.012  # the points' own, not a coarser tolerance
    assert read.rim.bite_radius == pytest.approx(true.bite_radius, abs=3.0 * bite_uncertainty(best))


def test_a_rounded_corner_leaves_what_follows_as_it_headed() -> None:
    chain = FreeChain((0.0, 0.0), -1.0, np.array([5.0, 3.0, 4.0]), np.array([0.0, 0.2, 0.0]), np.array([0.5, 0.0]),
                      np.array([False, True, False]), np.array([True, False]), np.full(3, np.nan))
    for radius in (0.1, 0.8):
        smooth = rounded(chain, 0, radius)
        assert not smooth.is_corner.any()
        assert smooth.headings[-1] == pytest.approx(chain.headings[-1])
        assert smooth.length.sum() < chain.length.sum()  # a corner cut short
