"""A whole number among the values a plan may hold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.values import Presence, Refused, shown


@dataclass(frozen=True)
class Whole:
    """A whole number from ``low`` to ``high``."""

    name: str
    low: int
    high: int
    default: Any = Presence.REQUIRED

    @property
    def allowed(self) -> str:
        """What may stand there, in words."""
        return f"a whole number from {self.low} to {self.high}"

    def take(self, value: Any) -> int:
        """Return the number, or raise `Refused`."""
        if isinstance(value, int) and not isinstance(value, bool) and self.low <= value <= self.high:
            return value
        raise Refused(shown(value))
