"""The result as JSON, schema 1: mm, N and kPa; null is a measure that does not apply."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

import numpy as np

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.exits import BadInput
from labrum.simulate.measures.catalogue import CATALOGUE, Measures
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import NotConverged

RESULT_SCHEMA = 1

CAUTIONS = (
    "An idealised model: a round, flat, layered lip on flat teeth, pressed straight on. Real lips, teeth and "
    "angles differ.",
    "The stiffness of a playing lip has not been measured; the library's is a calibration. Compare rims with "
    "each other, and see whether the order survives halving and doubling the stiffness.",
    "Not medical advice: no pressure here is a limit of safety or of comfort.",
)

# Short enough to stand below a figure.
FIGURE_NOTE = (
    "An idealised lip, its stiffness assumed and not measured: compare rims rather than trust one number."
)


LIBRARY_NOTE = (
    "The lip is the library's, an idealised one: its stiffness is a calibration, assumed and not measured. Compare "
    "rims rather than trust one number."
)
OWN_LAYERS_NOTE = "An idealised lip, its layers the case's own. Compare rims rather than trust one number."


def figure_note(case: Case) -> str:
    """What stands below a case's figures: what the lip's stiffness rests on."""
    return LIBRARY_NOTE if "lip" in case.presets else OWN_LAYERS_NOTE


def measured(measures: Measures) -> dict[str, float | bool | None]:
    """Every measure by its name, as plain numbers whatever kind the solver computed with."""
    return {name: _plain(getattr(measures, name)) for name in CATALOGUE}


def errors_told(measures: Measures) -> dict[str, float | None]:
    """The estimated error of every measure by its name, in its unit; None where there is none to tell."""
    return {name: _plain(error) for name, error in measures.errors.items()}


def written_error(error: float | None) -> str:
    """Write an estimated error to two digits, without an exponent where that is short; empty where there is none."""
    return "" if error is None else f"{float(f'{error:.2g}'):g}"


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value


def converged_result(
    case: Case, outcome: Outcome, robustness: dict[str, Any] | None = None
) -> dict[str, Any]:
    """Everything read off a converged solution, ready for `as_json`; ``robustness`` is added where asked for."""
    return {
        "schema": RESULT_SCHEMA,
        "title": case.problem.title,
        "status": "converged",
        **measured(outcome.measures),
        "errors": errors_told(outcome.measures),
        "force_n": outcome.force_n,
        "pressure_profile": outcome.pressure_profile.tolist(),
        "lip_surface": outcome.lip_surface.tolist(),
        "unknowns": outcome.unknowns,
        "newton_iterations": outcome.newton_iterations,
        "solve_seconds": outcome.solve_seconds,
        "largest_penetration_mm": outcome.largest_penetration_mm,
        "warnings": [*case.warnings, *outcome.warnings],
        "cautions": list(CAUTIONS),
        **({} if robustness is None else {"robustness": robustness}),
    }


def stopped_at(case: Case, force_n: float) -> str:
    """Say how far a press came, and of how much where its force was given."""
    whole = case.problem.load.known_force
    return f"stopped at {force_n:.2f} N" + ("" if whole is None else f" of {whole:g} N")


def unconverged_result(case: Case, stop: NotConverged) -> dict[str, Any]:
    """How far an unconverged run came: no measure among it, for there is none."""
    return {
        "schema": RESULT_SCHEMA,
        "title": case.problem.title,
        "status": "not converged",
        "force_n": case.problem.load.known_force,
        "force_reached_n": stop.force_reached,
        "cause": stop.cause,
        "advice": stop.advice,
        "warnings": list(case.warnings),
    }


def invalid_result(faults: tuple[CaseFault, ...]) -> dict[str, Any]:
    """Every fault of an invalid case."""
    rows = [{"file": f.file, "line": f.line, **asdict(f.fault)} for f in faults]
    return {"schema": RESULT_SCHEMA, "status": "invalid", "faults": rows}


def as_json(result: dict[str, Any]) -> str:
    """Write a result as one JSON object.

    Raises
    ------
    ValueError
        If a number is not finite: JSON has no word for it, and a measure that does not apply is null.
    """
    return json.dumps(result, allow_nan=False).replace("\x7f", "\\u007f")  # JSON lets DEL pass, terminals do not


def printed_faults(error: BadInput) -> None:
    """Print the faults of an invalid case as one JSON object, for whoever asked for JSON."""
    if isinstance(error, InvalidCase):
        print(as_json(invalid_result(error.faults)), flush=True)
