"""Nested dissection of a tensor grid: an order of elimination with little fill.

The grid is cut in halves by one of its lines, each half again, always across the longer side; the nodes of a cut
come after those of both halves. On a tensor grid no graph needs to be searched for the cuts. Source: George 1973,
"Nested dissection of a regular finite element mesh", SIAM J. Numer. Anal. 10:345 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Ints

LEAST = 3  # lines of nodes that are left together


@dataclass(frozen=True)
class _Side:
    """The lines of nodes along one side of the grid, and the part of it, ``low`` to below ``high``, each is in."""

    low: Ints
    high: Ints

    @classmethod
    def whole(cls, lines: int) -> _Side:
        return cls(np.zeros(lines, dtype=np.int64), np.full(lines, lines, dtype=np.int64))

    @property
    def longest(self) -> int:
        return int((self.high - self.low).max())

    def cut(self) -> tuple[_Side, Ints]:
        """Cut every part that is long enough; per line 0 before the cut, 1 behind it, 2 on it."""
        line = np.arange(len(self.low))
        middle = 2 * ((self.low + self.high) // 4)  # even lines bound elements, odd ones run through them
        divided = self.high - self.low > LEAST
        digit = np.where(divided, np.where(line < middle, 0, np.where(line == middle, 2, 1)), 0)
        low = np.where(digit == 1, middle + 1, np.where(digit == 2, line, self.low))
        high = np.where(divided & (digit == 0), middle, np.where(digit == 2, line, self.high))
        return _Side(low, high), digit


def elimination_order(columns: int, rows: int) -> Ints:
    """Order (columns * rows,) in which to eliminate the nodes of a grid, numbered column after column."""
    across, along = _Side.whole(columns), _Side.whole(rows)
    key = np.zeros((columns, rows), dtype=np.int64)
    cut = np.zeros((columns, rows), dtype=bool)
    while max(across.longest, along.longest) > LEAST:
        if across.longest >= along.longest:
            across, digit = across.cut()
            digit = digit[:, None]
        else:
            along, digit = along.cut()
        key = 3 * key + np.where(cut, 0, digit)
        cut |= digit == 2
    return np.argsort(key.ravel(), kind="stable")
