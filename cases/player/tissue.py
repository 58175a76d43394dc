"""Lips between the library's: any thickness, and one stiffness for all layers.

A lip's layers are those of the library's lips, interpolated in its thickness; thinner than the thinnest and thicker
than the thickest they keep that one's shares. ``stiffness`` is the library's factor on all layers' moduli, 1 being
the average lip's; the muscle's active stress is another quantity and stays.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from labrum.cases.library.shelf import library_lip, lip_names
from labrum.meshes.arrays import Floats
from labrum.simulate.conclusions.varied_lips import stiffened_moduli

REFERENCE = "average"


def layer_tables(thickness: float, stiffness: float) -> list[dict[str, Any]]:
    """The layers, rim side first, as tables of a case file; ``thickness`` mm."""
    whole, each, _ = _library()
    shares = np.array([np.interp(thickness, whole, column) for column in (each / whole[:, None]).T])
    return [
        _layer(dict(layer), float(part), stiffness)
        for layer, part in zip(library_lip(REFERENCE).layers, thickness * shares / shares.sum(), strict=True)
    ]


def library_stiffness(thickness: float) -> float:
    """The library's stiffness for a lip of that thickness, mm: between its lips in proportion to the logarithm."""
    whole, _, factors = _library()
    return float(np.exp(np.interp(thickness, whole, np.log(factors))))


def nearest_type(thickness: float) -> str:
    """The library's lip whose thickness is nearest."""
    names = sorted(lip_names(), key=lambda name: abs(_thickness(name) - thickness))
    return names[0]


def library_thicknesses() -> dict[str, float]:
    """Thickness over the teeth, mm, of each library lip."""
    return {name: _thickness(name) for name in lip_names()}


def _layer(layer: dict[str, Any], thickness: float, stiffness: float) -> dict[str, Any]:
    moduli = stiffened_moduli(layer["shear_modulus_kpa"], layer["stiffening_kpa"], stiffness)
    return {**layer, "thickness_mm": thickness, "shear_modulus_kpa": moduli[0], "stiffening_kpa": list(moduli[1])}


def _thickness(name: str) -> float:
    return float(sum(layer["thickness_mm"] for layer in library_lip(name).layers))


@cache
def _library() -> tuple[Floats, Floats, Floats]:
    """Thickness (n,) rising, of each layer (n, k), and stiffness factor (n,) of the library's lips."""
    names = sorted(lip_names(), key=_thickness)
    each = np.array([[layer["thickness_mm"] for layer in library_lip(name).layers] for name in names])
    skin = np.array([library_lip(name).layers[0]["shear_modulus_kpa"] for name in names])
    return each.sum(axis=1), each, skin / library_lip(REFERENCE).layers[0]["shear_modulus_kpa"]
