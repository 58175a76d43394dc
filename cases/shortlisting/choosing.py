"""Three rims that differ in kind, found on a forecast: the least change, the balanced one, the boldest.

The search is differential evolution (Storn & Price 1997, as in scipy) over the dimensions, then a descent in the
shop's own steps. Limits are exact penalties. It solves nothing, so it is repeated without each limit in turn, to tell
which of them holds the boldest rim back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.optimize import differential_evolution
from scipy.spatial.distance import cdist

from labrum.cases.player.sheet import KnownRim
from labrum.cases.shortlisting.dials import Dial, ShopStep, drawable, place_of, turned_rim
from labrum.cases.shortlisting.forecast import CROWN_PEAK, EDGE_PEAK, PEAK, Forecast, Quantity
from labrum.cases.shortlisting.wanted import Restraint, Want
from labrum.meshes.arrays import Floats

LEAST, BALANCED, BOLDEST = "least change", "balanced", "boldest"
KINDS = (LEAST, BALANCED, BOLDEST)
PENALTY, SMALL, FULL_RELIEF = 30.0, 0.03, 1.0
"""A broken limit's charge, of a whole allowance; a step's where it is no matter of its own; a want that is met."""
NEAR_LIMIT, WORTH_TELLING = 0.9, 0.1
POPULATION, GENERATIONS, SEED = 10, 120, 0
INSIDE = 0.9
"""Limits are aimed at with a tenth to spare: a forecast is no solution."""
TRUST = 1.5
"""Steps from the nearest rim solved up to which a forecast is believed: beyond, what it promises is its own fault."""

Cost = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Field:
    """Where rims are looked for: the present rim, its dials, what is wanted and what is held, and the forecast.

    ``edge`` is the logarithm of the present rim's peak on the edges over that on the crown; None where it has none.
    ``solved`` (k, n) are the places of the rims that the forecast was learnt from; None where it holds everywhere.
    """

    rim: KnownRim
    dials: tuple[Dial, ...]
    wants: tuple[Want, ...]
    restraints: tuple[Restraint, ...]
    forecast: Forecast
    shop: ShopStep
    edge: float | None = None
    solved: Floats | None = None

    def beyond_trust(self, places: Floats) -> Floats:
        """(k,) steps by which (k, n) places lie further from all rims solved than the forecast is believed."""
        if self.solved is None:
            return np.zeros(len(places))
        return np.maximum(0.0, cdist(places, self.solved).min(axis=1) - TRUST)

    def relief(self, places: Floats) -> Floats:
        """(k,) the least of the wants' reliefs, 1 being what counts as one."""
        found = self.forecast.changes(places)
        each = [want.sign * self._column(found, want) / amount_of(want) for want in self.wants]
        return least_relief(self.wants, np.array(each))

    def used(self, places: Floats) -> Floats:
        """(k, r) the share of each restraint's allowance that is used; above 1 it is broken."""
        found = self.forecast.changes(places)
        return np.array([self._used(found, one) for one in self.restraints]).T.reshape(len(places), -1)

    def _used(self, found: Floats, one: Restraint) -> Floats:
        moved = self._column(found, one) / amount_of(one)
        return np.asarray(np.abs(moved) if one.sign == 0.0 else one.sign * moved)

    def _column(self, found: Floats, one: Want | Restraint) -> Floats:
        quantity = quantity_of(one)
        if quantity == PEAK and self.edge is not None:
            edge, crown = (found[:, self.forecast.column(part)] for part in (EDGE_PEAK, CROWN_PEAK))
            return np.asarray(np.maximum(self.edge + edge, crown) - max(self.edge, 0.0))
        column: Floats = found[:, self.forecast.column(quantity)]
        return column


@dataclass(frozen=True)
class Picked:
    """A rim of the shortlist as the forecast has it: what changes, the ``place`` (n,) and its ``relief``."""

    kind: str
    changes: dict[str, float]
    place: Floats
    relief: float


@dataclass(frozen=True)
class Holding:
    """What holds the boldest rim back: ``words`` name it, ``gain`` is the relief more without it."""

    words: str
    gain: float


@dataclass(frozen=True)
class _Kind:
    """One way to choose: how many kinds of change cost how much, and the relief that must be reached."""

    must: float
    relief: float = 0.0
    side: float = 0.0
    step: float = SMALL
    fewer: float = field(default=0.0)

    def cost(self, field_: Field, places: Floats) -> Floats:
        """(k,) what is to be made small."""
        relief, used = field_.relief(places), field_.used(places)
        over = np.maximum(0.0, used - INSIDE).sum(axis=1) + field_.beyond_trust(places)
        short = np.maximum(0.0, self.must - relief)
        worse = np.maximum(0.0, used).sum(axis=1)
        steps = np.abs(places).sum(axis=1)
        changed = (np.abs(places) > 1e-6).sum(axis=1)
        return np.asarray(
            PENALTY * (over + short) - self.relief * relief + self.side * worse + self.step * steps
            + self.fewer * changed
        )  # fmt: skip


def least_relief(wants: Sequence[Want], reliefs: Floats) -> Floats:
    """(k,) the least of (w, k) reliefs; a want that has enough at 1 counts no longer where another is left."""
    enough = np.array([want.most is not None for want in wants])[:, None] & (reliefs >= FULL_RELIEF)
    return np.asarray(np.where(enough.all(axis=0), reliefs, np.where(enough, np.inf, reliefs)).min(axis=0))


