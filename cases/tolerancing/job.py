"""The job of ``labrum tolerance``: solve the rims a drawing allows, tell how they spread and what matters most."""

from __future__ import annotations

import sys
import textwrap
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import read_case
from labrum.cases.dimensioning.traced_case import has_no_dimensions, in_dimensions
from labrum.cases.exits import DONE, PARTLY_FAILED, CannotDo
from labrum.cases.manner import USUAL, Manner
from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.solving.result import FIGURE_NOTE, written_error
from labrum.cases.solving.run_folder import free_name, try_new_folder, usual_stem, whole_or_gone
from labrum.cases.solving.screen import WIDTH, Narrator, cautions_text, show
from labrum.cases.sweeping.expansion import Member
from labrum.cases.sweeping.job import Means
from labrum.cases.sweeping.progress import Pace, closing_line
from labrum.cases.sweeping.runner import Row, missing, rows_of, solve_missing
from labrum.cases.tolerancing.loosest import Loosest, loosest
from labrum.cases.tolerancing.parameters import Parameter, lip_parameters, rim_parameters
from labrum.cases.tolerancing.shares import Shares, polynomial_fit, shares
from labrum.cases.tolerancing.spread import Design, at_places, design
from labrum.cases.workers.store import Store
from labrum.meshes.arrays import Floats
from labrum.reports.house_style.figure_data import Table, table
from labrum.reports.sweeps.findings import Spread
from labrum.simulate.measures.catalogue import CATALOGUE, GROUPS
from labrum.simulate.measures.declaration import Measure

PEAK = "peak_pressure_kpa"
THIS_MACHINE = Means()
LIP_POINTS = 16
SPREAD_WORDS = "low, high: nine in ten cases lie between; scatter: usual distance from the mean (standard deviation)."
SHARE_WORDS = (
    "The spread is counted as variance, the mean square of the departure from the mean. nearby: from the slopes at the "
    "nominal rim; alone: over the whole range of all tolerances, this one by itself (first-order Sobol index); in all: "
    "with what it does together with the others (total Sobol index)."
)
SCATTER_SHOWN = 0.3


@dataclass(frozen=True)
class ToleranceOrder:
    """What the command line asked for; ``store`` is None for a file named after the case, here."""

    place: str
    tolerance: str = "iso2768-m"
    single: tuple[str, ...] = ()
    keep_percent: float = 5.0
    points: int = 64
    thickness_percent: float = 15.0
    stiffness_percent: float = 30.0
    seed: int = 0
    store: Path | None = None
    out: Path | None = None
    means: Means = THIS_MACHINE
    manner: Manner = USUAL


@dataclass(frozen=True)
class Answer:
    """One cause of spread as solved: its design, the rows that have a result, and their places (n, d)."""

    name: str
    design: Design
    rows: tuple[Row, ...]
    places: Floats
    failed: int

    def values(self, measure: str) -> Floats | None:
        """One measure of every row, (n,); None where it does not apply."""
        values = [row.measures.get(measure) for row in self.rows]
        return None if None in values else np.array([float(v) for v in values if v is not None])


def run_tolerance(order: ToleranceOrder, narrator: Narrator) -> int:
    """Do the job and return its exit code: 5 where some rims within the tolerances have no result."""
    case = read_case(order.place)
    folder = order.out or free_name(Path("runs", f"{usual_stem(order.place)}-tolerance"))
    try_new_folder(folder, order.manner.force)
    if has_no_dimensions(case):
        found = in_dimensions(case, order.place)
        case = found.case
        narrator.say(f"{case.problem.title}: {found.words}")
    rim = rim_parameters(case, order.tolerance, order.single)
    lip = lip_parameters(order.thickness_percent, order.stiffness_percent)
    work = Work(case, _store(order), order, narrator)
    narrator.say(f"{case.problem.title}: " + ", ".join(f"{p.path[1]} ± {p.shown}" for p in (*rim, *lip)))
    answers = [work.answer("machining", rim, order.points)]
    if lip:
        answers.append(work.answer("what is not known of the lip", lip, LIP_POINTS))
    told = [shares(answer.places, _needed(answer)) for answer in answers]
    limit = work.loosest(answers[0])
    show(tolerance_report(case, order, answers, told, limit))
    narrator.say(cautions_text())
    _draw(case, answers, told, folder, order.manner.force, narrator)
    return PARTLY_FAILED if any(answer.failed for answer in answers) else DONE


