"""What a page says to try next: it follows where the peak stands, and solved rims bear it out."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.exploring.tables import case_from_page, tables_of
from labrum.reports.pages.next_step import NEXT, next_step
from labrum.simulate import solve
from labrum.simulate.conclusions.measure_errors import higher
from labrum.simulate.conclusions.thresholds import place_across
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Outcome

OUTER = {"shoulder_radius_mm": 1.0, "bite_radius_mm": 1.2, "high_point": 0.6}
STEPS = {
    "inner": {"width_mm": 0.3, "high_point": 0.05, "inner_crown_radius_mm": -1.0, "bite_radius_mm": 0.2},
    "outer": {"shoulder_radius_mm": 0.3, "high_point": -0.05, "width_mm": 0.3},
}


def test_it_names_keys_for_a_file_and_none_for_knobs(outcome: Outcome) -> None:
    m = outcome.measures
    inner = replace(m, peak_radius_mm=m.contact_inner_radius_mm + 0.01)
    told = next_step(inner, "A and B")
    assert told.startswith("The peak of A and B stands at the inner edge. Try more width (width_mm)")
    assert "(" not in next_step(inner, keys=False)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("base", "rim", "place"),
    [("demo", {}, "inner"), ("thin-narrow", {}, "inner"), ("fleshy-loud", {}, "inner"), ("demo", OUTER, "outer")],
)
def test_all_that_is_to_be_tried_at_an_edge_lowers_the_peak(base: str, rim: dict[str, float], place: str) -> None:
    tables = tables_of(read_case(base))
    tables["rim"] |= rim
    before = measured(tables)
    assert place_across(before.peak_radius_mm, before.contact_inner_radius_mm, before.contact_outer_radius_mm) == place
    assert all(f"[{key}]" in NEXT[place] for key in STEPS[place])
    assert NEXT[place].count("[") == len(STEPS[place])
    for key, step in STEPS[place].items():
        changed = copy.deepcopy(tables)
        changed["rim"][key] += step
        assert higher(before, measured(changed), "peak_pressure_kpa"), key


def measured(tables: dict[str, Any]) -> Measures:
    return solve(case_from_page(tables).problem).measures
