"""The job of ``labrum search``: find the rim, tell what holds it back, and write it as a case."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from labrum.cases.case_file.toml_writer import case_text
from labrum.cases.exits import DONE, NOT_CONVERGED, PARTLY_FAILED, CannotDo
from labrum.cases.manner import USUAL, Manner
from labrum.cases.searching.costs import Costs, costs_at
from labrum.cases.searching.goals import Extreme, Goal, Likeness, number
from labrum.cases.searching.methods import search_from
from labrum.cases.searching.plan import SearchPlan, read_search
from labrum.cases.searching.trials import Trials, Tried
from labrum.cases.searching.varied import survival_lines
from labrum.cases.solving.fingerprint import case_key, solver_identity
from labrum.cases.solving.result import written_error
from labrum.cases.solving.run_folder import free_name, try_new_folder, usual_stem, whole_or_gone
from labrum.cases.solving.screen import Narrator, cautions_text, show
from labrum.cases.sweeping.job import store_path
from labrum.cases.sweeping.runner import task_of
from labrum.cases.sweeping.warm_start import NearSolver
from labrum.cases.workers.aloud import solver_told
from labrum.cases.workers.each import solve_each
from labrum.cases.workers.store import LOST, Store
from labrum.cases.workers.task import Solver, solved
from labrum.simulate.conclusions.measure_errors import clear
from labrum.simulate.measures.catalogue import CATALOGUE


@dataclass(frozen=True)
class SearchOrder:
    """What the command line asked for; ``store`` is None for the file beside the plan.

    ``robust`` puts the rim found to the test of other lips. ``workers`` processes (0: one a processor) solve what does
    not wait for what came before: the rims spread out at first, the best one's neighbours, the other lips.
    """

    plan: Path
    store: Path | None = None
    out: Path | None = None
    robust: bool = False
    workers: int = 1
    solver: Solver = field(default_factory=NearSolver)
    manner: Manner = USUAL


def run_search(order: SearchOrder, narrator: Narrator) -> int:
    """Do the job and return its exit code: 5 where no rim keeps every limit, 4 where none could be solved."""
    plan = read_search(order.plan)
    folder = order.out or free_name(Path("runs", f"{usual_stem(str(order.plan))}-found"))
    try_new_folder(folder, order.manner.force)
    if plan.remark:
        narrator.say(f"{plan.title}: {plan.remark}")
    store = Store.at(store_path(order.plan, order.store))
    solver = solver_told(order.manner, order.solver)
    goal = _goal(plan, store, solver, narrator)
    trials = Trials(
        plan, goal, store, solver_identity(), solver, _teller(narrator), plan.effort.solves, workers=order.workers
    )
    narrator.say(f"{plan.title}: {goal.words()}; at most {plan.effort.solves} rims, kept in {store.path}")
    search_from(trials)
    best = trials.best()
    if best is None:
        reasons = {trial.reason for trial in trials.tried.values()}
        narrator.tell(f"labrum: none of {len(trials.tried)} rims could be solved: {'; '.join(sorted(reasons))}")
        return NOT_CONVERGED
    effort = f"{len(trials.tried)} rims tried, {trials.fresh} solved now, the rest kept before"
    costs = None
    if best.good and isinstance(goal, Extreme):
        narrator.say("what the limits cost: the neighbours of the best")
        trials.most = len(trials.tried) + 2 * len(plan.spans)
        costs = costs_at(trials, best)
        best = trials.best() or best  # a neighbour may be better still
        effort += _as_good(goal.measure, best, trials.tried.values())
    each = partial(solve_each, workers=order.workers, solver=solver)
    survival = survival_lines(plan, goal, best, each, narrator) if order.robust else []
    show("\n".join([search_report(plan, goal, best, costs, effort), *survival]))
    narrator.say(cautions_text())
    assert best.case is not None
    with whole_or_gone(folder, order.manner.force) as kept:
        kept.folder.write("rim.toml", case_text(best.case.resolved, f"{plan.title}: the rim found"))
    narrator.say(f"written: {kept.at / 'rim.toml'}, a case to be opened with labrum solve")
    return DONE if best.good else PARTLY_FAILED


def search_report(plan: SearchPlan, goal: Goal, best: Tried, costs: Costs | None, effort: str) -> str:
    """Lay out the rim found, its measures and what holds it back."""
    verdict = "the best rim within every limit" if best.good else "no rim keeps every limit; this one comes nearest"
    lines = [plan.title, f"  {verdict}: {goal.words()}", f"  {effort}", ""]
    lines += [f"  {name:<32}{value:>10.5g}" for name, value in best.settings.items()]
    lines += ["", *_measures(goal, plan, best), *_costs(plan, goal, costs)]
    return "\n".join(lines)


def _as_good(measure: str, best: Tried, tried: Iterable[Tried]) -> str:
    """Say how many other rims within every limit the errors do not tell from the best."""
    rivals = [trial for trial in tried if trial.good and trial is not best]
    alike = [trial for trial in rivals if not clear(*((number(t.measures, measure), t.errors.get(measure) or 0.0)
             for t in (best, trial)))]  # fmt: skip
    return f"; {len(alike)} of them cannot be told from the best by {measure}, within the errors" if alike else ""


def _measures(goal: Goal, plan: SearchPlan, best: Tried) -> list[str]:
    names = dict.fromkeys([*goal.names, *(bound.measure for bound in plan.bounds)])
    asked = {bound.measure: bound.words() for bound in plan.bounds}
    lines = []
    for name in names:
        target = f"wanted {goal.targets[name]:.5g}" if isinstance(goal, Likeness) and name in goal.targets else ""
        error = written_error(best.errors.get(name))
        told = f"{number(best.measures, name):>10.5g} {f'+-{error}' if error else '':<10}"
        lines.append(f"  {name:<32}{told} {target or asked.get(name, '')}".rstrip())
    return lines


def _costs(plan: SearchPlan, goal: Goal, costs: Costs | None) -> list[str]:
    if costs is None or not isinstance(goal, Extreme):
        return []
    if not costs.reached:
        return ["", "  no limit is reached: the best lies between them"]
    unit = CATALOGUE[goal.measure].unit
    lines = ["", "  limits reached, and what a little more room would be worth"]
    for cost in costs.reached:
        step = _step(cost.unit)
        lines.append(f"  {cost.limit:<40}{step * cost.gain:8.3g} {unit} of {goal.measure} for {step:g} more")
    if costs.unexplained > 0.3:
        lines.append("  (the slopes do not balance well here: take these worths as rough)")
    return lines


def _step(name: str) -> float:
    """A little room, in the unit of a measure or a dimension: a tenth of a millimetre, a kilopascal, a hundredth."""
    for ending, step in (("_mm", 0.1), ("_kpa", 1.0), ("_mm2", 10.0), ("_mm3", 10.0), ("_n", 1.0), ("_deg", 1.0)):
        if name.endswith(ending):
            return step
    return 0.01


def _goal(plan: SearchPlan, store: Store, solver: Solver, narrator: Narrator) -> Goal:
    if plan.wanted is not None:
        return Extreme(*plan.wanted)
    assert plan.model is not None
    name = solver_identity()
    key = case_key(plan.model.case, name)
    result = store.find([key]).get(key)
    if result is None or result.status == LOST:
        narrator.say(f"solving the rim to be matched: {plan.model.case.problem.title}")
        result = solved(task_of(key, plan.model.case, name), solver)
        store.keep(result)
    if result.measures is None:
        raise CannotDo(f"the rim to be matched has no result: {result.reason}")
    missing = [name for name in plan.model.measures if not result.measures.get(name)]
    if missing:
        raise CannotDo(f"the rim to be matched has no {', '.join(missing)} to be compared with")
    return Likeness({name: number(result.measures, name) for name in plan.model.measures})


def _teller(narrator: Narrator) -> Callable[[Tried, int], None]:
    best = [math.inf]

    def tell(trial: Tried, count: int) -> None:
        if trial.good and trial.score is not None:
            best[0] = min(best[0], trial.score)
        settings = ", ".join(f"{name.partition('.')[2]} {value:g}" for name, value in trial.settings.items())
        score = trial.reason if trial.score is None else f"{trial.score:.5g}{'' if trial.good else ' (breaks a limit)'}"
        narrator.say(f"{count:4d}  {settings}: {score}; best {best[0]:.5g}")

    return tell
