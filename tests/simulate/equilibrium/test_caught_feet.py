"""What comes to stick in a step is anchored where it was when the edge of what sticks reached it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.meshes.curves.distance import Nearest
from labrum.simulate.contact.signorini import PairState, caught_up, not_caught_up

RATE = 0.05
AT = np.linspace(0.0, 1.0, 401)


def slipped(edge: float) -> np.ndarray:
    """Slip of nodes `AT` when what sticks has grown from 0 to ``edge``, where the surface at a distance d ahead of it
    slips by `RATE` sqrt(d) while the edge goes on by one: the integral in closed form.
    """
    return RATE * (AT**1.5 - np.maximum(AT - edge, 0.0) ** 1.5) / 1.5


def seen_at(foot: np.ndarray) -> Nearest:
    none, nowhere = np.zeros(len(foot)), np.zeros((len(foot), 2))
    return Nearest(none, nowhere, nowhere, none, none.astype(int), foot)


def after(steps: int, caught: bool) -> tuple[PairState, np.ndarray]:
    """The state, and its error (k,) at what sticks, after an edge that has run over 0.9 in so many steps."""
    state = PairState.untouched(AT.copy())
    for edge in np.linspace(0.0, 0.9, steps + 1)[1:]:
        ahead = AT + slipped(edge)
        state = replace(state, active=edge >= AT, stuck=edge >= AT)
        foot = np.where(state.stuck, state.anchor, ahead)  # an implicit step holds it where it was at its start
        ended = caught_up(state, seen_at(foot)) if caught else replace(state, held=state.stuck)
        state = replace(ended, anchor=np.where(ended.stuck, ended.anchor, ahead))
    return state, np.abs(state.anchor - AT - slipped(0.9))[state.stuck]


def test_a_running_edge_leaves_the_slip_of_the_closed_form() -> None:
    for steps in (3, 6, 12):
        (_, second), (_, first) = after(steps, True), after(steps, False)
        assert second.max() < 0.05 * first.max()


def test_what_was_put_back_can_be_taken_off_again() -> None:
    (second, _), (first, _) = after(6, True), after(6, False)
    early = not_caught_up(second)
    assert early.anchor[early.stuck] == pytest.approx(first.anchor[first.stuck], abs=1e-12)


def test_what_stuck_before_stays() -> None:
    state, _ = after(6, True)
    assert np.array_equal(caught_up(state, seen_at(state.anchor)).anchor, state.anchor)
