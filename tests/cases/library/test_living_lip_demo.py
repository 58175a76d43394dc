"""The shipped living lip, solved in earnest: opening, muscle, breath behind a gap and friction all at once."""

from __future__ import annotations

from labrum.cases.case_file.reading import read_case
from labrum.simulate import solve


def test_the_living_lip_closes_almost_freely_under_its_rim() -> None:
    """A bound, not a value: the rim presses 7 mm outside the opening, so it hinders little, but it does hinder.

    What stands past the bite rested inside it, nearly all of it: with friction 0.15 little slips in under the rim.
    """
    problem = read_case("living-lip").problem
    found = solve(problem)
    m = found.measures
    assert m.closing_travel_ratio is not None
    assert 0.8 < m.closing_travel_ratio < 1.0
    assert m.past_bite
    assert 0.0 <= m.drawn_in_volume_mm3 < 0.01 * m.intrusion_volume_mm3
    margin = found.lip_surface[0]
    assert margin[0] == problem.lip.opening_radius
    assert margin[2] > 0.0  # rim and breath have pushed it towards the cup
