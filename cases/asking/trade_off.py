"""The trade-off: the rims of a sweep that no other rim of it beats in everything asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from labrum.cases.asking.selection import entry_of, measure_of
from labrum.cases.exits import CannotDo
from labrum.cases.sweeping.runner import Row
from labrum.meshes.arrays import Floats
from labrum.simulate.measures.catalogue import CATALOGUE
from labrum.simulate.measures.declaration import Better

LOW, HIGH = "low", "high"


@dataclass(frozen=True)
class Wish:
    """A measure wanted ``low`` or ``high``."""

    measure: str
    wanted: str

    @property
    def sign(self) -> float:
        """Makes less better."""
        return 1.0 if self.wanted == LOW else -1.0


USUAL = tuple(
    Wish(name, HIGH if CATALOGUE[name].better is Better.MORE else LOW)
    for name in ("peak_pressure_kpa", "intrusion_height_mm", "closing_travel_ratio")
)


def aims_of(texts: Sequence[str], rows: Sequence[Row]) -> tuple[Wish, ...]:
    """Read aims written ``peak_pressure_kpa:low``; none given are the usual ones that apply to every case.

    Raises
    ------
    CannotDo
        For what cannot be read, or fewer than two aims.
    """
    if not texts:
        return tuple(aim for aim in USUAL if all(measure_of(row, aim.measure) is not None for row in rows))
    aims = []
    for text in texts:
        name, _, wanted = text.partition(":")
        if wanted not in (LOW, HIGH):
            raise CannotDo(f'--aim "{text}": write a measure and low or high, as peak_pressure_kpa:low')
        aims.append(Wish(entry_of(name).name, wanted))
    if len({aim.measure for aim in aims}) < max(2, len(aims)):
        raise CannotDo("a trade-off takes two or more different aims")
    return tuple(aims)


def aimed(rows: Sequence[Row], aims: Sequence[Wish]) -> Floats:
    """The measures aimed at, (n, k).

    Raises
    ------
    CannotDo
        If one does not apply to some case.
    """
    values = [[measure_of(row, aim.measure) for aim in aims] for row in rows]
    for aim, column in zip(aims, zip(*values, strict=True), strict=True):
        if None in column:
            raise CannotDo(f"{aim.measure} does not apply to {column.count(None)} of {len(column)} cases")
    return np.array(values, dtype=float)


def best(values: Floats, aims: Sequence[Wish]) -> list[int]:
    """Places of the rows that no other row beats: as good in every aim and better in one (Pareto)."""
    costs = values * [aim.sign for aim in aims]
    return [
        place
        for place, cost in enumerate(costs)
        if not np.any(np.all(costs <= cost, axis=1) & np.any(costs < cost, axis=1))
    ]
