"""True errors of every measure beside what was estimated of them, over random designs.

    python -m tests.studies.errors --seed 5 --count 300 --kinds plain living --workers 2 --out still.json
    python -m tests.studies.errors --seed 6 --count 300 --kinds friction --workers 2 --out friction.json
    python -m tests.studies.errors --seed 7 --count 100 --kinds postures postures-friction --out off-axis.json
    python -m tests.studies.errors --report still.json friction.json
    python -m tests.studies.errors --guide friction.json more-friction.json

Design number k is of the kind number k modulo how many kinds there are. The truth is the same design solved on grids
sharpened twice more (the load path's, on which the muscle contracts, 0.5 times as long) and, with friction, on a way
of a quarter of the steps' length. There is a table a kind, which has, a line a measure: how many designs have it, the
median of its true error and of its estimate, their ratio, the share of designs whose true error is within the
estimate, and the largest ratio of true error to estimate with the number of the design that has it. For the guide
the same stands in rows of Markdown, the designs of all files together.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from labrum.cases.solving.result import errors_told, measured
from labrum.simulate.accuracy.refinement import ANSWER, Refined
from labrum.simulate.equilibrium.traction import traction
from labrum.simulate.living.breath_and_muscle import contracts
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.main_job.effort import RUBBING_SHARE, Effort
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.postures.asked import Posture
from labrum.simulate.problem import Accuracy, NotConverged, Problem
from labrum.simulate.readings.measures import measures_of
from labrum.simulate.solving import silent, solve_refined
from tests.studies.designs import drawn

KINDS = ("plain", "living", "friction", "living-friction", "postures", "postures-friction")
ASKED = Posture(tilt_deg=0.5, arch_radius_mm=60.0, lower_stiffer=0.1, lower_thicker=0.05)
NEAR = {True: 0.3, False: 0.1}  # percent of the peak that the truth is solved to, with friction and without


def problem_of(seed: int, number: int, kind: str) -> Problem:
    """The design of one kind; living ones are asked to vibrate too."""
    rubs, lives = "friction" in kind, "living" in kind
    problem = drawn(np.random.default_rng([seed, number]), rubs, lives)
    return replace(problem, vibration=lives, posture=ASKED if "postures" in kind else None)


def truth_plan(problem: Problem) -> Effort:
    """Far finer grids; with friction steps of a quarter, and of a sixteenth for the ways of a lip that contracts."""
    path, plan = Fineness().refined(0.5 if problem.load.muscle_activation else 0.7), Effort()
    share = 1.0 / 16.0 if problem.load.friction and contracts(problem) else 1.0
    pace, slow = plan.pace.times(share), plan.slow.times(share)
    return Effort(
        path=path, answer=ANSWER.sharper().sharper(), pace=pace, slow=slow, rubbing_share=0.25 * RUBBING_SHARE,
        most_work=10**9, most_contracting_work=10**9, most_answer_work=10**9,
    )  # fmt: skip


def told(problem: Problem, plan: Effort) -> dict[str, Any]:
    """What a solve says, and what it looked at to say how sure it is."""
    started = time.process_time()
    solved, refined = solve_refined(problem, None, silent, plan)
    cpu, measures = time.process_time() - started, solved.outcome.measures
    return {
        "fine": measured(measures), "errors": errors_told(measures), "coarse": _read(problem, refined.before),
        "ways": _ways(problem, refined), "cpu": cpu, "iterations": solved.outcome.newton_iterations,
        "warnings": list(solved.outcome.warnings),
    }  # fmt: skip


def _ways(problem: Problem, refined: Refined) -> list[dict[str, Any]]:
    return [_read(problem, way) for way in refined.ways or ()]


def _read(problem: Problem, pressed: Pressed) -> dict[str, Any]:
    model, state = pressed.model, pressed.equilibrium.state
    return measured(measures_of(problem, model, state, traction(model, state)))


def row(task: tuple[int, int, str]) -> dict[str, Any]:
    """One design's answer and truth, or why there is none."""
    seed, number, kind = task
    problem = problem_of(seed, number, kind)
    out: dict[str, Any] = {"seed": seed, "number": number, "kind": kind, "friction": problem.load.friction}
    try:
        out["answer"] = told(problem, Effort())
        exact = replace(problem, accuracy=Accuracy(NEAR[problem.load.friction > 0.0]))
        out["truth"] = told(exact, truth_plan(problem))
    except NotConverged as stop:
        out["stopped"] = str(stop)
    except Exception as error:
        out["stopped"] = f"{type(error).__name__}: {error}"
    return out


