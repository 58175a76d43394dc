"""The tissue laws there are, by name. A law that is entered here is checked by `tests/simulate/test_tissue_law.py`."""

from __future__ import annotations

from types import MappingProxyType

from labrum.simulate.tissue.law import TissueLaw
from labrum.simulate.tissue.neo_hookean import StiffeningNeoHookean

STANDARD_LAW: TissueLaw = StiffeningNeoHookean()
LAWS = MappingProxyType({law.name: law for law in (STANDARD_LAW,)})
