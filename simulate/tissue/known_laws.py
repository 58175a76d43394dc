"""The tissue laws there are, by name; `tests/simulate/tissue/test_tissue_law.py` checks whichever is entered here."""

from __future__ import annotations

from types import MappingProxyType

from labrum.simulate.tissue.law import TissueLaw
from labrum.simulate.tissue.neo_hookean import StiffeningNeoHookean

STANDARD_LAW: TissueLaw = StiffeningNeoHookean()
LAWS = MappingProxyType({law.name: law for law in (STANDARD_LAW,)})
