"""What the shop's tolerances do to the peak, and which dimension matters most: each pressed at both its ends."""

from __future__ import annotations

import numpy as np

from labrum.cases.case_file.building import Case
from labrum.cases.exits import CannotDo
from labrum.cases.exploring.asks.answer import Files, FurtherAnswer, PageTable, Tell, counted, rows_of_cells
from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.sweeping.runner import task_of
from labrum.cases.sweeping.warm_start import NearSolver
from labrum.cases.tolerancing.parameters import KINDS, Parameter, rim_parameters
from labrum.cases.tolerancing.spread import design
from labrum.cases.workers.task import solved
from labrum.meshes.arrays import Floats

PEAK = "peak_pressure_kpa"
GENERAL, FINE_MM = "iso2768-m", 0.05
SMALLEST_GENERAL_MM = 0.5  # below, the standard wants the tolerance beside the dimension


def what_tolerances_do(case: Case, files: Files, tell: Tell) -> FurtherAnswer:
    """Press the rim with each dimension at both ends of its tolerance.

    Raises
    ------
    CannotDo
        For an outline, which has no dimensions, or where a rim within its tolerances has no result.
    """
    parameters = rim_parameters(case, GENERAL, _own(case))
    peaks, error = _peaks(case, parameters, tell)
    low, high = peaks[1::2] - peaks[0], peaks[2::2] - peaks[0]
    worst = np.maximum(np.abs(low), np.abs(high))
    order = np.argsort(-worst)
    rows = [(_label(parameters[k]), f"± {parameters[k].shown}", f"{low[k]:+.2f}", f"{high[k]:+.2f}") for k in order]
    first, together = parameters[order[0]], float(np.sqrt(np.sum((0.5 * (high - low)) ** 2) / 3.0))
    words = (
        f"{_label(first)} matters most: within ± {first.shown} the peak moves by up to {worst[order[0]]:.1f} kPa "
        f"of {peaks[0]:.1f}.",
        f"All together, each anywhere within its tolerance, the peak's standard deviation is about {together:.1f} kPa "
        "in a straight line.",
        f"Tolerances: ISO 2768-m, and ± {FINE_MM:g} mm for dimensions under {SMALLEST_GENERAL_MM:g} mm. "
        f"A single peak is good to {error:.1f} %.",
    )
    head = ("dimension", "tolerance", "peak at its lower end, kPa", "at its upper end, kPa")
    table = PageTable("What each dimension's tolerance does to the peak", head, rows_of_cells(rows))
    return FurtherAnswer(words, (table,))


def _own(case: Case) -> list[str]:
    rim = case.resolved["rim"]
    small = [name for name, kind in KINDS.items() if kind == "radius" and _is_small(rim.get(name))]
    return [f"{name}={FINE_MM:g}mm" for name in small]


def _is_small(size: object) -> bool:
    return isinstance(size, float) and size < SMALLEST_GENERAL_MM


def _peaks(case: Case, parameters: list[Parameter], tell: Tell) -> tuple[Floats, float]:
    """Peaks of the nominal and of each pair of ends, kPa, and the largest estimated error, per cent."""
    solver, near = solver_identity(), NearSolver()
    members, found = design(case, parameters, 0, 0, solver).members, []
    for number, member in enumerate(members):
        counted(tell, number, len(members), "rims pressed")
        kept = None if member.case is None else solved(task_of(member.key, member.case, solver), near)
        if kept is None or kept.measures is None:
            why = member.reason if kept is None else kept.reason
            raise CannotDo(f"a rim at the end of its tolerance has no result: {why}")
        found.append((float(kept.measures[PEAK] or 0.0), float(kept.measures["peak_pressure_error_percent"] or 0.0)))
    both = np.array(found)
    return both[:, 0], float(both[:, 1].max())


def _label(parameter: Parameter) -> str:
    return parameter.path[1].removesuffix("_mm").replace("_", " ").capitalize()