@dataclass(frozen=True)
class Line:
    """One measure's true errors and estimates, (k,) each, and the designs' numbers."""

    name: str
    true: np.ndarray
    estimated: np.ndarray
    number: np.ndarray

    @property
    def medians(self) -> tuple[float, float]:
        """Of the true errors and of the estimates."""
        return float(np.median(self.true)), float(np.median(self.estimated))

    @property
    def ratio(self) -> np.ndarray:
        """True errors over estimates, (k,)."""
        return self.true / np.maximum(self.estimated, 1e-300)

    @property
    def within(self) -> float:
        """Percent of the designs whose true error is within the estimate."""
        return 100.0 * float((self.ratio <= 1.0).mean())

    @property
    def times(self) -> str:
        """The medians' ratio; a dash where the true one is nought."""
        true, estimated = self.medians
        return f"{estimated / true:.1f}" if true > 1e-12 else "-"

    def __str__(self) -> str:
        (true, estimated), worst = self.medians, int(self.ratio.argmax())
        return (f"{self.name:<30}{len(self.true):5d}{true:10.2g}{estimated:10.2g}{self.times:>8}{self.within:9.1f}"
                f"{self.ratio[worst]:8.1f}  #{self.number[worst]}")  # fmt: skip

    @property
    def markdown(self) -> str:
        """The same as a row of the guide."""
        true, estimated = (f"{median:.1g}" for median in self.medians)
        cells = f"`{self.name}`", str(len(self.true)), true, estimated, self.times
        return f"| {' | '.join(cells)} | {self.within:.1f} | {self.ratio.max():.1f} |"


HEADING = f"{'measure':<30}{'n':>5}{'true med':>10}{'est med':>10}{'ratio':>8}{'within %':>9}{'worst':>8}  design"
IN_GUIDE = "| {} | designs | true | told | told / true | within, % | worst |\n" + "| --- " * 7 + "|"


def lines(rows: Sequence[dict[str, Any]]) -> list[Line]:
    """What became of each measure that any design has; of one kind, as floors and so medians differ between kinds."""
    solved, found = [one for one in rows if "truth" in one], list[Line]()
    for name in CATALOGUE:
        seen = [(one["answer"], one["truth"]["fine"].get(name), one["number"]) for one in solved]
        kept = [
            (abs(answer["fine"][name] - truth), answer["errors"][name], number)
            for answer, truth, number in seen
            if truth is not None and answer["errors"].get(name) is not None
        ]
        if kept:
            true, estimated, number = zip(*kept, strict=True)
            found.append(Line(name, np.array(true), np.array(estimated), np.array(number)))
    return found


def report(rows: Sequence[dict[str, Any]]) -> str:
    """The designs without a truth, and a table a kind."""
    lost = [f"#{one['number']} {one['kind']}: {one['stopped']}" for one in rows if "stopped" in one]
    cpu = [one[part]["cpu"] for part in ("answer", "truth") for one in rows if "truth" in one]
    head = f"{len(rows)} designs, {len(lost)} without a truth, {sum(cpu):.0f} CPU s"
    tables = [[f"\n{kind}", HEADING, *map(str, lines(those))] for kind, those in by_kind(rows).items()]
    return "\n".join([head, *lost, *(line for table in tables for line in table)])


def by_kind(rows: Sequence[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    """The designs of each kind."""
    return {kind: [one for one in rows if one["kind"] == kind] for kind in sorted({one["kind"] for one in rows})}


def for_guide(rows: Sequence[dict[str, Any]]) -> str:
    """The tables as the guide has them."""
    return "\n\n".join(
        "\n".join([IN_GUIDE.format(kind), *(line.markdown for line in lines(those))])
        for kind, those in by_kind(rows).items()
    )


def _read_command() -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m tests.studies.errors", description="True errors and estimates.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--kinds", choices=KINDS, nargs="+", default=["plain"], metavar="KIND", help=" ".join(KINDS))
    parser.add_argument("--workers", type=int, default=2, help="set OMP_NUM_THREADS=1 beside it")
    parser.add_argument("--out", type=Path, default=Path("errors.json"))
    parser.add_argument("--report", type=Path, nargs="+", metavar="FILE", help="only tell what these files hold")
    parser.add_argument("--guide", type=Path, nargs="+", metavar="FILE", help="the same in Markdown, all together")
    return parser.parse_args()


def main() -> None:
    """Solve and tell, or only tell."""
    asked = _read_command()
    if asked.guide:
        print(for_guide([one for file in asked.guide for one in json.loads(file.read_text(encoding="utf-8"))]))
        return
    if asked.report:
        for file in asked.report:
            print(f"{file}: {report(json.loads(file.read_text(encoding='utf-8')))}")
        return
    tasks = [(asked.seed, k, asked.kinds[k % len(asked.kinds)]) for k in range(asked.count)]
    with ProcessPoolExecutor(asked.workers) as pool:
        rows = list(pool.map(row, tasks))
    asked.out.write_text(json.dumps(rows, default=lambda x: x.item()), encoding="utf-8")
    print(report(rows))


if __name__ == "__main__":
    main()
