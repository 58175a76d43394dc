"""Grid lines that are kept where the tissue is squeezed together.

At the margin of an opening and at a tooth's edge contraction squeezes single elements to a fraction of their volume at
one of their integration points, though not on the whole. A state carried over to lines that lie otherwise turns such
elements inside out, however near to equilibrium it is. On the same lines it is carried over as it stands.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labrum.meshes.arrays import Bools, Floats
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.tissue.law import volume_ratio

SQUEEZED = 0.5  # J at an integration point below which an element's lines are kept
SPARE = 0.4  # of the element beside them: nearer to the kept lines no other may lie


@dataclass(frozen=True)
class KeptLines:
    """Lines of a grid that the next one keeps: ``columns`` and ``rows`` (2 or more each) ascending, mm."""

    columns: Floats
    rows: Floats


def squeezed_lines(model: Model, state: State) -> KeptLines | None:
    """The lines around the squeezed elements of the back half, with one element more on every side; None without any.

    Columns that the rim touches are left out: there the peak is read, and grids must become as fine as it asks.
    """
    if model.elements.smallest_ratio(state.u) >= SQUEEZED:
        return None
    grid = model.elements.grid
    shape = len(grid.columns) - 1, len(grid.rows) - 1
    squeezed = (volume_ratio(model.elements.gradients(state.u)).min(axis=1) < SQUEEZED).reshape(shape)
    squeezed &= (grid.rows[1:] <= 0.5 * grid.rows[0])[None, :] & ~_touched(model, state)[:, None]
    if not squeezed.any():
        return None
    return KeptLines(_around(grid.columns, squeezed.any(axis=1)), _around(grid.rows, squeezed.any(axis=0)))


def merged(lines: Floats, kept: Floats, needed: Floats) -> Floats:
    """``lines`` with ``kept`` in place of all of them in its stretch and close by, save the ``needed`` ones, mm."""
    low, high = kept[0] - SPARE * (kept[1] - kept[0]), kept[-1] + SPARE * (kept[-1] - kept[-2])
    outside = lines[(lines < low) | (lines > high)]
    beside = needed[((needed >= low) & (needed < kept[0])) | ((needed <= high) & (needed > kept[-1]))]
    return np.unique(np.concatenate([outside, beside, kept]))


def _around(lines: Floats, chosen: Bools) -> Floats:
    at = np.nonzero(chosen)[0]
    return lines[max(at[0] - 1, 0) : at[-1] + 3]


def _touched(model: Model, state: State) -> Bools:
    """(columns - 1,) the columns of elements between the first and the last node that touches the rim."""
    columns, touching = model.elements.grid.columns, np.nonzero(state.pairs[0].active)[0]
    if not len(touching):
        return np.zeros(len(columns) - 1, bool)
    first, last = model.elements.grid.node_columns[touching[[0, -1]]]
    return (columns[1:] > first) & (columns[:-1] < last)
