"""How wide is wide enough, asked of the rim on the page: widths about its own, all else held."""

from __future__ import annotations

from math import inf, isfinite

from labrum.cases.asking.selection import Group, measure_of
from labrum.cases.asking.wide_enough import DEFAULTS, WIDTH_KEY, bands
from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.cases.exits import CannotDo
from labrum.cases.exploring.asks.answer import Files, FurtherAnswer, PageTable, Tell, counted, rows_of_cells
from labrum.cases.solving.fingerprint import case_key, solver_identity
from labrum.cases.sweeping.expansion import Member
from labrum.cases.sweeping.runner import Row, task_of
from labrum.cases.sweeping.settings import Change, changed
from labrum.cases.sweeping.warm_start import NearSolver
from labrum.cases.workers.task import solved
from labrum.reports.sweeps.bands import written_end
from labrum.reports.sweeps.findings import BandCurve, BandEnd

EITHER_SIDE, STEP_MM, LEAST_MM = 6, 0.3, 1.5
SHOWN = ("peak_pressure_kpa", "edge_to_crown_pressure", "bearing_area_mm2", "muscle_shortening_ratio")
HEADS = ("width, mm", "peak, kPa", "edge to crown", "bearing area, mm²", "muscle's shortening")


def how_wide(case: Case, files: Files, tell: Tell) -> FurtherAnswer:
    """Press the rim at widths about its own and tell the band between too narrow and too wide.

    Raises
    ------
    CannotDo
        For a rim without a width of its own, or where too few widths have a result.
    """
    if "width_mm" not in case.resolved["rim"]:
        raise CannotDo("this rim is an outline: it has no width to change. Use dimensions instead")
    rows = _pressed(case, tell)
    (curve,) = bands([Group("", tuple(row for row in rows if row.converged))], DEFAULTS["peak_pressure_kpa"])
    own = float(case.resolved["rim"]["width_mm"])
    table = PageTable("The same rim at other widths, all else held", HEADS, rows_of_cells([_numbers(r) for r in rows]))
    return FurtherAnswer((_verdict(own, curve), *_ends(curve)), (table,))


def _pressed(case: Case, tell: Tell) -> list[Row]:
    own, solver, near = float(case.resolved["rim"]["width_mm"]), solver_identity(), NearSolver()
    widths = [round(own + k * STEP_MM, 3) for k in range(-EITHER_SIDE, EITHER_SIDE + 1)]
    widths = [width for width in widths if width >= LEAST_MM]
    rows = []
    for number, width in enumerate(widths, 1):
        counted(tell, number - 1, len(widths), "widths pressed")
        try:
            made = case_from_table(changed(case.resolved, (Change(("rim", "width_mm"), width),)), f"width {width:g}")
        except InvalidCase as error:
            rows.append(Row(Member(number, {WIDTH_KEY: width}, None, "", str(error.faults[0])), None))
            continue
        member = Member(number, {WIDTH_KEY: width}, made, case_key(made, solver), "")
        rows.append(Row(member, solved(task_of(member.key, made, solver), near)))
    return rows


def _numbers(row: Row) -> list[object]:
    values = [measure_of(row, name) for name in SHOWN]
    width = float(row.member.settings[WIDTH_KEY])
    if not row.converged:
        return [width, row.reason or row.status, *[""] * (len(SHOWN) - 1)]
    return [width, *("does not apply" if value is None else value for value in values)]


def _verdict(own: float, curve: BandCurve) -> str:
    narrow, wide = curve.narrow.best, curve.wide.best
    if curve.about is not None:
        narrow, wide = curve.about.low, curve.about.high
        if narrow <= own <= wide:
            return f"{own:g} mm is about wide enough: from {narrow:.1f} to {wide:.1f} mm no band can be told."
    if own < narrow:
        more = f": {narrow - own:.1f} mm more take the peak off its edges" if isfinite(narrow) else ""
        return f"{own:g} mm is too narrow for this lip under this force{more}."
    if own > wide:
        return f"{own:g} mm is wider than pays: more width hardly lowers the peak any further."
    beyond = "" if wide == inf else f", up to {wide:.1f} mm"
    return f"{own:g} mm is wide enough; more still pays{beyond}."


def _ends(curve: BandCurve) -> tuple[str, str]:
    return (
        f"Too narrow: {_where(curve.narrow, curve, 'below')}, where the peak stands on the rim's edges.",
        f"Too wide: {_where(curve.wide, curve, 'above')}, where 0.1 mm more lowers the peak by less than "
        f"{DEFAULTS['peak_pressure_kpa'].wide:g} kPa.",
    )


def _where(end: BandEnd, curve: BandCurve, side: str) -> str:
    """Say on which side of an end; or that all or none of the widths that can be judged lie there."""
    if isfinite(end.best):
        return f"{side} {written_end(end, curve)} mm"
    whole = (end.best > 0) == (side == "below")
    return f"{'all' if whole else 'none'} from {curve.where[0]:.2f} to {curve.where[-1]:.2f} mm"