@dataclass(frozen=True)
class Work:
    """Solves what is asked about one case, and keeps it."""

    case: Case
    store: Store
    order: ToleranceOrder
    narrator: Narrator

    def answer(self, name: str, parameters: Sequence[Parameter], points: int) -> Answer:
        """Solve the design over some parameters."""
        laid = design(self.case, parameters, points, self.order.seed, solver_identity())
        rows = self.solve(laid.members, name)
        needed = 1 + 2 * len(parameters)
        if not all(row.converged for row in rows[:needed]):
            bad = next(row for row in rows[:needed] if not row.converged)
            raise CannotDo(f"a rim at the end of its tolerance has no result: {bad.reason}")
        good = [number for number, row in enumerate(rows) if row.converged]
        kept = tuple(rows[number] for number in good)
        return Answer(name, laid, kept, laid.places[good], len(rows) - len(good))

    def solve(self, members: Sequence[Member], name: str) -> list[Row]:
        """Solve what is missing of some cases and return them all."""
        wanted = missing(rows_of(members, self.store))
        self.narrator.say(f"{name}: {len(members)} cases, {len(wanted)} to solve, kept in {self.store.path}")
        pace = Pace(sys.stderr, len(wanted), time.monotonic, self.order.manner.quiet)
        with closing_line(pace):
            solve_missing(wanted, solver_identity(), self.order.means.on(self.store), pace.finished)
        return rows_of(members, self.store)

    def loosest(self, answer: Answer) -> Loosest:
        """Find the loosest tolerances that keep the peak, by solved rims."""
        peaks = _needed(answer)

        def solve(places: Floats) -> Floats:
            laid = at_places(self.case, answer.design.parameters, places.round(6), solver_identity())
            rows = self.solve(laid.members, "the loosest tolerance")
            return np.array([float(row.measures.get(PEAK) or np.nan) for row in rows])

        points = max(16, self.order.points // 2)
        fit = polynomial_fit(answer.places, peaks)
        return loosest(fit, float(peaks[0]), self.order.keep_percent, solve, points, self.order.seed + 1)


def tolerance_report(
    case: Case, order: ToleranceOrder, answers: Sequence[Answer], told: Sequence[Shares], limit: Loosest
) -> str:
    """Lay out the spread of every measure for each cause, the shares of the peak's, and the loosest tolerance."""
    lines = [case.problem.title]
    for answer, share in zip(answers, told, strict=True):
        lines += ["", *_spread_lines(answer), "", *_share_lines(answer, share)]
    return "\n".join([*lines, "", *_limit_lines(order, answers[0], limit)])


def _spread_lines(answer: Answer) -> list[str]:
    failed = f", {answer.failed} more without a result" if answer.failed else ""
    count = len(_needed(answer)[_sampled(answer)])
    lines = [f"{answer.name}: {count} cases within what is allowed{failed}"]
    lines.append(f"  {'measure':<24}{'nominal':>10}{'low':>10}{'high':>10}{'scatter':>11}  nominal +-")
    for _, entries in GROUPS:
        for entry in entries:
            values = answer.values(entry.name)
            if values is None:
                continue
            if entry.fact:
                lines.append(f"  {entry.label:<24}in {np.mean(values[_sampled(answer)]):.0%} of the cases")
            else:
                error = written_error(answer.rows[0].errors.get(entry.name))
                lines.append(_spread_line(entry, values[0], values[_sampled(answer)], error))
    return [*lines, *_explained(SPREAD_WORDS)]


def _explained(words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, initial_indent="  ", subsequent_indent="  ")


def _spread_line(entry: Measure, nominal: float, values: Floats, error: str) -> str:
    low, high = np.quantile(values, (0.05, 0.95))
    numbers = f"{nominal:>10.4g}{low:>10.4g}{high:>10.4g}{float(np.std(values)):>11.2g}"
    return f"  {entry.label:<24}{numbers}  {f'+-{error}' if error else '':<10} {entry.unit}".rstrip()


def _share_lines(answer: Answer, share: Shares) -> list[str]:
    lines = [f"  what the peak's spread comes from {'':<6}{'nearby':>10}{'alone':>8}{'in all':>8}"]
    for place in np.argsort(-share.single):
        parameter = answer.design.parameters[place]
        numbers = f"{share.by_slopes[place]:>10.0%}{share.single[place]:>8.0%}{share.total[place]:>8.0%}"
        lines.append(f"    {parameter.name:<26} ± {parameter.shown:<9}{numbers}")
    verdict = "the two agree" if share.gap < 0.15 else "the two differ: the peak bends within the tolerances"
    lines.append(f"  {verdict} (greatest difference {share.gap:.0%})")
    lines.append(f"  the curve through the cases, behind the last two, misses {share.unexplained:.0%} of the spread")
    if share.unexplained > SCATTER_SHOWN:
        lines.append("  much of that may be the solver's own scatter: a smaller accuracy.peak_pressure_percent tells")
    return [*lines, *_explained(SHARE_WORDS)]


def _limit_lines(order: ToleranceOrder, answer: Answer, limit: Loosest) -> list[str]:
    if not limit.holds:
        return [f"no factor found that keeps the peak within {order.keep_percent:g} % (last tried {limit.factor:.2g})"]
    more = " (and looser ones may do)" if limit.is_most else ""
    lines = [
        f"all tolerances times {limit.factor:.2f} keep the peak within {order.keep_percent:g} % of the nominal: "
        f"{limit.share:.0%} of {limit.solved} solved rims{more}"
    ]
    for parameter in answer.design.parameters:
        size, _, unit = parameter.shown.partition(" ")
        lines.append(f"    {parameter.name:<26} ± {limit.factor * float(size):.3g} {unit}")
    return lines


def _sampled(answer: Answer) -> slice:
    return answer.design.sampled if len(answer.places) > answer.design.sampled.start else slice(None)


def _needed(answer: Answer) -> Floats:
    values = answer.values(PEAK)
    assert values is not None  # every converged case has a peak
    return values


def _store(order: ToleranceOrder) -> Store:
    return Store.at(order.store or Path(f"{usual_stem(order.place)}-tolerance.sqlite"))


def _draw(
    case: Case, answers: Sequence[Answer], told: Sequence[Shares], folder: Path, force: bool, narrator: Narrator
) -> None:
    from labrum.reports.house_style.saving import save  # loads the plotting library
    from labrum.reports.sweeps.tolerance import tolerance_figure

    spreads = [
        Spread(answer.name, _needed(answer)[_sampled(answer)], [p.path[1].replace("_mm", "").replace("_", " ")
               for p in answer.design.parameters], share.by_slopes, share.single)
        for answer, share in zip(answers, told, strict=True)
    ]  # fmt: skip
    nominal = float(_needed(answers[0])[0])
    title = f"{case.problem.title}: tolerances"
    figure = tolerance_figure(spreads, nominal, CATALOGUE[PEAK].axis_label, title, FIGURE_NOTE)
    with whole_or_gone(folder, force) as kept:
        paths = save(figure, _numbers(answers, told), kept.folder.place, "tolerance")
    for path in paths:
        narrator.say(f"written: {kept.at / path.name}")


def _numbers(answers: Sequence[Answer], told: Sequence[Shares]) -> Table:
    pairs = [(a, s, i) for a, s in zip(answers, told, strict=True) for i in range(len(a.design.parameters))]
    return table(
        cause=[answer.name for answer, _, _ in pairs],
        parameter=[answer.design.parameters[place].name for answer, _, place in pairs],
        half=[answer.design.parameters[place].half for answer, _, place in pairs],
        share_by_slopes=[share.by_slopes[place] for _, share, place in pairs],
        share_sobol=[share.single[place] for _, share, place in pairs],
        share_sobol_total=[share.total[place] for _, share, place in pairs],
    )
