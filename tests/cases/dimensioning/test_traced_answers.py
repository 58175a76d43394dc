"""Random rims measured with noise at uneven places: pressed as traced and as said in dimensions, they answer alike."""

from __future__ import annotations

import pytest

from tests.studies.traced import FELT_MM, PEAK_PERCENT, apart, row


def answers_alike(which: int) -> None:
    one = row(which, seed=1)
    assert one["said"], one
    assert "stopped" not in one, one["stopped"]
    peak, felt = apart(one, "dimensions", "trace")
    assert abs(peak) < PEAK_PERCENT
    assert abs(felt) < FELT_MM


@pytest.mark.parametrize("which", range(2))
def test_two_random_rims(which: int) -> None:
    answers_alike(which)


@pytest.mark.slow
@pytest.mark.parametrize("which", range(2, 200))
def test_two_hundred_random_rims(which: int) -> None:
    """Alone: ``python -m tests.studies.traced``, which tells medians and the worst too."""
    answers_alike(which)
