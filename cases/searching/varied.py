"""Whether the rim found differs in other lips too: from the rim begun from, or the one to be matched."""

from __future__ import annotations

from labrum.cases.case_file.reading import case_from_table
from labrum.cases.searching.goals import Goal
from labrum.cases.searching.plan import SearchPlan
from labrum.cases.searching.trials import Tried
from labrum.cases.solving.robust import (
    conclusion_lines,
    conclusion_row,
    counter,
    explanation,
    lips_rows,
    unsolved_lines,
)
from labrum.cases.solving.screen import Narrator
from labrum.cases.sweeping.settings import changed
from labrum.simulate.conclusions.rivals import Entrant, contested
from labrum.simulate.conclusions.robustness import Each, tried
from labrum.simulate.conclusions.varied_lips import own_name, varied_lips
from labrum.simulate.problem import Problem

FOUND, BEGUN_FROM, MATCHED = "the rim found", "the rim begun from", "the rim to be matched"


def survival_lines(plan: SearchPlan, goal: Goal, best: Tried, each: Each, narrator: Narrator) -> list[str]:
    """Solve both rims in the same varied lips; return a section that tells in how many the one has more of the goal."""
    assert best.case is not None
    name, rival = _rival(plan)
    both = best.case.problem, rival
    found, other = (_entrant(*one, both, each, narrator) for one in zip((FOUND, name), both, strict=True))
    lines = ["", f"  Does it hold in other lips: {FOUND} and {name}", *explanation(lips_rows(found.trials))]
    lines += [line for one in contested(found, other, goal.names) for line in conclusion_lines(conclusion_row(one))]
    unsolved = [(one.name, line.strip()) for one in (found, other) for line in unsolved_lines(lips_rows(one.trials))]
    return [*lines, *(f"  {who}, {line}" for who, line in unsolved)]


def _rival(plan: SearchPlan) -> tuple[str, Problem]:
    if plan.model is not None:
        return MATCHED, plan.model.case.problem
    return BEGUN_FROM, case_from_table(changed(plan.base.resolved, plan.settled), BEGUN_FROM).problem


def _entrant(name: str, problem: Problem, both: tuple[Problem, Problem], each: Each, narrator: Narrator) -> Entrant:
    lips = varied_lips(problem, both)
    narrator.say(f"solving {len(lips)} varied lips under {name}")
    return Entrant(name, tried(lips, each, counter(len(lips), narrator)), own_name(problem))
