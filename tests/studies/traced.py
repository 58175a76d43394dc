"""Random rims measured with noise at uneven places, said in dimensions, and both solved: how far the answers lie apart.

    OMP_NUM_THREADS=1 python -m tests.studies.traced --seed 1 --count 200 --processes 16 --out traced.jsonl

Peaks in per cent and felt diameters in mm, the rim of dimensions against the trace itself, and both against the rim
that was measured. A second run goes on where one stopped; ``--report`` only tells what FILE holds.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import time
from collections.abc import Iterable
from dataclasses import asdict, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from labrum.cases.case_file.reading import case_from_table
from labrum.meshes.arrays import Floats
from labrum.meshes.dimensioning.dimensioned import DimensionedRim, dimensioned_trace
from labrum.meshes.rims.rim import Rim
from labrum.meshes.traces.raw_trace import TraceError
from labrum.meshes.traces.trace import rim_of_points
from labrum.simulate import NotConverged, solve
from tests import gauge_rims

PEAK_PERCENT, FELT_MM = 2.0, 0.03
ACCURACY_PERCENT = 0.3


def measured_points(rim: Rim, rng: np.random.Generator) -> Floats:
    """Points along one half with 5 to 10 micrometre noise, their steps unlike by a factor of ten."""
    steps = 0.04 * np.exp(rng.uniform(np.log(0.3), np.log(3.0), int(rim.curve.length / 0.02)))
    along = np.cumsum(steps)
    points = rim.curve.at(along[along < rim.curve.length])
    return points + rng.uniform(0.005, 0.010) * rng.standard_normal(points.shape)


def drawn(seed: int, which: int) -> tuple[Rim, Floats, dict[str, Any]]:
    """A rim, its points, and the tables of a case to press it in."""
    rng = np.random.default_rng([seed, which])
    rim = gauge_rims.random_rim(int(rng.integers(2**31)))
    lip = {"type": str(rng.choice(["thin", "average", "fleshy"])), "radius_mm": float(np.ceil(rim.outer_radius + 12.0))}
    return rim, measured_points(rim, rng), {"lip": lip, "load": {"force_n": float(rng.uniform(10.0, 30.0))}}


def pressed(rim: Rim, tables: dict[str, Any]) -> dict[str, float]:
    """Peak, its estimated error and felt diameter."""
    raw = {"schema": 1, "title": "measured", "rim": {"outline_mm": rim.curve.vertices.tolist()}, **tables,
           "accuracy": {"peak_pressure_percent": ACCURACY_PERCENT}}
    found = solve(replace(case_from_table(raw).problem, rim=rim)).measures
    return {"peak": found.peak_pressure_kpa, "error": found.peak_pressure_error_percent,
            "felt": found.felt_diameter_mm, "at": found.peak_radius_mm}


def row(which: int, seed: int) -> dict[str, Any]:
    """What became of one rim."""
    true, points, tables = drawn(seed, which)
    out: dict[str, Any] = {"which": which, "seed": seed, "points": len(points), **tables}
    started = time.process_time()
    try:
        measured = rim_of_points(points)
    except TraceError as error:
        return {**out, "stopped": f"no trace: {error}"}
    read, said = time.process_time(), dimensioned_trace(measured)
    out |= {"read_s": read - started, "said_s": time.process_time() - read} | told(said)
    try:
        out |= {name: pressed(rim, tables) for name, rim in
                (("true", true), ("trace", measured.rim), ("dimensions", said.rim))}
    except NotConverged as stop:
        out["stopped"] = f"not converged: {stop}"
    return out


def told(said: DimensionedRim) -> dict[str, Any]:
    return {"said": said.is_said, "off_um": said.departure.um, "noise_mm": said.noise,
            "found": asdict(said.dimensions), "notes": said.notes}


def apart(one: dict[str, Any], first: str, second: str) -> tuple[float, float]:
    """Peaks, per cent, and felt diameters, mm, of the first against the second."""
    a, b = one[first], one[second]
    return 100.0 * (a["peak"] / b["peak"] - 1.0), a["felt"] - b["felt"]


def report(found: Iterable[dict[str, Any]]) -> str:
    """How many answers lie within what is asked, and the worst."""
    every = sorted(found, key=lambda one: int(one["which"]))
    good = [one for one in every if "stopped" not in one]
    lines = [f"{len(every)} rims, {len(good)} solved, {sum(one['said'] for one in good)} said in dimensions"]
    for first, second in (("dimensions", "trace"), ("dimensions", "true"), ("trace", "true")):
        off = np.abs([apart(one, first, second) for one in good])
        within = int(((off[:, 0] <= PEAK_PERCENT) & (off[:, 1] <= FELT_MM)).sum())
        lines.append(
            f"{first} against {second}: peak median {np.median(off[:, 0]):.2f} %, most {off[:, 0].max():.2f} %; "
            f"felt median {np.median(off[:, 1]):.4f} mm, most {off[:, 1].max():.4f} mm; "
            f"within {PEAK_PERCENT:g} % and {FELT_MM:g} mm: {within} of {len(good)}")  # fmt: skip
        worst = sorted(good, key=lambda one: -abs(apart(one, first, second)[0]))[:3]
        lines += [f"  {one['which']}: {apart(one, first, second)[0]:+.2f} %, {apart(one, first, second)[1]:+.4f} mm, "
                  f"off {one['off_um']:.1f} um" for one in worst]
    if good:
        seconds = np.median([[one["read_s"], one["said_s"]] for one in good], axis=0)
        lines.append(f"CPU s, median: trace read {seconds[0]:.2f}, said in dimensions {seconds[1]:.2f}")
    return "\n".join([*lines, *(f"stopped: {one['which']} {one['stopped']}" for one in every if "stopped" in one)])


def _kept(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()] if path.exists() else []


def main() -> None:
    """Read the command line and do what it asks."""
    parser = argparse.ArgumentParser("python -m tests.studies.traced", description="Traces said in dimensions.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--out", type=Path, metavar="FILE", default=Path("traced.jsonl"))
    parser.add_argument("--report", action="store_true")
    asked = parser.parse_args()
    if not asked.report:
        done = {one["which"] for one in _kept(asked.out)}
        todo = [which for which in range(asked.count) if which not in done]
        with multiprocessing.Pool(asked.processes) as pool, asked.out.open("a", encoding="utf-8") as file:
            for one in pool.imap_unordered(partial(row, seed=asked.seed), todo):
                file.write(json.dumps(one) + "\n")
                file.flush()
    print(report(_kept(asked.out)))


if __name__ == "__main__":
    main()
