"""A sweep as a user runs it: ``labrum sweep`` with a plan, its workers' time accounted for."""

from __future__ import annotations

import json
import os
import tempfile
import time
from pathlib import Path
from typing import Any

from labrum.cases.command import app
from labrum.cases.library.shelf import demo_text

from .accounting import Account, EntryPoint, accounted_for, found, wrapped
from .isolated import peak_memory_mb

WORKER = EntryPoint("labrum.cases.workers.pool", "_work", "the sweep")
FOLDER = "LABRUM_BENCHMARK_FOLDER"
AXES = {
    "inner_diameter_mm": (16.1, 0.2, 5), "width_mm": (4.8, 0.2, 5), "bite_radius_mm": (0.4, 0.2, 4),
}  # fmt: skip


def plan_text(cases: int) -> str:
    """A plan over three dimensions of the demo's rim, cut down to a smaller grid where fewer cases are asked for."""
    counts = [count for _, _, count in AXES.values()]
    while _product(counts) > cases:
        counts[counts.index(max(counts))] -= 1
    lines = ["schema = 1", 'title = "benchmark"', 'case = "base.toml"', "", "[vary]"]
    for (name, (first, step, _)), count in zip(AXES.items(), counts, strict=True):
        lines.append(f"rim.{name} = {[round(first + step * place, 6) for place in range(count)]}")
    return "\n".join(lines) + "\n"


def _product(counts: list[int]) -> int:
    product = 1
    for count in counts:
        product *= count
    return product


def sweep(percent: float, cases: int, workers: int) -> dict[str, Any]:
    """Run the command on ``workers`` processes; processor's seconds are those of all of them."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        base = f"{demo_text('demo')}\n[accuracy]\npeak_pressure_percent = {percent}\n"
        (folder / "base.toml").write_text(base)
        (folder / "plan.toml").write_text(plan_text(cases))
        started, cpu = time.perf_counter(), _all_cpu_seconds()
        code = _commanded(folder, ["sweep", str(folder / "plan.toml"), "--workers", str(workers), "--quiet"])
        wall, cpu = time.perf_counter() - started, _all_cpu_seconds() - cpu
        reports = [json.loads(path.read_text()) for path in sorted(folder.glob("worker-*.json"))]
    if code != 0:
        raise RuntimeError(f"the sweep ended with exit code {code}")
    return {**_together(reports, cpu), "cases": _count(cases), "cpu_seconds": cpu, "wall_seconds": wall}


def _count(cases: int) -> int:
    lines = plan_text(cases).splitlines()
    return _product([line.count(",") + 1 for line in lines if line.startswith("rim.")])


def _all_cpu_seconds() -> float:
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def _commanded(folder: Path, words: list[str]) -> int:
    """Give ``labrum`` these words, with workers that report to ``folder``."""
    os.environ[FOLDER] = str(folder)
    with wrapped(WORKER, lambda original: accounted_work):
        try:
            app(words, standalone_mode=False)
        except SystemExit as end:  # a command leaves by the interpreter's own exit
            return int(end.code or 0)
    return 0


def accounted_work(*args: Any) -> None:
    """What a worker process runs: the sweep's own work, and a report of where its time went."""
    account = Account()
    with accounted_for(account):
        before = peak_memory_mb()
        found(WORKER)[2](*args)
    peak = peak_memory_mb()
    memory = {"peak_memory_mb": peak, "own_memory_mb": peak - before}
    report = {"seconds": account.seconds, "calls": account.calls, **memory}
    Path(os.environ[FOLDER], f"worker-{os.getpid()}.json").write_text(json.dumps(report))


def _together(reports: list[dict[str, Any]], cpu: float) -> dict[str, Any]:
    """The workers' accounts as one; the memory is that of the worker that held most."""
    account = Account()
    for report in reports:
        for category, seconds in report["seconds"].items():
            account.seconds[category] += seconds
        account.calls.update(report["calls"])
    memory = {key: max(report[key] for report in reports) for key in ("peak_memory_mb", "own_memory_mb")}
    calls = dict(account.calls)
    return {"shares": account.shares(cpu), "calls": calls, "newton_iterations": calls["factorise"], **memory}
