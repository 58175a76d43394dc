"""Chains of arcs and lines: derivatives against difference quotients, fits against the chain that made the points."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.meshes.rims.rim import Rim
from labrum.meshes.traces.chains import FreeChain, fit_chain
from tests import gauge_rims


def chain_of(rim: Rim, tied: bool = False) -> FreeChain:
    c = rim.curve
    jump = (c.heading[1:] - (c.heading + c.sweep)[:-1] + np.pi) % (2 * np.pi) - np.pi
    corner = np.abs(jump) > 0.1
    held = np.full(len(c.bulge), np.nan)
    if tied:
        held[-3], held[-1] = 0.0, 0.5 * np.pi
    return FreeChain(tuple(c.start[0]), float(c.heading[0]), c.piece_length.copy(), c.curvature.copy(),
                 np.where(corner, jump, 0.0), c.is_arc, corner, held)


def test_a_chain_draws_the_curve_it_was_made_of() -> None:
    rim = gauge_rims.plain_rim()
    assert np.allclose(chain_of(rim).curve.vertices, rim.curve.vertices, atol=1e-12)


def test_response_matches_difference_quotients() -> None:
    chain = chain_of(gauge_rims.plain_rim())
    points = gauge_rims.sampled(gauge_rims.plain_rim(), spacing=0.0237)
    near = chain.curve.nearest(points)
    along = near.arc_length - chain.curve.offset[near.piece]
    exact = chain.response(near.foot, near.normal, near.piece, along)
    x = chain.packed()
    for k, step in enumerate(1e-6 * np.eye(len(x))):
        up = chain.moved_to(x + step).curve.nearest(points).distance
        down = chain.moved_to(x - step).curve.nearest(points).distance
        assert np.allclose(exact[:, k], (up - down) / 2e-6, atol=2e-6), k


def test_ties_answer_linearly() -> None:
    chain = chain_of(gauge_rims.plain_rim(), tied=True)
    missed, response = chain.ties()
    assert np.allclose(missed, 0.0, atol=1e-12)
    step = 0.01 * np.random.default_rng(0).standard_normal(len(chain.packed()))
    assert np.allclose(chain.moved_to(chain.packed() + step).ties()[0], response @ step, atol=1e-12)
    assert chain.held == 2
    assert chain.parameters == chain_of(gauge_rims.plain_rim()).parameters - 2


@pytest.mark.parametrize("tied", [False, True])
def test_a_fit_comes_back_to_the_chain_from_far_off(tied: bool) -> None:
    rim = gauge_rims.plain_rim()
    chain = chain_of(rim, tied)
    points = rim.curve.at(np.arange(0.01, rim.curve.length, 0.02))
    off = 0.03 * np.random.default_rng(1).standard_normal(len(chain.packed()))
    off[1] *= 0.1
    fit = fit_chain(chain.moved_to(chain.packed() + off), points, np.ones(len(points)), 0.001, most=200)
    assert np.abs(fit.residual).max() < 1e-6
    assert np.allclose(fit.chain.length[:-1], chain.length[:-1], atol=1e-4)
    assert np.allclose(fit.chain.curvature, chain.curvature, atol=1e-4)


def test_chains_that_cannot_be_are_known() -> None:
    chain = chain_of(gauge_rims.plain_rim())
    assert chain.is_possible
    assert not replace(chain, length=chain.length * -1.0).is_possible
    assert not replace(chain, curvature=chain.curvature * 100.0).is_possible
