"""The kinds of value a case file holds: each says what it allows, takes that and refuses the rest."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from difflib import get_close_matches
from enum import Enum
from typing import Any, Protocol

from labrum.cases.case_file.units import converted, slips, split_unit, unit_name
from labrum.meshes.faults import printable

LARGEST = 1e300
"""Numbers beyond are taken for infinite; a whole number may be too large to become anything else."""


class Presence(Enum):
    """What stands in a key's default when there is no default value."""

    REQUIRED = "required"
    OPTIONAL = "optional"


class Refused(ValueError):
    """A value that is not allowed: ``got`` as text and a ``hint``, which may be empty.

    ``items`` names the refused elements of a list, by their index from 0, where it is they and not the list.
    """

    def __init__(self, got: str, hint: str = "", items: dict[int, Refused] | None = None) -> None:
        self.got = got
        self.hint = hint
        self.items = items or {}
        super().__init__(got)


class Key(Protocol):
    """One key of a table."""

    @property
    def name(self) -> str:
        """The key, with its unit."""

    @property
    def default(self) -> Any:
        """The value where the key is left out, or a `Presence`."""

    @property
    def allowed(self) -> str:
        """What may stand there, in words."""

    def take(self, value: Any) -> Any:
        """Return the value to use, or raise `Refused`."""


