"""What a designer asks of a measure, written as ``peak_pressure_kpa<=80``, ``>=`` or ``=``."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from labrum.cases.asking.selection import entry_of
from labrum.cases.exits import CannotDo


@dataclass(frozen=True)
class Limit:
    """A measure from ``least`` to ``most``."""

    measure: str
    least: float = -math.inf
    most: float = math.inf

    def kept(self, value: float) -> bool:
        """Does the value lie within?"""
        return self.least <= value <= self.most

    def __str__(self) -> str:
        """Write the limit in the words of the result's table."""
        entry = entry_of(self.measure)
        unit = f" {entry.unit}" if entry.unit else ""
        if math.isinf(self.least):
            return f"{entry.label} ≤ {self.most:g}{unit}"
        if math.isinf(self.most):
            return f"{entry.label} ≥ {self.least:g}{unit}"
        return f"{entry.label} {self.least:g} to {self.most:g}{unit}"


def limit_of(text: str) -> Limit:
    """Read one limit as written on the command line; raises `CannotDo`."""
    found = re.fullmatch(r"\s*(\w+)\s*(<=|>=)\s*([-+0-9.eE]+)\s*", text)
    try:
        if found is None:
            raise ValueError
        number = float(found[3])
    except ValueError:
        raise CannotDo(f'"{text}": write a limit as peak_pressure_kpa<=80 or closing_travel_ratio>=0.9') from None
    name = entry_of(found[1]).name
    return Limit(name, most=number) if found[2] == "<=" else Limit(name, least=number)
