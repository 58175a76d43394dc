"""The part of a result that tells which conclusions survive a change of the lip."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import asdict
from typing import Any

from labrum.cases.solving.result import errors_told, measured
from labrum.cases.solving.screen import WIDTH, Narrator
from labrum.simulate.conclusions.questions import conclusions
from labrum.simulate.conclusions.robustness import Conclusion, Each, Stopped, Trial, tried
from labrum.simulate.conclusions.varied_lips import STIFFNESS_FACTORS, own_name, varied_lips
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem

HEADING = "Which conclusions survive another lip"
EXPLAINED = (
    "Tried: {n} lips, stiffness {factors} by friction {frictions}; no other change. A conclusion that does not "
    "hold in all of them rests on a stiffness or a friction that nobody has measured."
)


def varied_trials(problem: Problem, outcome: Outcome, each: Each, narrator: Narrator) -> tuple[Trial, ...]:
    """Solve the varied lips of a case whose own ``outcome`` is known; it stands among them."""
    variations, own = varied_lips(problem), own_name(problem)
    place = [variation.name for variation in variations].index(own)
    others = variations[:place] + variations[place + 1 :]
    narrator.say(f"solving {len(others)} varied lips")
    found = tried(others, each, counter(len(others), narrator))
    return (*found[:place], Trial(own, outcome), *found[place:])


def robustness(problem: Problem, trials: Sequence[Trial]) -> dict[str, Any]:
    """Tell what the varied lips came to, for `robustness_text` to lay out."""
    own = own_name(problem)
    return {
        "own_lip": own,
        "lips": lips_rows(trials),
        "conclusions": [conclusion_row(c) for c in conclusions(trials, own)],
    }


def lip_bands(problem: Problem, trials: Sequence[Trial]) -> list[tuple[str, list[Outcome]]]:
    """What was varied alone, in words, with what came of it: the stiffness at the case's friction, and the friction."""
    own = own_name(problem)
    alike = own.rpartition(",")[2], own.partition(",")[0]
    stiffness = [t for t in trials if t.name.rpartition(",")[2] == alike[0]]
    friction = [t for t in trials if t.name.partition(",")[0] == alike[1]]
    low, high = (t.name.rpartition(" ")[2] for t in (friction[0], friction[-1]))
    named = ((f"stiffness halved to doubled{_missing(stiffness)}", stiffness),
             (f"friction {low} to {high}{_missing(friction)}", friction))  # fmt: skip
    return [(words, [t.outcome for t in some if t.outcome is not None]) for words, some in named]


def _missing(trials: Sequence[Trial]) -> str:
    """Say how many of the lips have no result."""
    lost = sum(trial.outcome is None for trial in trials)
    return f", {lost} of {len(trials)} lips without a result" if lost else ""


def counter(total: int, narrator: Narrator, word: str = "lip") -> Callable[[Trial], None]:
    """Tell each trial as it is finished, counted; ``word`` is what is counted."""
    done = 0

    def tell(trial: Trial) -> None:
        nonlocal done
        done += 1
        narrator.say(f"{word} {done}/{total}  {trial.name}: {_came_to(trial)}")

    return tell


def _came_to(trial: Trial) -> str:
    if isinstance(trial.result, Stopped):
        return f"{trial.result.kind}: {trial.result.reason}"
    m = trial.result.measures
    return f"peak {m.peak_pressure_kpa:.1f} kPa, {trial.result.solve_seconds:.1f} s"


def lips_rows(trials: Sequence[Trial]) -> list[dict[str, Any]]:
    """Every varied lip with its measures, or why it has none."""
    return [_lip_row(trial) for trial in trials]


def _lip_row(trial: Trial) -> dict[str, Any]:
    if isinstance(trial.result, Stopped):
        return {"name": trial.name, "status": trial.result.kind, "reason": trial.result.reason}
    measures = trial.result.measures
    return {"name": trial.name, "status": "converged", **measured(measures), "errors": errors_told(measures)}


def conclusion_row(conclusion: Conclusion) -> dict[str, Any]:
    """One conclusion with its count."""
    return {**asdict(conclusion), "holds_in": len(conclusion.holds), "of": conclusion.of,
            "survives": conclusion.survives}


def robustness_text(found: dict[str, Any]) -> str:
    """Lay out a robustness as a section of the table."""
    lines = ["", HEADING, *explanation(found["lips"])]
    for row in found["conclusions"]:
        lines += conclusion_lines(row)
    return "\n".join([*lines, *unsolved_lines(found["lips"])])


def explanation(lips: list[dict[str, Any]]) -> list[str]:
    """Say what was varied."""
    frictions = sorted({float(row["name"].rpartition(" ")[2]) for row in lips})
    factors = _listed([f"x{factor:g}" for factor in STIFFNESS_FACTORS])
    text = EXPLAINED.format(n=len(lips), factors=factors, frictions=_listed([f"{f:g}" for f in frictions]))
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="  ")


def _listed(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}"


def conclusion_lines(row: dict[str, Any]) -> list[str]:
    """One conclusion: the count, the words, the number and its range, and the lips in which it does not hold."""
    unit = f" {row['unit']}" if row["unit"] else ""
    own = "none in the case's own lip" if row["number"] is None else f"{row['number']:.4g}{unit}"
    parts = [f"{row['meaning']} {own}, over the lips {row['lowest']:.4g} to {row['highest']:.4g}{unit}"]
    for key, word in (("fails", "not in"), ("cannot_tell", "cannot tell in"), ("without_result", "no result in")):
        if 0 < len(row[key]) < row["of"]:
            parts.append(f"{word}: {', '.join(_short(name) for name in row[key])}")
    indent = " " * 10
    return [
        f"  {row['holds_in']} of {row['of']}  {row['words']}",
        *textwrap.wrap("; ".join(parts), WIDTH, initial_indent=indent, subsequent_indent=indent),
    ]


def _short(name: str) -> str:
    """``x0.5/0.05`` for stiffness x0.5, friction 0.05."""
    return name.removeprefix("stiffness ").replace(", friction ", "/")


def unsolved_lines(lips: list[dict[str, Any]]) -> list[str]:
    """Name each varied lip that has no result, and why."""
    indent = " " * 4
    return [
        line
        for row in lips
        if row["status"] != "converged"
        for line in textwrap.wrap(f"no result: {row['name']}: {row['reason']}", WIDTH, initial_indent="  ",
                                  subsequent_indent=indent)
    ]
