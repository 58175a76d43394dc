"""Nested dissection orders every node once, and keeps fill as low as a general minimum-degree search does."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.sparse.linalg import splu

from labrum.meshes.grids.dissection import elimination_order


def nine_point(columns: int, rows: int) -> sp.csc_matrix:
    """A positive definite matrix that couples every node with its eight neighbours."""

    def chain(count: int) -> sp.csc_matrix:
        return sp.diags([np.ones(count - 1), 4.0 * np.ones(count), np.ones(count - 1)], [-1, 0, 1])

    return sp.csc_matrix(sp.kron(chain(columns), chain(rows)))


def fill(matrix: sp.csc_matrix, ordering: str) -> int:
    return int(splu(matrix, permc_spec=ordering, diag_pivot_thresh=0.0, options={"SymmetricMode": True}).L.nnz)


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (3, 1), (3, 3), (4, 9), (31, 7), (121, 41)])
def test_every_node_is_eliminated_once(columns: int, rows: int) -> None:
    assert np.array_equal(np.sort(elimination_order(columns, rows)), np.arange(columns * rows))


@pytest.mark.parametrize(("columns", "rows"), [(41, 41), (121, 31), (201, 81)])
def test_fill_is_near_that_of_minimum_degree(columns: int, rows: int) -> None:
    """Against the minimum-degree ordering of SuperLU (Demmel et al. 1999, SIAM J. Matrix Anal. Appl. 20:720)."""
    matrix, order = nine_point(columns, rows), elimination_order(columns, rows)
    ours = fill(sp.csc_matrix(matrix[order][:, order]), "NATURAL")
    assert ours < 1.15 * fill(matrix, "MMD_AT_PLUS_A")
    assert ours < 0.7 * fill(matrix, "NATURAL")


def test_fill_grows_as_nested_dissection_promises() -> None:
    """n log n for n nodes of a square grid (George 1973, from memory): fill a node grows by the same with every
    doubling of the side, where a band's would double.
    """
    each = []
    for side in (33, 65, 129, 257):
        order = elimination_order(side, side)
        each.append(fill(sp.csc_matrix(nine_point(side, side)[order][:, order]), "NATURAL") / side**2)
    gains = np.diff(each)
    assert (gains[1:] < 1.35 * gains[:-1]).all()
