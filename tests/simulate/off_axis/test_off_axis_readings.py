"""How far a wave holds, on a pressure made for it; and how far another reading of the same wave lies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.simulate.off_axis.readings import FURTHER, OF_FURTHER, across, bell_averaged, bounds, lift_read_otherwise
from labrum.simulate.postures.found import PressureWave

MIDDLE, HALF, PER_MM = 10.0, 2.5, 0.3


def wave(nodes: int, kink: float = 0.0) -> PressureWave:
    """A cylinder's pressure, on which a wave's share rises from nought by ``PER_MM`` a millimetre; a node beside.

    Nodes stand closer at the ends. ``kink`` is added on one node and taken off the next.
    """
    x = HALF * np.sin(0.5 * np.pi * np.linspace(-1.0, 1.0, nodes))
    base = np.sqrt(np.maximum(HALF**2 - x**2, 0.0))
    change = PER_MM * (x + HALF) * base
    change[3 * nodes // 5] += kink
    change[3 * nodes // 5 + 1] -= kink
    out = [np.concatenate([[0.0], k, [0.0]]) for k in (base, change)]
    radius = np.concatenate([[MIDDLE - HALF - 0.5], MIDDLE + x, [MIDDLE + HALF + 0.5]])
    return PressureWave(1, radius, *out, np.pad(np.ones(nodes, bool), 1), 1.0)


@pytest.mark.parametrize("nodes", [40, 41, 67, 130])
def test_a_wave_holds_to_where_its_share_is_one_a_tenth_from_the_end_on_any_grid(nodes: int) -> None:
    holds, lifts = bounds(wave(nodes))
    assert holds == pytest.approx(1.0 / (PER_MM * 1.8 * HALF), rel=0.01)
    assert lifts == pytest.approx(1.0 / (PER_MM * 0.2 * HALF), rel=0.04)


def test_a_kink_that_two_neighbours_share_hardly_moves_it() -> None:
    even, kinked = wave(130), wave(130, kink=2.0)
    inside = np.abs(even.radius - MIDDLE) < 0.8 * HALF
    one, other = (1.0 / (k.change[inside] / k.base[inside]).max() for k in (even, kinked))
    assert other < 0.9 * one  # read at nodes
    assert bounds(kinked)[0] == pytest.approx(bounds(even)[0], rel=0.02)


def test_where_next_to_nothing_touches_there_is_no_bound() -> None:
    none = wave(40)
    few = PressureWave(1, none.radius, none.base, none.change, np.arange(42) < 2, 1.0)
    assert bounds(few) == (np.inf, np.inf)


def test_the_lift_of_a_fine_even_wave_is_unsure_by_where_it_is_read_alone() -> None:
    """By hand: the share is ``PER_MM`` times the way from the inner end, of which a width's share is left out there."""
    width = 2.0 * HALF
    further = 1.0 / (PER_MM * 0.1 * width) - 1.0 / (PER_MM * FURTHER * width)
    assert lift_read_otherwise(wave(1000)) == pytest.approx(OF_FURTHER * further, rel=0.15)


def test_the_lift_is_less_sure_with_a_kink_and_where_nothing_lifts_there_is_no_doubt() -> None:
    even = wave(130)
    rising = replace(even, change=even.base, load=1.0)
    kinked = replace(rising, change=rising.change - 0.5 * rising.base * np.isclose(np.arange(132), 70))
    assert lift_read_otherwise(kinked) > 10.0 * lift_read_otherwise(rising)
    assert lift_read_otherwise(replace(even, load=0.0)) == 0.0


def test_averaging_leaves_a_line_and_takes_a_ripple_off() -> None:
    along = np.linspace(0.0, 5.0, 101)
    line = 2.0 + 3.0 * along
    assert bell_averaged(along, line, 0.1)[10:-10] == pytest.approx(line[10:-10])
    assert np.abs(bell_averaged(along, np.cos(np.pi * np.arange(101)), 0.1)[10:-10]).max() < 0.01


def test_averaged_across_the_contact_only_what_touches_changes() -> None:
    before = wave(60, kink=0.5)
    after = across(before, 0.02)
    assert after.base is before.base
    assert after.change[[0, -1]] == pytest.approx(0.0)
    assert np.abs(after.change - before.change)[37:39].min() > 0.1
