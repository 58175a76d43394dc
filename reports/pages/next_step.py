"""What to try next with a rim, by where its peak stands."""

from __future__ import annotations

import re

from labrum.simulate.conclusions.thresholds import place_across
from labrum.simulate.measures.catalogue import Measures

NEXT = {
    "inner": "The peak{of} stands at the inner edge. Try more width [width_mm], the high point farther out "
    "[high_point], a rounder inner crown [inner_crown_radius_mm] or a rounder bite [bite_radius_mm].",
    "cup": "The peak{of} stands on the cup's wall. Try a steeper wall [cup_wall_angle_deg] or a rounder bite "
    "[bite_radius_mm].",
    "middle": "The peak{of} stands on the face: the width is enough. Try less width [width_mm], or see what room "
    "there is for another high point [high_point].",
    "outer": "The peak{of} stands at the outer edge. Try a larger shoulder [shoulder_radius_mm], the high point "
    "farther in [high_point] or more width [width_mm].",
}  # fmt: skip
"""By the place of the peak; the keys of ``[rim]`` stand in brackets.

What is to be tried at an edge lowers the peak of solved rims. On the wall and on the face it is common practice, no
source.
"""


def next_step(measures: Measures, rims: str = "", keys: bool = True) -> str:
    """Say in words what to try next with ``rims``; with the case's ``keys``, or for knobs of the same names."""
    m = measures
    words = NEXT[place_across(m.peak_radius_mm, m.contact_inner_radius_mm, m.contact_outer_radius_mm)]
    written = re.sub(r" \[(\w+)\]", r" (\1)" if keys else "", words)
    return written.format(of=f" of {rims}" if rims else "")
