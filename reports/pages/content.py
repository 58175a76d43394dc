"""What a report is made of: plain values that whoever has read and solved the cases hands over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Outcome

MOST_RIMS = 6


@dataclass(frozen=True)
class NoSolution:
    """A solve that found no equilibrium: how far it came, N, and why."""

    force_reached_n: float
    cause: str
    advice: str


@dataclass(frozen=True)
class Softened:
    """The same case with the lip's stiffness times ``factor``, and what came of it.

    ``friction`` is another than the case's own; None: its own.
    """

    factor: float
    result: Measures | NoSolution
    friction: float | None = None

    @property
    def alone(self) -> bool:
        """Either the stiffness or the friction is varied, the other as given."""
        return (self.factor != 1.0) != (self.friction is not None)


@dataclass(frozen=True)
class RimSheet:
    """One pressed rim as a report shows it.

    Parameters
    ----------
    name
        What the rim is called, people's own words.
    outcome
        The converged press.
    inputs
        The case with every default filled in: tables of values, as in a case file.
    given
        The case file as it was given; may be empty.
    presets
        What came from the library, by table.
    sources
        Where those values come from, by name.
    warnings
        What deserves a second look.
    softened
        The same case on softer and stiffer lips and with other frictions, in the same order for every rim; empty
        where that was not tried.
    """

    name: str
    outcome: Outcome
    inputs: Mapping[str, Any]
    given: str = ""
    presets: Mapping[str, str] | None = None
    sources: Mapping[str, str] | None = None
    warnings: tuple[str, ...] = ()
    softened: tuple[Softened, ...] = ()


@dataclass(frozen=True)
class Unsolved:
    """A rim that a report cannot show, and why."""

    name: str
    stopped: NoSolution


@dataclass(frozen=True)
class Paper:
    """Everything that goes into a report.

    Parameters
    ----------
    sheets
        One to six pressed rims; the first is what the others are compared with.
    unsolved
        Rims for which no equilibrium was found.
    calibration
        What the lip's stiffness rests on.
    cautions
        What goes with every number.
    provenance
        Versions, machine, command, times and hashes: nested tables of plain values.
    """

    sheets: tuple[RimSheet, ...]
    unsolved: tuple[Unsolved, ...] = ()
    calibration: str = ""
    cautions: tuple[str, ...] = ()
    provenance: Mapping[str, Any] | None = None

    def __post_init__(self) -> None:
        if not 1 <= len(self.sheets) <= MOST_RIMS:
            raise ValueError(f"rims in a report: got {len(self.sheets)}, allowed 1 to {MOST_RIMS}")
