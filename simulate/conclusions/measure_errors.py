"""How far two measures must lie apart to be told apart: by more than the errors that their declarations estimate.

See `labrum.simulate.measures.catalogue` for what the estimates rest on.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from labrum.simulate.measures.catalogue import CATALOGUE, Measures
from labrum.simulate.measures.declaration import Claim, Evidence


def doubt(measures: Measures, name: str) -> float:
    """Estimated error of one measure, in its own unit; `KeyError` where it has none, as a yes or no.

    Where no error was told, because only one equilibrium was looked at, it is the least that is ever told.
    """
    estimate = CATALOGUE[name].error
    if estimate is None:
        raise KeyError(name)
    told = measures.errors.get(name)
    if told is not None:
        return told
    return estimate.of(Evidence(value=getattr(measures, name), peak_percent=measures.peak_pressure_error_percent))


def higher(first: Measures, second: Measures, name: str) -> bool | None:
    """Is the first's measure the higher; None where they differ by no more than both errors, or one is missing."""
    here, there = getattr(first, name), getattr(second, name)
    if here is None or there is None or not clear((here, doubt(first, name)), (there, doubt(second, name))):
        return None
    return bool(here > there)


def clear(one: tuple[float, float], other: tuple[float, float]) -> bool:
    """Do two values, each with its error, lie further apart than both errors together?"""
    return abs(one[0] - other[0]) > one[1] + other[1]


def ranking(name: str, rims: Sequence[tuple[str, Measures]]) -> str:
    """Say in words the order of rims by a measure, and which of them have no order among themselves."""
    ranked = sorted(rims, key=lambda rim: -float(getattr(rim[1], name)))
    alike = [f"{a[0]} and {b[0]}" for a, b in combinations(ranked, 2) if higher(a[1], b[1], name) is None]
    words = "from most to least: " + ", ".join(rim[0] for rim in ranked)
    return f"{words}; cannot be told apart: {', '.join(alike)}" if alike else words


def claim_of(name: str) -> Claim:
    """What is said where two rims differ in a measure: what it declares, or plainly that one has more of it."""
    measure = CATALOGUE[name]
    return measure.claim or Claim(f"{{}} has more {measure.label} than {{}}", f"difference of {measure.label}")


def statement(name: str, first: str, second: str, more: bool | None) -> str:
    """Say in words which of two rims has more of a measure; ``more`` is what `higher` says, or most varied lips do."""
    claim = claim_of(name)
    if more is None:
        return f"{first} and {second} cannot be told apart: {claim.difference}"
    return claim.words.format(*((first, second) if more else (second, first)))