def quantity_of(one: Want | Restraint) -> Quantity:
    """What a forecast must know of a want or a restraint."""
    return Quantity(one.measure, one.share)


def amount_of(one: Want | Restraint) -> float:
    """The amount as a forecast sums it."""
    if not one.share:
        return one.amount
    return float(np.log1p(one.amount) if one.sign > 0 else -np.log1p(-one.amount))


def boldest(where: Field) -> Picked:
    """The rim with the most relief."""
    return _picked(where, BOLDEST, _Kind(must=0.0, relief=1.0))


def least_change(where: Field, most: float) -> Picked:
    """The rim that is nearest to the present one and brings relief; ``most`` is the boldest's."""
    return _picked(where, LEAST, _Kind(must=min(FULL_RELIEF, 0.5 * most), step=1.0, fewer=0.3))


def balanced(where: Field, least: float, most: float) -> Picked:
    """The rim halfway between both in relief that uses the least of what may get worse."""
    return _picked(where, BALANCED, _Kind(must=0.5 * (least + most), side=1.0, step=0.3))


def holding_back(where: Field, bold: Picked) -> tuple[Holding, ...]:
    """Which limits hold the boldest rim back, the dearest first."""
    found = [Holding(words, _best_relief(other) - bold.relief) for words, other in _eased(where, bold)]
    return tuple(sorted((one for one in found if one.gain > WORTH_TELLING), key=lambda one: -one.gain))


def _best_relief(where: Field) -> float:
    kind = _Kind(must=0.0, relief=1.0)
    return float(where.relief(_evolved(where, kind)[None])[0])


def _eased(where: Field, bold: Picked) -> Iterator[tuple[str, Field]]:
    used = where.used(bold.place[None])[0] if where.restraints else np.zeros(0)
    for number, restraint in enumerate(where.restraints):
        if used[number] > NEAR_LIMIT * INSIDE:
            rest = (*where.restraints[:number], *where.restraints[number + 1 :])
            yield restraint.words(), replace(where, restraints=rest)
    for number, dial in enumerate(where.dials):
        value = dial.value(float(bold.place[number]))
        for end in (dial.low, dial.high):
            if abs(dial.place(value) - dial.place(end)) < NEAR_LIMIT * 0.1 and end != dial.now:
                way = "at least" if end == dial.low else "at most"
                words = f"{dial.words} {way} {dial.shown(end)}: {dial.range_words}"
                dials = (*where.dials[:number], _longer(dial, end), *where.dials[number + 1 :])
                yield words, replace(where, dials=dials)


def _longer(dial: Dial, end: float) -> Dial:
    """A dial that goes on for a step beyond an end."""
    further = replace(dial, low=0.0, high=float("inf"))
    if end == dial.low:
        return replace(dial, low=further.value(dial.place(end) - 1.0))
    return replace(dial, high=further.value(dial.place(end) + 1.0))


def _picked(where: Field, kind: str, aim: _Kind) -> Picked:
    changes = turned_rim(where.rim, where.dials, _drawn(where, _evolved(where, aim)), where.shop)
    changes = _descended(where, aim, changes)
    place = place_of(where.dials, changes)
    return Picked(kind, changes, place, float(where.relief(place[None])[0]))


def _evolved(where: Field, aim: _Kind) -> Floats:
    """The best place, (n,), before it is rounded."""
    bounds = [(dial.place(dial.low), dial.place(dial.high)) for dial in where.dials]
    found = differential_evolution(
        lambda u: aim.cost(where, np.atleast_2d(u.T)), bounds, popsize=POPULATION, maxiter=GENERATIONS, rng=SEED,
        polish=False, vectorized=True, updating="deferred", x0=np.zeros(len(bounds)), tol=1e-4,
    )  # fmt: skip
    return np.asarray(found.x)


def _drawn(where: Field, place: Floats) -> Floats:
    """A place whose rim can be drawn: nearer to the present one where that is none."""
    for share in np.linspace(1.0, 0.1, 10):
        if drawable(where.rim, turned_rim(where.rim, where.dials, share * place, where.shop)):
            return np.asarray(share * place)
    return 0.0 * place


def _descended(where: Field, aim: _Kind, changes: dict[str, float]) -> dict[str, float]:
    """Go downhill from rim to rim as the shop can make them, a dimension at a time."""
    best = _cost_of(where, aim, changes)
    better = True
    while better:
        better = False
        for other in _neighbours(where, changes):
            cost = _cost_of(where, aim, other)
            if cost < best - 1e-9 and drawable(where.rim, other):
                changes, best, better = other, cost, True
    return changes


def _cost_of(where: Field, aim: _Kind, changes: dict[str, float]) -> float:
    return float(aim.cost(where, place_of(where.dials, changes)[None])[0])


def _neighbours(where: Field, changes: dict[str, float]) -> Iterator[dict[str, float]]:
    place = place_of(where.dials, changes)
    for number, dial in enumerate(where.dials):
        small = abs(dial.place(dial.now + where.shop.mm)) if dial.key != "high_point" else 0.2
        for other in (0.0, *(place[number] + way * times * small for times in (1.0, 4.0) for way in (-1.0, 1.0))):
            moved = place.copy()
            moved[number] = dial.place(dial.value(other))
            yield turned_rim(where.rim, where.dials, moved, where.shop)
