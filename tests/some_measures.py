"""Measures for tests that care for a few of them only, so that a measure more changes no test but its own."""

from __future__ import annotations

from typing import Any

from labrum.simulate.measures.catalogue import CATALOGUE, Measures


def some_measures(**told: Any) -> Measures:
    """Those told; the others do not apply, or are nought where they always apply."""
    return Measures(**{name: None if m.optional else 0.0 for name, m in CATALOGUE.items()} | told)
