"""The command ``python -m tests.benchmarks.side_by_side``: ask everybody, print a table, keep the numbers."""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from ..isolated import ROOT, THREADS, measured, pin
from ..table import columns, number

HERE = Path(__file__).parent
SCHEMA = 1
GOAL = 20.0
WAYS = ("guided", "alone")
LIBRARIES = {"getfem": "getfem_press.py", "ngsolve": "ngsolve_press.py"}
HEADER = (
    "who", "unknowns", "iterations", "peak kPa", "off %", "sink mm", "off %", "felt mm", "CPU s", "wall s", "x ours",
)  # fmt: skip


def main() -> None:
    """Read the command line, ask, print and keep."""
    asked = _read()
    pythons = {name: getattr(asked, f"{name}_python") for name in LIBRARIES}
    pin(1)  # the processes started from here inherit it
    result = ask(asked.case, {name: at for name, at in pythons.items() if at}, asked.way or WAYS, asked.runs)
    if asked.out is not None:
        asked.out.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(report(result))


def _read() -> argparse.Namespace:
    parser = argparse.ArgumentParser(f"python -m {__package__}", description=sys.modules[__package__ or ""].__doc__)
    add = parser.add_argument
    for name in LIBRARIES:
        add(f"--{name}-python", metavar="PATH", help=f"the interpreter that has {name}; left out where none is given")
    add("--case", default="demo", help="the case to press (default: demo); the libraries were set up on the demo")
    add("--way", action="append", choices=WAYS, help="ask the libraries in this way; may be repeated (default: all)")
    add("--runs", type=int, default=5, help="timed runs, after one that is not; medians are told (default: 5)")
    add("--out", type=Path, metavar="FILE", help="write the numbers here, as JSON")
    return parser.parse_args()


def ask(case: str, pythons: dict[str, str], ways: Sequence[str], runs: int) -> dict[str, Any]:
    """Solve the case here, then have every library answer the same question in every way."""
    result: dict[str, Any] = {"schema": SCHEMA, "case": case, "runs": runs, "machine": measured("machine", 1, {})}
    with tempfile.TemporaryDirectory() as folder:
        question, answer = Path(folder, "question.json"), Path(folder, "answer.json")
        _run([sys.executable, "-m", f"{__package__}.ours", case, str(runs), str(question), str(answer)])
        result |= json.loads(answer.read_text())
        result["libraries"] = []
        for name, python in pythons.items():
            for way in ways:
                print(f"{name}, {way}", file=sys.stderr, flush=True)
                words = [python, str(HERE / LIBRARIES[name]), str(question), str(answer), "--way", way]
                result["libraries"].append(_answered(name, way, [*words, "--runs", str(runs)], answer))
    return result


def _answered(name: str, way: str, words: list[str], answer: Path) -> dict[str, Any]:
    """What a library found, or why it did not."""
    try:
        _run(words)
    except (subprocess.CalledProcessError, OSError) as error:
        told = getattr(error, "stderr", None) or str(error)
        return {"library": name, "way": way, "failed": told.strip().splitlines()[-1]}
    found: dict[str, Any] = json.loads(answer.read_text())
    return found


def _run(words: list[str]) -> None:
    environment = {**os.environ, **dict.fromkeys(THREADS, "1")}
    subprocess.run(words, cwd=ROOT, env=environment, check=True, capture_output=True, text=True)


def report(result: dict[str, Any]) -> str:
    """The table, what stood behind ours, and whether the goal is met."""
    ours, reference, libraries = result["ours"], result["reference"], result["libraries"]
    rows = [_row("ours, refined", reference, reference, ours), _row("ours", ours, reference, ours)]
    rows += [_row(_who(one), one, reference, ours) for one in libraries if "failed" not in one]
    failures = [f"{_who(one)}: {one['failed']}" for one in libraries if "failed" in one]
    table = "\n".join([_machine(result), columns(HEADER, rows), *failures])
    return "\n\n".join([table, *_parts(ours), "\n".join(_goals(result))])


def _who(one: dict[str, Any]) -> str:
    return " ".join(filter(None, [one["library"], one.get("version"), one["way"]]))


def _row(who: str, one: dict[str, Any], reference: dict[str, Any], ours: dict[str, Any]) -> list[str]:
    def against(key: str, how: str) -> list[str]:
        return [format(one[key], how), format(100.0 * (one[key] / reference[key] - 1.0), "+.2f")]

    cpu, wall = one.get("cpu_seconds"), one.get("wall_seconds")
    return [
        who, str(one["unknowns"]), str(one["iterations"]), *against("peak_pressure_kpa", ".2f"),
        *against("sink_mm", ".4f"), format(one["felt_diameter_mm"], ".3f"), number(cpu, ".2f"), number(wall, ".2f"),
        "-" if cpu is None else format(cpu / ours["cpu_seconds"], ".2f"),
    ]  # fmt: skip


def _machine(result: dict[str, Any]) -> str:
    facts = result["machine"]
    return f"{result['case']}, one core of {facts.get('processor')}, load {facts.get('load_average', 0.0):.1f}"


def _parts(ours: dict[str, Any]) -> Iterator[str]:
    if "cpu_seconds_to_first" in ours:
        yield (
            f"Of ours, {ours['cpu_seconds_to_first']:.2f} s until the first equilibrium under the full force, "
            f"{ours['cpu_seconds_to_finest']:.2f} s until the one on the finest grid, the rest for drift and readings."
        )


def _goals(result: dict[str, Any]) -> Iterator[str]:
    for way in WAYS:
        times = [one["cpu_seconds"] for one in result["libraries"] if one["way"] == way and "failed" not in one]
        if times:
            ratio = min(times) / result["ours"]["cpu_seconds"]
            met = "met" if ratio >= GOAL else "not met"
            yield f"Goal: {GOAL:g} times faster than the best library. {way}: {ratio:.2f} times, {met}."


if __name__ == "__main__":
    main()
