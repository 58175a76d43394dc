"""Every sparse direct solver that can be had as a wheel, under one handle; those not installed are left out.

They measure what one factorisation and one back-substitution cost at least. A solver whose package is missing, or
that cannot be loaded, is not there; one that cannot take a matrix says so when it is asked (`Unsuited`).
``requirements.txt`` beside this file names the packages. Pardiso is called through `pypardiso`, CHOLMOD through
`cvxopt`, UMFPACK and KLU through `kvxopt`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from typing import Any

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu

from labrum.meshes.arrays import Floats


class Unsuited(RuntimeError):
    """This solver cannot factorise this matrix: not positive definite, say, or singular to it."""


@dataclass(frozen=True)
class Solver:
    """One way to solve A x = b.

    ``fresh`` takes a matrix in the solver's own form and b (n,), and gives x and the analysis; ``again`` solves with a
    matrix of the same pattern and what was kept of the analysis. ``convert`` puts a matrix into that form and ``keep``
    makes ready, from form and analysis, what ``again`` needs: neither is counted as the solver's work. ``symmetric``
    says that it looks at one triangle only. Each may raise `Unsuited`.
    """

    name: str
    convert: Callable[[sp.csc_matrix], Any]
    fresh: Callable[[Any, Floats], tuple[Floats, Any]]
    again: Callable[[Any, Floats, Any], Floats]
    keep: Callable[[Any, Any], Any] = lambda form, analysis: analysis
    symmetric: bool = False


def available() -> list[Solver]:
    """Every solver that can be loaded here; SuperLU comes with SciPy and always can."""
    return [solver for make in FAMILIES for solver in _loaded(make)]


def missing() -> list[str]:
    """Families of solvers that cannot be loaded here, so that nobody takes the fastest of the rest for the fastest."""
    return [make.__name__.strip("_") for make in FAMILIES if not _loaded(make)]


def _loaded(make: Callable[[], list[Solver]]) -> list[Solver]:
    try:
        return make()
    except (ImportError, OSError):  # not installed, or its library does not load
        return []


SYMMETRIC_MODE: dict[str, Any] = {
    "permc_spec": "MMD_AT_PLUS_A", "diag_pivot_thresh": 0.0, "options": {"SymmetricMode": True},
}  # fmt: skip


def _superlu() -> list[Solver]:
    return [_superlu_as("superlu symmetric", SYMMETRIC_MODE), _superlu_as("superlu", {})]


def _superlu_as(name: str, options: dict[str, Any]) -> Solver:
    """SuperLU itself reuses nothing; but a matrix whose rows and columns are put in order once needs no ordering."""
    ordered = {**options, "permc_spec": "NATURAL"}

    def fresh(matrix: sp.csc_matrix, b: Floats) -> tuple[Floats, Any]:
        factors = _raising(RuntimeError, partial(splu, matrix, **options))
        return factors.solve(b), factors.perm_c

    def again(matrix: sp.csc_matrix, b: Floats, kept: Any) -> Floats:
        order, indices, pointers, slots = kept
        moved = sp.csc_matrix((matrix.data[slots], indices, pointers), shape=matrix.shape)
        x = np.empty_like(b)
        x[order] = _raising(RuntimeError, partial(splu, moved, **ordered)).solve(b[order])
        return x

    return Solver(name, lambda matrix: matrix, fresh, again, _placed)


def _placed(matrix: sp.csc_matrix, permutation: NDArray[np.int32]) -> tuple[Any, ...]:
    """The order of rows and columns, and where each entry of a matrix of this pattern then stands."""
    order = np.argsort(permutation)
    numbers = sp.csc_matrix((np.arange(1.0, matrix.nnz + 1), matrix.indices, matrix.indptr), shape=matrix.shape)
    moved = sp.csc_matrix(numbers[order][:, order])
    moved.sort_indices()  # SuperLU would, and in these arrays, without the entries' places
    return order, moved.indices, moved.indptr, moved.data.astype(np.int64) - 1


def _pardiso() -> list[Solver]:
    wrapper = import_module("pypardiso.pardiso_wrapper")

    class Pardiso(wrapper.PyPardisoSolver):  # type: ignore[name-defined]
        """Gives its memory back when it is no longer needed, which its base class leaves to the caller."""

        def __del__(self) -> None:
            self.free_memory(everything=True)

    kinds = [("general", GENERAL), ("indefinite", -2), ("positive", 2)]
    orders = [("metis", 2), ("minimum degree", 0)]
    return [
        _pardiso_as(partial(Pardiso, mtype=number), wrapper.PyPardisoError, f"pardiso {kind}, {order}", number, code)
        for kind, number in kinds
        for order, code in orders
    ]


GENERAL = 11  # Pardiso's number for matrices without symmetry; its others here look at the upper triangle only


def _pardiso_as(make: Callable[[], Any], error: type[Exception], name: str, kind: int, ordering: int) -> Solver:
    pivots = 13 if kind == GENERAL else 8  # Pardiso's own defaults; scaling and matching, too, for general matrices
    settings = {1: 1, 2: ordering, 10: pivots, 11: int(kind == GENERAL), 13: int(kind == GENERAL)}

    def fresh(matrix: sp.csr_matrix, b: Floats) -> tuple[Floats, Any]:
        pardiso = make()
        for place, value in settings.items():
            pardiso.set_iparm(place, value)
        return called(pardiso, 13, matrix, b), pardiso

    def again(matrix: sp.csr_matrix, b: Floats, pardiso: Any) -> Floats:
        return called(pardiso, 23, matrix, b)

    def called(pardiso: Any, phase: int, matrix: sp.csr_matrix, b: Floats) -> Floats:
        pardiso.set_phase(phase)
        x = _raising(error, lambda: pardiso._call_pardiso(matrix, b[:, None]))
        return np.asarray(x[:, 0])

    def convert(matrix: sp.csc_matrix) -> sp.csr_matrix:
        form = sp.csr_matrix(matrix if kind == GENERAL else sp.triu(matrix))
        form.sort_indices()
        return form

    return Solver(name, convert, fresh, again, symmetric=kind != GENERAL)


def _cholmod() -> list[Solver]:
    cvxopt, cholmod = import_module("cvxopt"), import_module("cvxopt.cholmod")
    kinds = [("supernodal", 2), ("simplicial", 0)]
    return [_cholmod_as(cvxopt, cholmod, f"cholmod {kind}", code) for kind, code in kinds]


def _cholmod_as(cvxopt: Any, cholmod: Any, name: str, supernodal: int) -> Solver:
    def fresh(matrix: Any, b: Floats) -> tuple[Floats, Any]:
        cholmod.options["supernodal"] = supernodal
        symbolic = cholmod.symbolic(matrix)
        return again(matrix, b, symbolic), symbolic

    def again(matrix: Any, b: Floats, symbolic: Any) -> Floats:
        cholmod.options["supernodal"] = supernodal
        _raising(ArithmeticError, lambda: cholmod.numeric(matrix, symbolic))
        x = cvxopt.matrix(b)
        cholmod.solve(symbolic, x)
        return np.array(x)[:, 0]

    return Solver(name, lambda matrix: _cvx(cvxopt, sp.tril(matrix)), fresh, again, symmetric=True)


def _cvx(package: Any, matrix: sp.spmatrix) -> Any:
    entries = sp.coo_matrix(matrix)
    rows, columns = (package.matrix(part.astype(np.int64)) for part in (entries.row, entries.col))
    return package.spmatrix(package.matrix(entries.data), rows, columns, matrix.shape)


def _kvxopt() -> list[Solver]:
    package = import_module("kvxopt")
    umfpack, klu = import_module("kvxopt.umfpack"), import_module("kvxopt.klu")
    return [_umfpack_as(package, umfpack), _klu_as(package, klu)]


def _umfpack_as(package: Any, umfpack: Any) -> Solver:
    def again(matrix: Any, b: Floats, symbolic: Any) -> Floats:
        numeric = _raising(ArithmeticError, lambda: umfpack.numeric(matrix, symbolic))
        x = package.matrix(b)
        umfpack.solve(matrix, numeric, x)
        return np.array(x)[:, 0]

    def fresh(matrix: Any, b: Floats) -> tuple[Floats, Any]:
        symbolic = umfpack.symbolic(matrix)
        return again(matrix, b, symbolic), symbolic

    return Solver("umfpack", partial(_cvx, package), fresh, again)


def _klu_as(package: Any, klu: Any) -> Solver:
    def again(matrix: Any, b: Floats, symbolic: Any) -> Floats:
        numeric = _raising(ArithmeticError, lambda: klu.numeric(matrix, symbolic))
        x = package.matrix(b)
        klu.solve(matrix, symbolic, numeric, x)
        return np.array(x)[:, 0]

    def fresh(matrix: Any, b: Floats) -> tuple[Floats, Any]:
        symbolic = klu.symbolic(matrix)
        return again(matrix, b, symbolic), symbolic

    return Solver("klu", partial(_cvx, package), fresh, again)


def _qdldl() -> list[Solver]:
    qdldl = import_module("qdldl")

    def fresh(matrix: sp.csc_matrix, b: Floats) -> tuple[Floats, Any]:
        factors = _raising((RuntimeError, ValueError), lambda: qdldl.Solver(matrix, upper=True))
        return factors.solve(b), factors

    def again(matrix: sp.csc_matrix, b: Floats, factors: Any) -> Floats:
        _raising((RuntimeError, ValueError), lambda: factors.update(matrix, upper=True))
        return np.asarray(factors.solve(b))

    def convert(matrix: sp.csc_matrix) -> sp.csc_matrix:
        form = sp.csc_matrix(sp.triu(matrix))
        form.sort_indices()
        return form

    return [Solver("qdldl", convert, fresh, again, symmetric=True)]


FAMILIES: tuple[Callable[[], list[Solver]], ...] = (_superlu, _pardiso, _cholmod, _kvxopt, _qdldl)


def _raising(kinds: type[BaseException] | tuple[type[BaseException], ...], call: Callable[[], Any]) -> Any:
    """Call, and turn the solver's own complaint into `Unsuited`."""
    try:
        return call()
    except kinds as error:
        raise Unsuited(str(error)) from error
