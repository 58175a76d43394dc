"""Whether lips drawn at random are found again from two noisy presses: ``python -m tests.studies.recovery``.

A lip is drawn from what is expected of one whose thickness was measured by calliper. Two presses of it are solved to
a smaller error than the fit's own grids have, the steps on the way as short as that asks; lengths get noise of 0.2
mm, the scale's readings 1 N. The fit's interval is told with a coverage factor of 2, so it should hold the lip in 95
of 100. Draws whose presses have no equilibrium (very soft lips) are drawn again, and counted.

    python -m tests.studies.recovery --count 50 --processes 16 --out recovery.jsonl
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import time
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from labrum.cases.case_file.reading import read_case
from labrum.cases.player.expected import expected_lip
from labrum.cases.player.fitting import FORCE_SD_N, LENGTH_SD_MM, fitted_lip
from labrum.cases.player.pressing import PressTable, pressing_problem
from labrum.cases.player.sheet import KnownRim, Press, SeenLips
from labrum.simulate import NotConverged, solve

FORCES_N = (10.0, 25.0)
THICKNESSES_MM = (8.5, 15.0)
FINER_PERCENT = 0.5


def known_rim() -> KnownRim:
    """The demonstration's rim, as a sheet would know it."""
    case = read_case("demo")
    return KnownRim("demo", case.problem.rim, case.resolved["rim"])


def recovered(which: int, seed: int, forces: tuple[float, ...] = FORCES_N) -> dict[str, Any]:
    """Draw the lip number ``which``, press it, fit it, and tell both; it does not depend on how many are drawn."""
    rng, rim, again = np.random.default_rng([seed, which]), known_rim(), 0
    started = time.process_time()
    expected = expected_lip(SeenLips(thickness=float(rng.uniform(*THICKNESSES_MM)), thickness_by="calliper"))
    while True:
        thickness, stiffness = expected.lip(rng.standard_normal(2))
        try:
            presses = [_pressed(rim, thickness, stiffness, force, rng) for force in forces]
            break
        except NotConverged:
            again += 1
    lip = fitted_lip(expected, presses, PressTable())
    low, high = lip.stiffness_between
    return {
        "which": which, "thickness": thickness, "stiffness": stiffness, "found": [lip.thickness, lip.stiffness],
        "thickness_in": bool(abs(lip.thickness - thickness) <= lip.thickness_uncertainty),
        "stiffness_in": bool(low <= stiffness <= high), "narrowed": lip.narrowed, "drawn_again": again,
        "thickness_uncertainty": lip.thickness_uncertainty, "stiffness_between": [low, high],
        "seconds": time.process_time() - started,
    }  # fmt: skip


def _pressed(rim: KnownRim, thickness: float, stiffness: float, force: float, rng: np.random.Generator) -> Press:
    found = solve(pressing_problem(rim, thickness, stiffness, force, FINER_PERCENT)).measures
    true = np.array([found.sink_mm, 2.0 * found.contact_inner_radius_mm, 2.0 * found.contact_outer_radius_mm])
    sink, inner, outer = (float(v) for v in true + LENGTH_SD_MM * rng.standard_normal(3))
    return Press(rim, force + FORCE_SD_N * float(rng.standard_normal()), sink, inner, outer)


def summary(rows: list[dict[str, Any]]) -> str:
    """How many were found again, and how far the stiffness was narrowed."""
    both = [sum(row[name] for row in rows) for name in ("thickness_in", "stiffness_in")]
    narrowed = np.array([row["narrowed"] for row in rows])
    again = sum(row["drawn_again"] for row in rows)
    return (
        f"{len(rows)} lips: thickness within in {both[0]}, stiffness in {both[1]}; stiffness narrowed to "
        f"{np.median(narrowed):.2f} of what was expected (median; at worst {narrowed.max():.2f}); {again} drawn again"
    )


def _main() -> None:
    parser = argparse.ArgumentParser(description="Find random lips again from two noisy presses.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    with multiprocessing.Pool(asked.processes) as pool:
        rows = pool.map(partial(recovered, seed=asked.seed), range(asked.count), chunksize=1)
    if asked.out is not None:
        asked.out.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    print(summary(rows))


if __name__ == "__main__":
    _main()
