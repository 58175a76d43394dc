"""Units as people write them: what a key's last word means, and what a wrong value may have been meant as."""

from __future__ import annotations

# Dimension, and size in the unit files use for it: mm, N, kPa, degree, percent. A kilogram is a scale's.
_UNITS: dict[str, tuple[str, float]] = {
    "um": ("length", 1e-3),
    "mm": ("length", 1.0),
    "cm": ("length", 10.0),
    "m": ("length", 1e3),
    "in": ("length", 25.4),
    "inch": ("length", 25.4),
    "inches": ("length", 25.4),
    "n": ("force", 1.0),
    "mn": ("force", 1e-3),
    "kn": ("force", 1e3),
    "lbf": ("force", 4.4482216152605),
    "lb": ("force", 4.4482216152605),
    "kgf": ("force", 9.80665),
    "kg": ("force", 9.80665),
    "g": ("force", 9.80665e-3),
    "pa": ("pressure", 1e-3),
    "hpa": ("pressure", 0.1),
    "kpa": ("pressure", 1.0),
    "mpa": ("pressure", 1e3),
    "bar": ("pressure", 100.0),
    "mbar": ("pressure", 0.1),
    "psi": ("pressure", 6.894757293168),
    "mmhg": ("pressure", 0.133322387415),
    "deg": ("angle", 1.0),
    "degree": ("angle", 1.0),
    "degrees": ("angle", 1.0),
    "rad": ("angle", 57.29577951308232),
    "percent": ("share", 1.0),
    "pct": ("share", 1.0),
}
_SHOWN = {
    "n": "N",
    "kn": "kN",
    "mn": "mN",
    "pa": "Pa",
    "hpa": "hPa",
    "kpa": "kPa",
    "mpa": "MPa",
    "mmhg": "mmHg",
}
# Units somebody may have had in mind when a number is out of range by a factor.
_SLIPS = ("m", "cm", "in", "um", "kn", "mn", "kgf", "pa", "mpa", "bar", "rad")


def split_unit(key: str) -> tuple[str, str]:
    """Split ``width_mm`` into ``("width", "mm")``; the unit is empty where the last word is none."""
    base, _, last = key.rpartition("_")
    return (base, last.lower()) if base and last.lower() in _UNITS else (key, "")


def unit_name(unit: str) -> str:
    """Write a key's unit as people write it: ``kpa`` is kPa."""
    return _SHOWN.get(unit, unit)


def converted(value: float, unit: str, into: str) -> float | None:
    """``value`` given in ``unit`` expressed in ``into``; None where the two do not measure the same thing."""
    if unit.lower() not in _UNITS or into not in _UNITS:
        return None
    (kind, size), (other_kind, other_size) = _UNITS[unit.lower()], _UNITS[into]
    return value * size / other_size if kind == other_kind else None


def slips(value: float, unit: str, low: float, high: float) -> list[tuple[str, float]]:
    """Units in which ``value`` would be plausible: (unit, value in the right unit), between low and high."""
    guesses = ((u, converted(value, u, unit)) for u in _SLIPS if u != unit)
    return [(u, v) for u, v in guesses if v is not None and low <= v <= high]
