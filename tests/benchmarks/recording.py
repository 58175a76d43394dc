"""Keeps every matrix a solve factorises, with its right-hand side, so that others can be asked to do the same."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import wraps
from typing import Any

import numpy as np
import scipy.sparse as sp

from labrum.meshes.arrays import Floats

from .accounting import ENTRY_POINTS, FACTORISATION, EntryPoint, wrapped


@dataclass(frozen=True)
class System:
    """A matrix that was factorised and a right-hand side (n,) it was solved for; ``pattern`` tells like ones."""

    matrix: sp.csc_matrix
    wanted: Floats
    pattern: bytes


@contextmanager
def recorded() -> Iterator[list[System]]:
    """Collect the systems factorised while the block runs, in order."""
    kept: list[System] = []

    def recording(function: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(function)
        def keeping(*args: Any, **named: Any) -> Any:
            kept.append(system_of([*args, *named.values()]))
            return function(*args, **named)

        return keeping

    with wrapped(_factorising(), recording):
        yield kept


def _factorising() -> EntryPoint:
    return next(entry for entry in ENTRY_POINTS if entry.category == FACTORISATION)


def system_of(arguments: list[Any]) -> System:
    """The system among the arguments of a factorisation, and the largest right-hand side that goes with it.

    The first iteration of a step has a right-hand side of zeros beside that of the rim's travel, which tells nothing.
    """
    systems = [argument for argument in arguments if hasattr(argument, "matrix") and hasattr(argument, "pattern")]
    if not systems:
        raise LookupError(f"no system among the arguments of the factorisation: edit {__file__}")
    matrix, pattern = sp.csc_matrix(systems[0].matrix), systems[0].pattern
    matrix.sort_indices()
    given = [a for a in arguments if isinstance(a, np.ndarray) and a.ndim == 3]
    columns = [pattern.gather(side) for side in given[0]] if given else [matrix @ np.ones(matrix.shape[0])]
    wanted = max(columns, key=lambda column: float(np.linalg.norm(column)))
    return System(matrix, wanted.copy(), matrix.indptr.tobytes() + matrix.indices.tobytes())