def shown(value: Any) -> str:
    """Write a value as it stands in a case file, cut to a readable length."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + printable(value if len(value) <= 40 else value[:37] + "...") + '"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, int) and abs(value) > 10**15:
        return "a whole number of more than 15 digits"
    return str(value)


@dataclass(frozen=True)
class OneNumber:
    """A quantity from ``low`` to ``high``; ``above`` leaves ``low`` out, ``words`` may stand instead."""

    name: str
    low: float
    high: float
    default: Any = Presence.REQUIRED
    above: bool = False
    words: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """The unit in the key; empty for a bare number."""
        return split_unit(self.name)[1]

    @property
    def allowed(self) -> str:
        """What may stand there, in words."""
        start = "above" if self.above else "from"
        unit = f" {unit_name(self.unit)}" if self.unit else ""
        words = "".join(f' or "{word}"' for word in self.words)
        return f"a number {start} {self.low:g} {'up ' if self.above else ''}to {self.high:g}{unit}{words}"

    def take(self, value: Any) -> float | str:
        """Return the number as a float, or one of the words.

        Raises
        ------
        Refused
            For anything else, with the unit that may have been meant.
        """
        if isinstance(value, str):
            return self._word(value)
        if isinstance(value, bool):
            raise Refused(shown(value), "true and false are not numbers")
        if not isinstance(value, int | float):
            raise Refused(shown(value))
        number = float(value) if abs(value) < LARGEST else math.inf
        if not math.isfinite(number):
            raise Refused(shown(value), "" if isinstance(value, int) else "the value must be finite")
        if not self._within(number):
            raise Refused(shown(value), self._slip(number))
        return number

    def _within(self, number: float) -> bool:
        return self.low <= number <= self.high and not (self.above and number == self.low)

    def _word(self, value: str) -> str:
        if value in self.words:
            return value
        written = re.fullmatch(r"\s*([-+]?\d+\.?\d*(?:[eE][-+]?\d+)?)\s*([A-Za-z]*)\s*", value)
        if written is None:
            raise Refused(shown(value))
        number, unit = float(written[1]), written[2] or self.unit
        meant = converted(number, unit, self.unit) if self.unit else number
        write = f"; write {self.name} = {meant:.10g}" if meant is not None else ""
        place = ": the unit stands in the key" if self.unit else ""
        raise Refused(shown(value), f"a number stands without quotes{place}{write}")

    def _slip(self, number: float) -> str:
        # Zero and negative numbers are no slip of unit.
        guesses = slips(number, self.unit, self.low, self.high) if self.unit and number > 0 else []
        texts = [
            f"{number:.10g} {unit_name(u)} would be {v:.6g} {unit_name(self.unit)}" for u, v in guesses[:2]
        ]
        return "another unit? " + ", ".join(texts) if texts else ""


@dataclass(frozen=True)
class Exactly:
    """One whole number and no other."""

    name: str
    value: int
    default: Any = Presence.REQUIRED

    @property
    def allowed(self) -> str:
        """What may stand there, in words."""
        return str(self.value)

    def take(self, value: Any) -> int:
        """Return the number, or raise `Refused`."""
        if isinstance(value, int) and not isinstance(value, bool) and value == self.value:
            return value
        raise Refused(shown(value))


@dataclass(frozen=True)
class Choice:
    """One of a few words."""

    name: str
    options: tuple[str, ...]
    default: Any = Presence.REQUIRED

    @property
    def allowed(self) -> str:
        """What may stand there, in words."""
        words = [f'"{option}"' for option in self.options]
        return " or ".join(words) if len(words) < 4 else f"one of {', '.join(words)}"

    def take(self, value: Any) -> str:
        """Return the word, or raise `Refused` with the nearest one."""
        if isinstance(value, str) and value in self.options:
            return value
        near = nearest(value, self.options) if isinstance(value, str) else None
        raise Refused(shown(value), f'did you mean "{near}"?' if near else "")


@dataclass(frozen=True)
class SeveralOf:
    """Any of a few words, each once; none where the key is left out."""

    name: str
    options: tuple[str, ...]
    default: Any = ()

    @property
    def allowed(self) -> str:
        """What may stand there, in words."""
        return f"a list of any of {', '.join(shown(option) for option in self.options)}"

    def take(self, value: Any) -> tuple[str, ...]:
        """Return the words, or raise `Refused` naming every bad one."""
        if not isinstance(value, list) or len(value) > 4 * len(self.options):
            raise Refused(shown(value), "square brackets round it" if value in self.options else "")
        one = Choice(self.name, self.options)
        bad = {index: why for index, word in enumerate(value) if (why := _refusal_of(one, word))}
        if bad:
            raise Refused(shown(value), items=bad)
        return tuple(dict.fromkeys(value))


def _refusal_of(key: Choice, value: Any) -> Refused | None:
    try:
        key.take(value)
    except Refused as refused:
        return refused
    return None


@dataclass(frozen=True)
class Flag:
    """True or false."""

    name: str
    default: Any = Presence.REQUIRED
    allowed: str = "true or false"

    def take(self, value: Any) -> bool:
        """Return the flag, or raise `Refused`."""
        if isinstance(value, bool):
            return value
        raise Refused(shown(value), "without quotes" if str(value).lower() in ("true", "false") else "")


@dataclass(frozen=True)
class Text:
    """Free text of at least one character."""

    name: str
    default: Any = Presence.REQUIRED
    allowed: str = "a text in quotes"

    def take(self, value: Any) -> str:
        """Return the text, or raise `Refused`."""
        if not isinstance(value, str) or not value.strip():
            raise Refused(shown(value))
        if any("\ud800" <= c <= "\udfff" for c in value):
            raise Refused(shown(value), "half of a character stands in it")
        return value


@dataclass(frozen=True)
class Rows:
    """Rows of numbers up to ``reach`` in size under ``columns``, from ``least`` to ``most`` of them."""

    name: str
    columns: tuple[str, ...]
    least: int
    most: int
    reach: float
    default: Any = Presence.REQUIRED

    @property
    def allowed(self) -> str:
        """What may stand there, in words."""
        return f"a list of {self.least} to {self.most} rows [{', '.join(self.columns)}]"

    def take(self, value: Any) -> list[list[float]]:
        """Return the rows as floats, or raise `Refused` naming every bad row."""
        if not isinstance(value, list) or not self.least <= len(value) <= self.most:
            raise Refused(shown(value))
        bad = {index: why for index, row in enumerate(value) if (why := self._refusal(row))}
        if bad:
            raise Refused(shown(value), items=bad)
        return [[float(v) for v in row] for row in value]

    def _refusal(self, row: Any) -> Refused | None:
        if not isinstance(row, list):
            return Refused(shown(row))
        if len(row) != len(self.columns):
            return Refused(f"{len(row)} numbers")
        if not all(_is_finite_number(v) for v in row):
            return Refused(_shown_row(row), "finite numbers only")
        if max(map(abs, row)) > self.reach:
            return Refused(_shown_row(row), f"numbers up to {self.reach:g} in size")
        return None


@dataclass(frozen=True)
class TwoNumbers:
    """Two finite numbers, each from ``low`` to ``high``."""

    name: str
    low: float
    high: float
    default: Any = Presence.REQUIRED

    @property
    def allowed(self) -> str:
        """What may stand there, in words."""
        return f"two numbers, each from {self.low:g} to {self.high:g} {unit_name(split_unit(self.name)[1])}"

    def take(self, value: Any) -> list[float]:
        """Return the two numbers as floats, or raise `Refused`."""
        if not isinstance(value, list) or len(value) != 2:
            raise Refused(shown(value))
        if not all(_is_finite_number(v) and self.low <= v <= self.high for v in value):
            raise Refused(_shown_row(value))
        return [float(v) for v in value]


def nearest(name: str, options: tuple[str, ...] | list[str]) -> str | None:
    """Return the option most like ``name``, or None where none is much alike."""
    by_lower = {option.lower(): option for option in options}
    found = get_close_matches(name.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[found[0]] if found else None


def _shown_row(row: list[Any]) -> str:
    return f"[{', '.join(shown(value) for value in row)}]"


def _is_finite_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < LARGEST
