"""Finding the compiled kernels and choosing the ones that this processor can run."""

from __future__ import annotations

import ctypes
import logging
import os
from collections.abc import Callable, Sequence
from ctypes import POINTER, c_char_p, c_double, c_int64, c_void_p
from dataclasses import dataclass
from functools import cache
from importlib.machinery import EXTENSION_SUFFIXES
from itertools import accumulate, pairwise
from math import prod
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

CHOICE = "LABRUM_KERNELS"  # environment variable: numpy, portable or wide; the best there is where it is not set
BUILD = "LABRUM_KERNELS_FILE"  # environment variable: another build of the extension, for its own checks
KINDS = ("wide", "portable")
STEM = "_kernels"
_BYTE = ctypes.c_char
log = logging.getLogger(__name__)


class _Table(ctypes.Structure):
    """The table of functions of ``sources/interface.h``, entry by entry."""

    _fields_ = (
        ("element_forces", ctypes.CFUNCTYPE(c_double, *[c_void_p] * 5)),
        ("smallest_ratio", ctypes.CFUNCTYPE(c_double, *[c_void_p] * 2)),
        ("condensed", ctypes.CFUNCTYPE(c_double, *[c_void_p] * 5)),
        ("interior", ctypes.CFUNCTYPE(None, c_int64, c_int64, *[c_void_p] * 4)),
        ("product", ctypes.CFUNCTYPE(None, c_int64, c_int64, c_void_p, c_void_p, c_int64, c_void_p, c_void_p)),
        ("nodal_sums", ctypes.CFUNCTYPE(None, c_int64, c_int64, c_int64, c_void_p, c_void_p)),
        ("dissect", ctypes.CFUNCTYPE(None, c_void_p)),
        ("factorise", ctypes.CFUNCTYPE(c_int64, *[c_void_p] * 4)),
        ("solve", ctypes.CFUNCTYPE(None, c_void_p, c_void_p, c_int64, c_void_p, c_void_p)),
        ("search", ctypes.CFUNCTYPE(None, c_void_p, c_int64, c_void_p, c_double, c_void_p, c_void_p)),
        ("wave_condensed", ctypes.CFUNCTYPE(None, *[c_void_p] * 4, c_double, c_double, c_void_p)),
        ("wave_points", ctypes.CFUNCTYPE(None, *[c_void_p] * 4)),
    )


@dataclass(frozen=True, eq=False)
class Library:
    """Kernels of one ``kind``, ``wide`` (AVX2 and fused multiply-add) or ``portable``.

    ``table`` has the functions, ``waves`` those for waves of the angle: elements, the solver for three unknowns a node.
    """

    kind: str
    table: Any
    waves: Any

    def __reduce__(self) -> tuple[Callable[[str], Library | None], tuple[str]]:
        """Sent to another process it is that process's own: addresses mean nothing there."""
        return load, (self.kind,)


def address(array: NDArray[Any]) -> int:
    """Where a contiguous array's numbers stand; who passes it on keeps the array alive for as long."""
    assert array.flags.c_contiguous
    try:
        return ctypes.addressof(_BYTE.from_buffer(array.data))  # several times as fast as numpy's own way
    except (TypeError, ValueError):  # read-only, or empty
        return int(array.ctypes.data)


def pointers(arrays: Sequence[NDArray[Any] | None]) -> Any:
    """A structure of pointers to contiguous arrays, which it keeps alive; None is a null pointer."""
    made = (c_void_p * len(arrays))(*[None if array is None else address(array) for array in arrays])
    made.kept = arrays  # type: ignore[attr-defined]
    return made


def room(shapes: Sequence[tuple[int, ...]]) -> tuple[list[NDArray[np.float64]], Any]:
    """Arrays of these shapes for a kernel to fill, out of one block of memory; and a structure of pointers to them."""
    ends = list(accumulate((prod(shape) for shape in shapes), initial=0))
    block = np.empty(max(ends[-1], 1))
    start = address(block)
    made = (c_void_p * len(shapes))(*(start + 8 * end for end in ends[:-1]))
    made.kept = block  # type: ignore[attr-defined]
    return [block[a:b].reshape(shape) for (a, b), shape in zip(pairwise(ends), shapes, strict=True)], made


def library() -> Library | None:
    """The kernels to use; None where numpy is to do their work.

    Raises
    ------
    ValueError
        Where the environment variable asks for kernels that there are not.
    """
    return _chosen(os.environ.get(CHOICE, ""))


@cache
def _chosen(asked: str) -> Library | None:
    if asked == "numpy":
        return None
    kinds = [asked] if asked else KINDS
    found = next((library for kind in kinds if (library := load(kind))), None)
    if asked and found is None:
        raise ValueError(f"{CHOICE}={asked}: there are no such kernels here (numpy, or one of {', '.join(KINDS)})")
    return found


@cache
def load(kind: str) -> Library | None:
    """The kernels of one kind; None where there are none, none of these sources, or none for this processor."""
    path = extension()
    if path is None:
        return None
    opened = ctypes.CDLL(str(path))
    if not _is_of_these_sources(opened):
        log.warning("%s was built from other sources and is left alone: install again", path)
        return None
    tables = []
    for function in (opened.labrum_kernels, opened.labrum_wave_kernels):
        function.restype, function.argtypes = POINTER(_Table), [c_char_p]
        tables.append(function(kind.encode()))
    return Library(kind, *(table.contents for table in tables)) if all(tables) else None


def _is_of_these_sources(opened: ctypes.CDLL) -> bool:
    """Does the table have the size that it is read with?"""
    size = getattr(opened, "labrum_table_size", None)
    if size is None:
        return False
    size.restype = c_int64
    return bool(size() == ctypes.sizeof(_Table))


def extension() -> Path | None:
    """The file of the compiled extension, beside this one; None where it was not built."""
    if os.environ.get(BUILD):
        return Path(os.environ[BUILD])
    names = [Path(__file__).with_name(STEM + suffix) for suffix in EXTENSION_SUFFIXES]
    return next((path for path in names if path.exists()), None)


def described() -> str:
    """What does the work of the kernels, in words."""
    found = library()
    if found is not None:
        return f"compiled kernels ({found.kind})"
    if extension() is None:
        return "numpy kernels (no compiled ones were built)"
    asked = os.environ.get(CHOICE) == "numpy"
    return f"numpy kernels ({CHOICE}=numpy)" if asked else "numpy kernels (the compiled ones do not fit: install again)"


def floats(array: NDArray[Any], shape: tuple[int, ...] | None = None) -> NDArray[np.float64]:
    """The array as contiguous numbers of double precision; itself where it is. `ValueError` for another shape."""
    if shape is not None and array.shape != shape:
        raise ValueError(f"an array of shape {array.shape} came where one of {shape} is needed")
    return np.ascontiguousarray(array, dtype=np.float64)
