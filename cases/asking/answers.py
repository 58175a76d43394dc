"""The questions asked of a sweep: each shows a table, and writes a figure with its numbers beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from matplotlib.figure import Figure

from labrum.cases.asking.habits import habit
from labrum.cases.asking.held import held_words
from labrum.cases.asking.interpolation import by_process, linear
from labrum.cases.asking.limits import limit_of
from labrum.cases.asking.mapping import measure_map
from labrum.cases.asking.selection import (
    axis_words,
    conditions,
    entry_of,
    fixed,
    groups,
    measure_of,
    numeric,
    numeric_names,
    only_group,
)
from labrum.cases.asking.trade_off import aimed, aims_of, best
from labrum.cases.asking.wide_enough import DEFAULTS, SHORTENING, WIDTH_KEY, Criteria, bands
from labrum.cases.case_file.toml_writer import case_text
from labrum.cases.drawing import AS_DRAWN, Drawn
from labrum.cases.exits import DONE, CannotDo
from labrum.cases.manner import USUAL, Manner
from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.solving.result import FIGURE_NOTE
from labrum.cases.solving.run_folder import free_name, try_new_folder, usual_stem, whole_or_gone
from labrum.cases.solving.screen import Narrator, show
from labrum.cases.sweeping.expansion import built
from labrum.cases.sweeping.job import read_rows
from labrum.cases.sweeping.plan import SweepPlan
from labrum.cases.sweeping.runner import Row
from labrum.reports.figures.off_axis import Steadiness, steadiness_figure, steadiness_table
from labrum.reports.house_style.figure_data import Table, table, write_csv
from labrum.reports.house_style.paper import laid_out
from labrum.reports.house_style.saving import save
from labrum.reports.house_style.style import SERIES
from labrum.reports.sweeps.bands import BandWords, band_figure, band_table, band_words, curve_table
from labrum.reports.sweeps.findings import TradeOff
from labrum.reports.sweeps.map import MapWords, map_figure, map_table
from labrum.reports.sweeps.trade_off import trade_off_figure
from labrum.simulate.measures.declaration import Measure

MOST_STEADY = len(SERIES)


@dataclass(frozen=True)
class Request:
    """What every question has: the plan, its store, what is fixed, where the figure goes and how it is drawn."""

    plan: Path
    store: Path | None = None
    at: tuple[str, ...] = ()
    out: Path | None = None
    drawn: Drawn = AS_DRAWN
    manner: Manner = USUAL


@dataclass(frozen=True)
class WideEnough:
    """The criteria asked for; None takes the benefit's default."""

    benefit: str = "peak_pressure_kpa"
    narrow: float | None = None
    wide: float | None = None
    per_shortening: float | None = None


def answer_wide_enough(asked: Request, how: WideEnough, narrator: Narrator) -> int:
    """Show the band of widths of each group, with the criteria it rests on."""
    plan, rows = _rows_for(asked, "wide-enough", narrator)
    if how.benefit not in DEFAULTS:
        raise CannotDo(f"--benefit {how.benefit}: one of {', '.join(DEFAULTS)}")
    if WIDTH_KEY not in [axis.name for axis in plan.axes]:
        raise CannotDo(f"{asked.plan} does not step through {WIDTH_KEY}: give it a list or a range with step")
    given = {name: getattr(how, name) for name in ("narrow", "wide", "per_shortening")}
    criteria = replace(DEFAULTS[how.benefit], **{name: v for name, v in given.items() if v is not None})
    criteria = replace(criteria, by_edge=how.narrow is None)
    if criteria.wide > criteria.narrow:
        raise CannotDo(f"--wide {criteria.wide:g} is more than --narrow {criteria.narrow:g}")
    kept = fixed(plan, rows, asked.at)
    curves = bands(groups(kept, [WIDTH_KEY]), criteria)
    entry = entry_of(how.benefit)
    numbers = band_table(curves)
    show(shown_table(f"{plan.title}: how wide is wide enough", numbers))
    show("\n".join(["", *(f"  {curve.label or 'all'}: {band_words(curve)}" for curve in curves)]))
    by_edge = all(curve.edge is not None for curve in curves)
    narrator.say(_rests_on(criteria, entry, by_edge))
    if all(curve.shortening is None for curve in curves):
        narrator.say(f"the muscle is at rest in every case, so {SHORTENING} is not counted: set load.muscle_activation")
    words = BandWords(entry.axis_label, entry.typeset_unit, None if by_edge else criteria.narrow, criteria.wide)
    with laid_out(asked.drawn.size()):
        figure = band_figure(curves, words, f"{plan.title}: wide enough", _note(plan, kept))
    write_answer(asked, "wide-enough", figure, numbers, narrator,
                 lambda folder: write_csv(curve_table(curves), folder / "wide-enough-curves.csv"))  # fmt: skip
    return DONE


