"""True errors of every measure beside what was estimated of them, over random designs.

    python -m tests.studies.errors --seed 1 --count 100 --kind plain --workers 2 --out plain.json

The truth is the same design solved on grids sharpened twice more and, with friction, on a way of a quarter of the
step's length. ``--kind`` is plain, friction or living.
"""

from __future__ import annotations

import argparse
import json
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np

from labrum.simulate.accuracy.refinement import ANSWER
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import StepLengths
from labrum.simulate.main_job.effort import Effort
from labrum.simulate.problem import Accuracy, NotConverged, Problem
from labrum.simulate.readings.measures import measures_of
from labrum.simulate.solving import silent, solve_refined
from tests.studies.designs import drawn


def told(problem: Problem, plan: Effort) -> dict[str, Any]:
    started = time.process_time()
    solved, refined = solve_refined(problem, None, silent, plan)
    before = refined.before
    model, state = before.model, before.equilibrium.state
    coarse = measures_of(problem, model, state, traction(model, state))
    return {"fine": asdict(solved.outcome.measures), "coarse": asdict(coarse), "cpu": time.process_time() - started,
            "iterations": solved.outcome.newton_iterations}


def row(task: tuple[int, int, str]) -> dict[str, Any]:
    seed, number, kind = task
    problem = drawn(np.random.default_rng([seed, number]), kind == "friction", kind == "living")
    out: dict[str, Any] = {"number": number, "friction": problem.load.friction}
    try:
        out["answer"] = told(problem, Effort())
        sharper = ANSWER.sharper().sharper()
        exact = replace(problem, accuracy=Accuracy(0.1))
        pace = StepLengths().times(1.0 / 16.0 if problem.load.friction else 1.0)  # halved twice more on the way
        fine = Effort(path=Fineness().refined(0.7), answer=sharper, pace=pace)
        out["truth"] = told(exact, fine)
    except NotConverged as stop:
        out["stopped"] = str(stop)
    except Exception as error:
        out["stopped"] = f"{type(error).__name__}: {error}"
    return out


def main() -> None:
    parser = argparse.ArgumentParser("python -m tests.studies.errors", description=__doc__)
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--kind", choices=["plain", "friction", "living"], default="plain")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path, required=True)
    asked = parser.parse_args()
    with ProcessPoolExecutor(asked.workers) as pool:
        rows = list(pool.map(row, [(asked.seed, k, asked.kind) for k in range(asked.count)]))
    asked.out.write_text(json.dumps(rows, default=lambda x: x.item()))


if __name__ == "__main__":
    main()
