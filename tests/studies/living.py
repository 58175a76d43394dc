"""How surely and how fast random living lips are solved: ``python -m tests.studies.living``.

Rims, lips and loads are drawn by `tests.studies.designs`; every design breathes or contracts. One line of JSON a design
is written as soon as it is solved, and a run goes on where FILE ends.

    python -m tests.studies.living --seed 1 --count 300 --processes 2 --out living-1.jsonl
    python -m tests.studies.living --seed 1 --count 300 --out living-1.jsonl --report   # only what is there
    python -m tests.studies.living --seed 1 --only 17                                     # one design, told in full
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import time
from collections import Counter
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from labrum.simulate import NotConverged, solve
from labrum.simulate.problem import Progress
from tests.studies.designs import drawn_alive

QUANTILES = (0.5, 0.9, 0.99, 1.0)


class _Stages:
    """A listener that counts the iterations of each stage."""

    def __init__(self, told: bool) -> None:
        self.counted: Counter[str] = Counter()
        self._told = told

    def __call__(self, progress: Progress) -> None:
        self.counted[progress.stage] += progress.iteration > 0
        if self._told:
            print(f"{progress.stage:10s} {progress.iteration:3d} {progress.residual:9.2e} {progress.force:8.3f} N "
                  f"{progress.sink:8.4f} mm {progress.unknowns:6d}")  # fmt: skip


def solved(which: int, seed: int, told: bool = False) -> dict[str, Any]:
    """What became of one design, and its processor's seconds."""
    stages = _Stages(told)
    table, problem = drawn_alive(np.random.default_rng([seed, which]))
    started = time.process_time()
    found: dict[str, Any] = {"which": which, "seed": seed}
    try:
        outcome = solve(problem, stages)
    except NotConverged as stop:
        found |= {"status": "not converged", "cause": str(stop)}
    else:
        measures = outcome.measures
        found |= {
            "status": "converged", "peak_kpa": measures.peak_pressure_kpa,
            "error_percent": measures.peak_pressure_error_percent, "unknowns": outcome.unknowns,
            "closing_travel_ratio": measures.closing_travel_ratio, "sink_mm": measures.sink_mm,
            "muscle_shortening_ratio": measures.muscle_shortening_ratio, "warnings": list(outcome.warnings),
        }  # fmt: skip
    cpu = time.process_time() - started
    return {**found, "cpu_seconds": cpu, "iterations": dict(stages.counted), "table": table}


def report(found: Iterable[dict[str, Any]]) -> str:
    """How many converged, how long they took, and the worst."""
    every = sorted(found, key=lambda one: float(one["cpu_seconds"]))
    lost = [one for one in every if one["status"] != "converged"]
    seconds = np.array([one["cpu_seconds"] for one in every])
    lines = [
        f"{len(every)} designs, {len(every) - len(lost)} converged ({100 * (1 - len(lost) / len(every)):.1f} %)",
        "CPU s: median {:.2f}, 90 % {:.2f}, 99 % {:.2f}, most {:.2f}".format(*np.quantile(seconds, QUANTILES)),
        "iterations: " + _iterations(every),
        *(f"slow: {one['which']} {one['cpu_seconds']:.1f} s {one['iterations']}" for one in every[-8:]),
        *(f"lost: {one['which']} {one['cpu_seconds']:.1f} s {one['cause']}" for one in lost),
    ]
    return "\n".join(lines)


def _iterations(every: list[dict[str, Any]]) -> str:
    total: Counter[str] = Counter()
    for one in every:
        total.update(one["iterations"])
    return ", ".join(f"{stage} {count / len(every):.1f}" for stage, count in total.most_common())


def _kept(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()] if path.exists() else []


def _run(asked: argparse.Namespace) -> None:
    done = {one["which"] for one in _kept(asked.out)}
    todo = [which for which in range(asked.count) if which not in done]
    with multiprocessing.Pool(asked.processes) as pool, asked.out.open("a", encoding="utf-8") as file:
        for found in pool.imap_unordered(partial(solved, seed=asked.seed), todo):
            file.write(json.dumps(found) + "\n")
            file.flush()


def _read() -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m tests.studies.living", description="Random living lips.")
    add = parser.add_argument
    add("--seed", type=int, default=1)
    add("--count", type=int, default=300)
    add("--processes", type=int, default=1, help="set OMP_NUM_THREADS=1 beside it")
    add("--out", type=Path, metavar="FILE", default=Path("living.jsonl"))
    add("--report", action="store_true", help="only tell what FILE holds")
    add("--only", type=int, metavar="N", help="solve one design and tell every iteration")
    return parser.parse_args()


def main() -> None:
    """Read the command line and do what it asks."""
    asked = _read()
    if asked.only is not None:
        print(json.dumps(solved(asked.only, asked.seed, told=True), indent=1))
        return
    if not asked.report:
        _run(asked)
    print(report(_kept(asked.out)))


if __name__ == "__main__":
    main()
