"""A fitted grid is fine where it is asked to be: on arcs, at the ends of contact, and where the pressure peaks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from labrum.cases.case_file.reading import read_case
from labrum.simulate.accuracy.refinement import ANSWER
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.load_path.adaptive_grid import NEAR_PEAK, Fineness
from labrum.simulate.load_path.build import Stage
from labrum.simulate.load_path.press import Pressed, hold, press
from labrum.simulate.solving import silent


@pytest.fixture(scope="module")
def pressed() -> Pressed:
    problem = read_case("demo").problem
    return hold(problem, press(problem, Fineness(), silent), ANSWER, Stage("hold"), silent)


def longest_near_peak(run: Pressed) -> tuple[float, float]:
    """Longest element, mm along the deformed face, where the pressure is near its peak; length of that stretch."""
    contact = traction(run.model, run.equilibrium.state)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(contact.place, axis=0).T))])
    fine = np.linspace(along[0], along[-1], 20_000)
    pressure = np.interp(fine, along, contact.pressure)
    top = int(pressure.argmax())
    low = np.nonzero(pressure < NEAR_PEAK * pressure[top])[0]
    start, stop = fine[low[low < top].max()], fine[low[low > top].min()]
    lengths, middles = np.diff(along[::2]), along[1::2]
    return float(lengths[(middles > start) & (middles < stop)].max()), float(stop - start)


@pytest.mark.parametrize("times", [1, 2])
def test_elements_at_the_peak_are_the_asked_share_of_it(pressed: Pressed, times: int) -> None:
    problem, fineness = read_case("demo").problem, ANSWER
    for _ in range(times):
        fineness = fineness.sharper()
    longest, stretch = longest_near_peak(hold(problem, pressed, fineness, Stage("hold"), silent))
    assert longest < 1.15 * fineness.hump * stretch


def test_a_load_path_does_not_look_for_the_peak(pressed: Pressed) -> None:
    problem = read_case("demo").problem
    plain = hold(problem, pressed, replace(ANSWER, hump=np.inf), Stage("hold"), silent)
    assert plain.model.unknowns < pressed.model.unknowns