def _rests_on(criteria: Criteria, benefit: Measure, by_edge: bool) -> str:
    worth = f"0.1 mm more is worth {criteria.narrow:g} {benefit.unit} of {benefit.label} or more"
    narrow = "the peak stands on the rim's edges (edge to crown above 1)" if by_edge else worth
    return (
        f"too narrow: {narrow}; too wide: 0.1 mm more is worth less than {criteria.wide:g} {benefit.unit} of "
        f"{benefit.label}, the muscle's shortening it takes counted at {criteria.per_shortening:g} {benefit.unit} per "
        "0.01. In brackets: the end's doubt from the discretisation error."
    )


@dataclass(frozen=True)
class MapOf:
    """What is mapped over which two dimensions, which rims are acceptable, and whose habits are drawn."""

    across: str
    up: str
    measure: str
    accept: tuple[str, ...] = ()
    habits: str = ""
    surrogate: bool = False


def answer_map(asked: Request, how: MapOf, narrator: Narrator) -> int:
    """Show a map of one measure over two of the keys varied."""
    plan, rows = _rows_for(asked, "map", narrator)
    entry, limits = entry_of(how.measure), [limit_of(text) for text in how.accept]
    kept = fixed(plan, rows, asked.at)
    for name in (how.across, how.up):
        numeric(plan, kept, name)  # a wrong axis should be heard of before what else varies
    chosen = only_group(kept, [how.across, how.up])
    reader = by_process if how.surrogate else linear
    drawn = measure_map(plan, chosen, (how.across, how.up), how.measure, limits, reader)
    kind, usual = habit(how.habits, plan.base.resolved["rim"].get("inner_diameter_mm"))
    words = MapWords(
        axis_words(how.across), axis_words(how.up), entry.axis_label, [str(lim) for lim in limits],
        "" if kind == "none" else kind, usual.get(how.across), usual.get(how.up), entry.typeset_unit,
    )  # fmt: skip
    with laid_out(asked.drawn.size()):
        figure = map_figure(drawn, words, f"{plan.title}: {entry.label}", _note(plan, chosen))
    numbers = map_table(drawn, (how.across, how.up, how.measure))
    show(shown_table(f"{plan.title}: {entry.label}", numbers))
    if drawn.error is not None:
        off = f"{drawn.error:.3g} {entry.unit}"
        guess = "between solved cases a smooth guess (Gaussian process)"
        narrator.say(f"{guess}, off by {off} where it guesses a solved one")
    if drawn.slack is not None:
        share = 100 * float((drawn.slack >= 0).mean())
        narrator.say(f"{share:.0f} % of the map is acceptable: {', '.join(words.limits)}")
    write_answer(asked, "map", figure, numbers, narrator)
    return DONE


def answer_trade_off(asked: Request, aims: tuple[str, ...], narrator: Narrator) -> int:
    """Show the rims that no other beats, and write each as a case."""
    plan, rows = _rows_for(asked, "trade-off", narrator)
    rims = [name for name in plan.names if name not in conditions(plan)]
    chosen = only_group(fixed(plan, rows, asked.at), rims)
    wanted = aims_of(aims, chosen)
    values = aimed(chosen, wanted)
    order = sorted(best(values, wanted), key=lambda place: tuple(values[place]))
    entries = [entry_of(aim.measure) for aim in wanted]
    names = [f"{entry.axis_label}: {aim.wanted} is wanted" for entry, aim in zip(entries, wanted, strict=True)]
    drawn = TradeOff(values, order, names, tuple(not entry.interval for entry in entries))
    with laid_out(asked.drawn.size()):
        figure = trade_off_figure(drawn, f"{plan.title}: trade-off", _note(plan, chosen))
    numbers = _front_table([chosen[place] for place in order], rims, [aim.measure for aim in wanted])
    show(shown_table(f"{plan.title}: {len(order)} of {len(chosen)} rims are beaten by none", numbers))
    write_answer(asked, "trade-off", figure, numbers, narrator,
                 lambda folder: _write_rims(plan, [chosen[place] for place in order], folder))  # fmt: skip
    narrator.say(f"written: rim-01.toml to rim-{len(order):02d}.toml, cases to be opened with labrum solve")
    return DONE


