"""Readers' scatter: against the errors' own propagation to first order, and the trade's rule."""

from __future__ import annotations

from math import cos, pi, radians

import numpy as np
import pytest

from labrum.meshes.gauges.reader_scatter import Aim, readers_scatter
from tests import gauge_rims


def test_perfect_aim_reads_the_bite_point() -> None:
    rim = gauge_rims.plain_rim()
    scatter = readers_scatter(rim, Aim(0.0, 0.0, 50))
    assert scatter.readings == pytest.approx(np.full(50, 2 * rim.bite[0]), abs=2e-3)


def test_small_errors_of_angle_move_the_place_by_the_radius() -> None:
    # On the arc r = c - R sin(angle): to first order the reading 2 r scatters by 2 R cos(45 deg) times the error.
    rim = gauge_rims.plain_rim(bite_radius_mm=0.9)
    scatter = readers_scatter(rim, Aim(2.0, 0.0, 20_000))
    assert scatter.deviation == pytest.approx(2 * 0.9 * cos(pi / 4) * radians(2.0), rel=0.03)


def test_small_errors_of_depth_count_twice_at_45_degrees() -> None:
    rim = gauge_rims.plain_rim(bite_radius_mm=0.9)
    assert readers_scatter(rim, Aim(0.0, 0.01, 20_000)).deviation == pytest.approx(0.02, rel=0.03)


def test_the_rounder_the_bite_the_wider_the_scatter() -> None:
    """Common practice, no source: two people agree on a sharp rim's diameter and argue about a round one's."""
    wide = [readers_scatter(gauge_rims.plain_rim(bite_radius_mm=b)).deviation for b in (0.2, 0.4, 0.6, 0.8, 1.0, 1.3)]
    assert (np.diff(wide) > 0).all()
    assert wide[-1] > 2 * wide[0]


def test_the_same_seed_gives_the_same_readers() -> None:
    rim = gauge_rims.plain_rim()
    assert np.array_equal(readers_scatter(rim).readings, readers_scatter(rim).readings)
    low, high = readers_scatter(rim).middle_95
    assert low < readers_scatter(rim).mean < high
