"""Series behind the README's rules: where width stops helping, what the cup's wall does, what force and diameter do.

    OMP_NUM_THREADS=1 python -m tests.studies.rule_series --workers 2

Each line is a case of `labrum.cases.readme.rules`: its lip, what is unlike the usual rim and load, and the measures
that the rules speak of. The prose beside the README's table of rules draws its numbers from here.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from labrum.cases.readme.findings import lips_of
from labrum.cases.readme.rules import RuleCase, rule_case
from labrum.simulate import NotConverged, solve

LIPS = ("thin", "average", "fleshy")
MEASURES = (
    "peak_pressure_kpa", "edge_to_crown_pressure", "bearing_area_mm2", "muscle_shortening_ratio",
    "closing_travel_ratio", "edge_drift_mm_per_10n", "cup_wall_reach_mm", "height_past_high_point_mm",
    "lip_compliance_um_per_kpa", "sink_mm",
)  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One case under its series' name, in one of the rule's varied lips (``lip`` counts them; 0 is its own)."""

    series: str
    case: RuleCase
    lip: int = 0


def every() -> Iterator[Line]:
    """All the lines, series by series."""
    for lip in LIPS:
        for tenths in range(36, 79, 3):
            yield Line(f"width, {lip}", rule_case(lip, width_mm=tenths / 10.0))
    for width in (4.0, 5.8):
        yield Line("width at 40 N, fleshy", rule_case("fleshy", 40.0, width_mm=width))
    for force in (20.0, 40.0):
        for angle in (50.0, 60.0, 70.0, 80.0):
            yield Line(f"cup wall at {force:g} N, fleshy", rule_case("fleshy", force, cup_wall_angle_deg=angle))
    for lip in LIPS:
        for diameter in (15.0, 16.5, 18.0):
            yield Line(f"inner diameter, {lip}", rule_case(lip, inner_diameter_mm=diameter))
    for varied in range(5):
        for force in (10.0, 20.0, 30.0, 40.0):
            yield Line("force, average", rule_case(force_n=force), varied)
        for bite in (0.2, 0.6, 1.2):
            yield Line("bite at 10 N, thin", rule_case("thin", 10.0, bite_radius_mm=bite), varied)
    for bite in (0.2, 0.4, 0.6, 0.9, 1.2):
        yield Line("bite, fleshy", rule_case("fleshy", bite_radius_mm=bite))


def told(line: Line) -> str:
    """Solve one and say what came of it."""
    lip = lips_of(line.case.problem())[line.lip]
    unlike = " ".join(f"{key}={value:g}" for key, value in (*line.case.changes, line.case.held))
    try:
        found = solve(lip.problem).measures
    except NotConverged as stop:
        return f"{line.series}; {unlike}; {lip.name}: {stop}"
    values = (getattr(found, name) for name in MEASURES)
    numbers = " ".join("-" if value is None else f"{value:.4g}" for value in values)
    return f"{line.series}; {unlike}; {lip.name}: {numbers}"


def main() -> None:
    """Solve and print."""
    parser = argparse.ArgumentParser("python -m tests.studies.rule_series", description="Series behind the rules.")
    parser.add_argument("--workers", type=int, default=2)
    workers = parser.parse_args().workers
    print("series; case; lip:", " ".join(MEASURES))
    with ProcessPoolExecutor(workers) as pool:
        for text in pool.map(told, every()):
            print(text, flush=True)


if __name__ == "__main__":
    main()
