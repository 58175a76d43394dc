"""How long refusals take at the edges of what a case may say, and whether peaks settle where friction is large.

Rims, lips and loads are drawn over the whole of what the schema allows, each number at an end as often as between. With
``--friction`` they are usual rims and lips with friction from 0.95 to 1, solved to 1 % and to 0.25 %: the two peaks
must agree within both stated errors.

    python -m tests.studies.edges --count 300 --processes 15
    python -m tests.studies.edges --friction --count 100 --processes 15
    python -m tests.studies.edges --only 17          # one case, its file and what comes of it
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np

from labrum.cases.case_file.reading import case_from_table
from labrum.cases.case_file.toml_writer import case_text
from labrum.simulate import NotConverged, solve
from labrum.simulate.problem import Problem
from tests.studies.designs import drawn, without_faults

LONGEST_S = 10.0
TOLD = 12
Table = dict[str, Any]


def edge_table(rng: np.random.Generator) -> Table:
    """A case whose numbers lie at the ends of what may be, or anywhere between."""
    at = partial(_at, rng)
    layers = [
        {"thickness_mm": at(0.2, 12.0), "shear_modulus_kpa": at(0.5, 500.0), "poisson_ratio": at(0.3, 0.5),
         "stiffening_kpa": [at(0.0, 50.0), at(0.0, 50.0)], "muscle": bool(rng.random() < 0.3)}
        for _ in range(rng.integers(1, 4))
    ]  # fmt: skip
    return {
        "schema": 1, "title": "at the edge",
        "rim": {"inner_diameter_mm": at(10.0, 32.0), "width_mm": at(1.5, 9.0), "bite_radius_mm": at(0.05, 2.0),
                "high_point": at(0.1, 0.9), "inner_crown_radius_mm": at(1.0, 40.0), "shoulder_radius_mm": at(0.1, 3.0),
                "cup_wall_angle_deg": at(46.0, 90.0), "cup_depth_mm": at(1.0, 20.0)},
        "lip": {"layer": layers, "radius_mm": at(16.0, 40.0), "opening_radius_mm": at(0.0, 3.0),
                "tooth_gap_radius_mm": at(0.0, 9.0), "backing": str(rng.choice(["bonded", "sliding"])),
                "edge": str(rng.choice(["continuing", "free", "held"]))},
        "load": {"force_n": at(0.01, 200.0), "friction": at(0.0, 1.0), "mouth_pressure_kpa": at(0.0, 20.0),
                 "muscle_activation": at(0.0, 1.0)},
    }  # fmt: skip


def _at(rng: np.random.Generator, low: float, high: float) -> float:
    """One end, the other, or evenly between: by ratio where both are above nought."""
    which = rng.integers(4)
    if which < 2:
        return (low, high)[which]
    between = np.exp(rng.uniform(*np.log([low, high]))) if low > 0.0 else rng.uniform(low, high)
    return round(float(between), 4)


def edge_case(which: int, seed: int) -> tuple[Table, Problem]:
    """The case of that number: one that may be."""
    return without_faults(np.random.default_rng([seed, which]), edge_table)


def at_the_edge(which: int, seed: int) -> dict[str, Any]:
    """What came of one case, and its processor's seconds."""
    table, problem = edge_case(which, seed)
    started = time.process_time()
    found: dict[str, Any] = {"which": which}
    try:
        outcome = solve(problem)
        measures = outcome.measures
        found |= {"status": "solved", "words": f"{measures.peak_pressure_kpa:.4g} kPa +- "
                  f"{measures.peak_pressure_error_percent:.2f} %"}  # fmt: skip
    except NotConverged as stop:
        found |= {"status": "refused", "words": f"{stop}"}
    except Exception as error:  # what must not happen is counted like all else
        found |= {"status": "fault", "words": f"{type(error).__name__}: {error}"}
    return {**found, "seconds": time.process_time() - started, "table": table}


def rubbing(which: int, seed: int) -> dict[str, Any]:
    """Whether a peak under large friction stays within its stated error when more is asked of it."""
    rng = np.random.default_rng([seed, which])
    problem = drawn(rng, friction=True, living=False)
    friction = float(rng.choice([0.95, 1.0, rng.uniform(0.95, 1.0)]))
    problem = replace(problem, load=replace(problem.load, friction=friction))
    started, peaks = time.process_time(), []
    for percent in (1.0, 0.25):
        asked = replace(problem, accuracy=replace(problem.accuracy, peak_pressure_percent=percent))
        try:
            measures = solve(asked).measures
        except NotConverged as stop:
            return {"which": which, "status": "refused", "words": str(stop), "seconds": time.process_time() - started}
        peaks.append((measures.peak_pressure_kpa, measures.errors["peak_pressure_kpa"] or 0.0))
    (one, error), (other, finer) = peaks
    settled = abs(one - other) <= error + finer
    words = f"{one:.2f} +- {error:.2f}, then {other:.2f} +- {finer:.2f} kPa"
    return {"which": which, "status": "settled" if settled else "moved on", "words": words,
            "seconds": time.process_time() - started}  # fmt: skip


def report(found: list[dict[str, Any]]) -> str:
    """How many came to what, the slowest of each, and all that must not be."""
    lines = []
    for status in sorted({one["status"] for one in found}):
        some = sorted((one for one in found if one["status"] == status), key=lambda one: -one["seconds"])
        seconds = np.array([one["seconds"] for one in some])
        over = int((seconds > LONGEST_S).sum())
        lines.append(f"{status}: {len(some)}; CPU s: median {np.median(seconds):.2f}, most {seconds.max():.2f}, "
                     f"{over} over {LONGEST_S:.0f}")  # fmt: skip
        shown = some if status in ("fault", "moved on") else some[:TOLD]
        lines += [f"  {one['which']:5d} {one['seconds']:6.2f} s  {one['words'][:150]}" for one in shown]
    return "\n".join(lines)


def main() -> None:
    """Read the command line and do what it asks."""
    parser = argparse.ArgumentParser("python -m tests.studies.edges", description="Cases at the edges.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--processes", type=int, default=1, help="set OMP_NUM_THREADS=1 beside it")
    parser.add_argument("--friction", action="store_true", help="friction of 0.95 to 1 in usual rims and lips")
    parser.add_argument("--only", type=int, metavar="N", help="one case at the edge")
    asked = parser.parse_args()
    if asked.only is not None:
        found = at_the_edge(asked.only, asked.seed)
        print(case_text(case_from_table(found.pop("table")).resolved, "at the edge"))
        print(json.dumps(found, indent=1))
        return
    work: Callable[..., dict[str, Any]] = rubbing if asked.friction else at_the_edge
    with multiprocessing.Pool(asked.processes) as pool:
        print(report(list(pool.imap_unordered(partial(work, seed=asked.seed), range(asked.count)))))


if __name__ == "__main__":
    main()