def _write_rims(plan: SweepPlan, rows: Sequence[Row], folder: Path) -> None:
    for number, row in enumerate(rows, 1):
        case = built(plan, row.member, solver_identity()).case
        assert case is not None  # it has been solved
        text = case_text(case.resolved, f"{plan.title}, trade-off rim {number}")
        (folder / f"rim-{number:02d}.toml").write_text(text, encoding="utf-8")


@dataclass(frozen=True)
class Steady:
    """Which stiffness off the axis is drawn over which key; None over the first of the rim's that has numbers."""

    across: str | None = None
    measure: str = "rocking_stiffness_nmm_per_deg"


def answer_steadiness(asked: Request, how: Steady, narrator: Narrator) -> int:
    """Show how steady rims are against one of their dimensions, a line for each of whatever else varies."""
    plan, rows = _rows_for(asked, "steadiness", narrator)
    kept, entry = fixed(plan, rows, asked.at), entry_of(how.measure)
    across = how.across or next((n for n in numeric_names(plan, kept) if n.startswith("rim.")), "")
    if not across:
        raise CannotDo(f"{asked.plan} varies no dimension of the rim by numbers")
    numeric(plan, kept, across)  # a wrong axis should be heard of before what is not there to draw
    lines = [_steadiness(group.label or "all", group.rows, across, how.measure) for group in groups(kept, [across])]
    if not any(line.stiffness for line in lines):
        raise CannotDo(f"no case has {how.measure}: it takes [off_axis] in the case, and without friction an even lip "
                       "resists no shift")
    if len(lines) > MOST_STEADY:
        raise CannotDo(f"{len(lines)} lines are too many to tell apart, allowed {MOST_STEADY}: fix some keys by --at")
    title = f"{plan.title}: {entry.label}"
    with laid_out(asked.drawn.size()):
        figure = steadiness_figure(lines, axis_words(across), entry.axis_label, title, _note(plan, kept))
    numbers = steadiness_table(lines)
    show(shown_table(f"{plan.title}: {entry.label} ({entry.unit}) over {across}", numbers))
    write_answer(asked, "steadiness", figure, numbers, narrator)
    return DONE


def _steadiness(label: str, rows: Sequence[Row], across: str, measure: str) -> Steadiness:
    found = sorted((float(row.member.settings[across]), value) for row in rows
                   if (value := measure_of(row, measure)) is not None)
    return Steadiness(label, [place for place, _ in found], [value for _, value in found])


def _note(plan: SweepPlan, rows: Sequence[Row]) -> str:
    """What every figure of a sweep says below it: what it rests on, and the caution."""
    return f"{held_words(plan, rows)} {FIGURE_NOTE}"


def _front_table(rows: Sequence[Row], rims: Sequence[str], measures: Sequence[str]) -> Table:
    columns: dict[str, list[float | str]] = {"rim": [f"{number:02d}" for number in range(1, len(rows) + 1)]}
    for name in rims:
        columns[name] = [row.member.settings[name] for row in rows]
    for name in measures:
        columns[name] = [value for row in rows if (value := measure_of(row, name)) is not None]
    return table(**columns)


def _rows_for(asked: Request, name: str, narrator: Narrator) -> tuple[SweepPlan, list[Row]]:
    """Read what is kept, once the answer is known to have somewhere to stand."""
    found = read_rows(asked.plan, asked.store, narrator)
    try_new_folder(_folder(asked, name), asked.manner.force)
    return found


def _folder(asked: Request, name: str) -> Path:
    return asked.out or free_name(Path("runs", f"{usual_stem(str(asked.plan))}-{name}"))


def write_answer(
    asked: Request, name: str, figure: Figure, numbers: Table, narrator: Narrator,
    more: Callable[[Path], object] = lambda folder: None,
) -> None:  # fmt: skip
    """Write the figure and its numbers to a folder of its own; ``more`` is given that folder to write into as well."""
    with whole_or_gone(_folder(asked, name), asked.manner.force) as kept:
        paths = save(figure, numbers, kept.folder.place, name, size=asked.drawn.size())
        more(kept.folder.place)
    for path in paths:
        narrator.say(f"written: {kept.at / path.name}")


def shown_table(title: str, table: Table) -> str:
    """Lay a table out for a terminal."""
    cells = [list(table.columns), *([_cell(value) for value in row] for row in table.rows)]
    wide = [max(len(row[place]) for row in cells) for place in range(len(table.columns))]
    return "\n".join([title, *("  " + _line(row, wide) for row in cells)])


def _line(row: Sequence[str], wide: Sequence[int]) -> str:
    return "  ".join(cell.ljust(width) for cell, width in zip(row, wide, strict=True)).rstrip()


def _cell(value: float | int | str) -> str:
    return f"{value:.5g}" if isinstance(value, float) else str(value)
