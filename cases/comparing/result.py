"""What comes of comparing rims: every number, what differs besides the rims, and every pair's conclusions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.comparing.hold import Hold
from labrum.cases.comparing.holding import said
from labrum.cases.solving.result import CAUTIONS, RESULT_SCHEMA, errors_told, measured
from labrum.cases.solving.robust import conclusion_row, lips_rows
from labrum.simulate.conclusions.rivals import Entrant, pairings
from labrum.simulate.conclusions.robustness import Result, Stopped, Trial
from labrum.simulate.conclusions.varied_lips import own_name
from labrum.simulate.outcome import Outcome


@dataclass(frozen=True)
class Compared:
    """A case, what it is called, and what came of it in its own lip and, where asked for, in the varied ones."""

    name: str
    case: Case
    trials: tuple[Trial, ...]

    @property
    def result(self) -> Result:
        """What came of the case in its own lip."""
        own = own_name(self.case.problem)
        return next(trial.result for trial in self.trials if trial.name == own)

    @property
    def outcome(self) -> Outcome | None:
        """The outcome in its own lip; None where there is none."""
        return None if isinstance(self.result, Stopped) else self.result


def comparison_result(compared: Sequence[Compared], robust: bool, hold: Hold | None = None) -> dict[str, Any]:
    """Everything read off the comparison, ready for `labrum.cases.solving.result.as_json`.

    ``hold`` is what was the same for every rim, and is told where there is such.
    """
    first = compared[0].outcome
    held = {"hold": hold.value, "held": said(hold, first)} if hold and first else {}
    stopped = any(rim.outcome is None for rim in compared)
    return {
        "schema": RESULT_SCHEMA,
        "status": "not converged" if stopped else "converged",
        **held,
        "rims": [_rim_row(rim, robust) for rim in compared],
        "warnings": warnings(compared),
        "pairs": [
            {
                "first": pair.first,
                "second": pair.second,
                "conclusions": [conclusion_row(conclusion) for conclusion in pair.conclusions],
            }
            for pair in pairings([_entrant(rim) for rim in compared])
        ],
        "cautions": list(CAUTIONS),
    }


def _rim_row(rim: Compared, robust: bool) -> dict[str, Any]:
    row: dict[str, Any] = {"name": rim.name, "title": rim.case.problem.title}
    if isinstance(rim.result, Stopped):
        row |= {"status": rim.result.kind, "reason": rim.result.reason}
    else:
        row |= {"status": "converged", **measured(rim.result.measures), "errors": errors_told(rim.result.measures)}
    row["force_n"] = rim.case.problem.load.known_force if rim.outcome is None else rim.outcome.force_n
    return row | ({"lips": lips_rows(rim.trials)} if robust else {})


def _entrant(rim: Compared) -> Entrant:
    return Entrant(rim.name, rim.trials, own_name(rim.case.problem))


def warnings(compared: Sequence[Compared]) -> list[str]:
    """What the cases and their outcomes ask to be looked at again, and what makes the comparison unlike."""
    solved = [f"{rim.name}: {text}" for rim in compared if rim.outcome for text in rim.outcome.warnings]
    return [*beforehand([rim.name for rim in compared], [rim.case for rim in compared]), *solved]


def beforehand(names: Sequence[str], cases: Sequence[Case]) -> list[str]:
    """What can be warned of before anything is solved."""
    read = [f"{name}: {text}" for name, case in zip(names, cases, strict=True) for text in case.warnings]
    return [*unlike(names, cases), *read]


def unlike(names: Sequence[str], cases: Sequence[Case]) -> list[str]:
    """What differs besides the rims: with anything here it is not rim against rim.

    Values are compared as they are solved, whether a library's name, a preset or the case itself gave them.
    """
    found = []
    for table in ("lip", "load"):
        rows = [_flat(case, table) for case in cases]
        differing = [key for key in dict.fromkeys(key for row in rows for key in row)
                     if len({row.get(key, "-") for row in rows}) > 1]  # fmt: skip
        if any(_of_layers(key) for key in differing) and all("lip" in case.presets for case in cases):
            rows = [{**row, "type": case.presets["lip"]} for row, case in zip(rows, cases, strict=True)]
            differing = ["type", *(key for key in differing if not _of_layers(key))]
        for key in differing:
            given = ", ".join(f"{name} {row.get(key, '-')}" for name, row in zip(names, rows, strict=True))
            found.append(f"not rim against rim: {table}.{key} differs: {given}")
    return found


def _of_layers(key: str) -> bool:
    return key.startswith("layer[")


def _flat(case: Case, table: str) -> dict[str, str]:
    """A table's values as text, a lip's layers by number."""
    flat: dict[str, str] = {}
    for key, value in case.resolved[table].items():
        if key != "layer":
            flat[key] = _text(value)
            continue
        for number, layer in enumerate(value):
            flat |= {f"layer[{number}].{k}": _text(v) for k, v in layer.items()}
    return flat


def _text(value: Any) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(_text(v) for v in value) + "]"
    return f"{value:g}" if isinstance(value, int | float) and not isinstance(value, bool) else str(value)
