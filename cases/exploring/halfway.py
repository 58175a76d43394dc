"""Cases between two cases: every number of the one moved a share of the way to the other's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import case_from_table
from labrum.simulate.load_path.press import Pressed
from labrum.simulate.main_job.neighbour import Neighbour
from labrum.simulate.problem import Problem


@dataclass(frozen=True)
class Start:
    """Where a like case may begin: a case's press, and its tables, from which one may go on by halves."""

    tables: Mapping[str, Any]
    pressed: Pressed

    def towards(self, case: Case) -> Neighbour:
        """Give it as a neighbour of ``case``."""

        def between(share: float) -> Problem | None:
            try:
                return case_from_table(mixed(self.tables, case.resolved, share)).problem
            except InvalidCase:
                return None

        return Neighbour(self.pressed, between)


def mixed(here: Any, there: Any, share: float) -> Any:
    """Move every number a share of the way; what is no number, or is in one of them only, is as it is there."""
    if isinstance(here, Mapping) and isinstance(there, Mapping):
        return {key: mixed(here[key], value, share) if key in here else value for key, value in there.items()}
    if isinstance(here, list) and isinstance(there, list) and len(here) == len(there):
        return [mixed(a, b, share) for a, b in zip(here, there, strict=True)]
    if _is_number(here) and _is_number(there):
        return here if here == there else (1.0 - share) * here + share * there
    return there


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
