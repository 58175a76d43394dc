r"""Small oscillations of the pressed lip inside the rim, and how far a small pressure on its front moves it.

About an equilibrium u0 small motions u0 + e phi sin(omega t) obey

    (K - omega^2 M) phi = 0,   phi_i^T M phi_j = delta_ij,

K the exact tangent with the rim standing still and contact held, M the consistent mass of the tissue at rest. Pressures
have no mass, so their elimination is exact, in incompressible layers too; centre nodes keep theirs.

**Contact held**: touching nodes go on touching. With friction they do not slide either: an oscillation would turn a
slip around, and that takes a finite force. Without, they slide along the curve, whose bending is in K.

**The front** is the lip's face inside contact with the rim. Its load f is a pressure along the axis, per area of the
deformed face as seen along it. An endless number of modes share the front's static answer,

    f^T K^-1 f = sum over j of (phi_j^T f)^2 / omega_j^2,

so the mode that has the largest share is known for certain once what is left over is smaller. It is the one that the
air in the cup would drive best.

Breath leaves K slightly unsymmetric where its share varies along an edge. The modes are those of the symmetric part:
what is left out changes an eigenvalue only in the second order (its first-order change phi^T (K - K^T) phi / 2 is
zero); two modes close to each other are moved by more, 0.3 % in a case of 15 kPa. The static answer is K's own.
Damping is left out; the tissue's is large.

Units: N, mm, MPa, s and therefore t (1 t/mm3 = 1e12 kg/m3), so that omega^2 = N/mm / t is per s2. Sources: the
principle of virtual work; Bathe 1996, *Finite Element Procedures*, 10 and 11 (consistent mass, shift and invert; from
memory); the sum over the modes is Parseval's for the M-orthonormal phi_j.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.grids.quadratic import EDGES
from labrum.simulate.contact.air import GAUSS, AirPressure
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.small_loads import SmallLoads
from labrum.simulate.load_path.transfer import displacement_at
from labrum.simulate.outcome import Mode

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

DENSITY = 1040e-12  # t/mm3: 1040 kg/m3, soft tissue (a usual value in models of face and lips; from memory)
READ_AT_MM = 2.0  # resting radius of the ring whose travel is read, or the opening's margin where that is wider
TOP = EDGES[2]  # local nodes of an element's top edge, inwards: tissue on the left
ONE_KPA = 1e-3  # MPa
FIRST_MODES, MOST_MODES = 6, 96
TOLERANCE = 1e-9  # relative, of an eigenvalue


@dataclass(frozen=True)
class Oscillations:
    """M-orthonormal modes: ``squares`` (k,) omega^2, 1/s2, ascending; ``shapes`` (k, n, 2)."""

    squares: Floats
    shapes: Floats

    def shares(self, load: Floats) -> Floats:
        """(k,) parts (phi^T f)^2 / omega^2, N mm, of the work f^T K^-1 f of a load (n, 2) N."""
        return np.asarray(np.einsum("kni,ni->k", self.shapes, load) ** 2 / self.squares)


@dataclass(frozen=True)
class Liveliness:
    """``compliance`` um per kPa, and the ``mode`` that the front's load drives best; None where there is none."""

    compliance: float | None = None
    mode: Mode | None = None


def liveliness(model: Model, state: State, density: float = DENSITY) -> Liveliness:
    """How the pressed lip answers a small pressure on its front, at rest and in vibration; ``density`` t/mm3.

    Raises ``numpy.linalg.LinAlgError`` where the tangent is singular or the modes do not converge.
    """
    load = front_load(model, state)
    if not load.any():
        return Liveliness()
    held = SmallLoads.on(model, held_still(model, state))
    answer = held.displacements(load)
    grid = model.elements.grid
    ring = np.array([[max(READ_AT_MM, grid.columns[0]), 0.0]])
    compliance = -1e3 * ONE_KPA * displacement_at(grid, answer, ring)[0, 1]
    return Liveliness(float(compliance), driven_mode(held.symmetrised(), load, density))


def front_load(model: Model, state: State) -> Floats:
    """(n, 2) N of a pressure of 1 MPa along the axis, towards the teeth, on the front inside contact with the rim."""
    return front_air(model, state).nodal_forces(state.u) * np.array([0.0, 1.0])


def front_air(model: Model, state: State) -> AirPressure:
    """Air of 1 MPa on that front, from the axis or the opening to the first node that touches."""
    grid, touching = model.elements.grid, np.nonzero(state.pairs[0].active)[0]
    columns = np.arange((touching[0] if len(touching) else grid.nodes_per_row - 1) // 2)
    top = (columns + 1) * (len(grid.rows) - 1) - 1
    return AirPressure(grid, top, np.tile(TOP, (len(top), 1)), np.ones((len(top), len(GAUSS))), 1.0)


def held_still(model: Model, state: State) -> State:
    """The state with contact held: what touches goes on touching, and where there is friction it does not slide."""
    pairs = tuple(
        replace(status, stuck=status.active & (pair.friction > 0.0))
        for pair, status in zip(model.pairs, state.pairs, strict=True)
    )
    return replace(state, pairs=pairs)


def driven_mode(held: SmallLoads, load: Floats, density: float = DENSITY) -> Mode | None:
    """The mode with the largest part in the static answer to ``load`` (n, 2) N; ``held`` has to be symmetric.

    None where no mode stands out among the first `MOST_MODES`, or where the equilibrium is none that small motions
    stay near to.
    """
    answer = held.displacements(load)
    whole, count = float(np.vdot(load, answer)), FIRST_MODES
    while count <= MOST_MODES:
        found = oscillations(held, count, density, answer)
        shares = found.shares(load) / whole
        best = int(np.argmax(shares))
        if found.squares.min() <= 0.0:
            return None
        if shares[best] >= 1.0 - shares.sum():
            shape = found.shapes[best] / np.abs(found.shapes[best]).max()
            return Mode(float(np.sqrt(found.squares[best]) / (2.0 * np.pi)), float(shares[best]), shape)
        count *= 2
    return None


def oscillations(held: SmallLoads, count: int, density: float = DENSITY, start: Floats | None = None) -> Oscillations:
    """The ``count`` slowest modes, by scipy's Lanczos iteration on K^-1 M, which the factorised tangent serves.

    ``start`` (n, 2) is a first guess, such as the static answer to a load that matters. Raises
    ``numpy.linalg.LinAlgError`` where the iteration does not converge.
    """
    from scipy.sparse.linalg import ArpackError, LinearOperator, eigsh  # slow to load

    from labrum.simulate.weak_form import WeakForm  # loads scikit-fem, which a solve without it does not need

    basis = _free_motions(held)
    form = WeakForm(held.model.elements.grid, held.model.elements.tissue)
    mass = (basis.T @ form.mass(density) @ basis).tocsr()
    shape = (-1, 2)

    def inverse(force: Floats) -> Floats:
        return np.asarray(basis.T @ held.displacements((basis @ force).reshape(shape)).ravel())

    solver = LinearOperator(mass.shape, matvec=inverse, dtype=np.float64)
    first = np.ones(mass.shape[0]) if start is None else basis.T @ start.ravel()
    try:
        squares, vectors = eigsh(mass, count, mass, 0.0, OPinv=solver, v0=first, tol=TOLERANCE)
    except ArpackError as error:
        raise np.linalg.LinAlgError(f"the modes did not converge: {error}") from error
    order = np.argsort(squares)
    return Oscillations(squares[order], np.stack([(basis @ v).reshape(shape) for v in vectors.T[order]]))


def _free_motions(held: SmallLoads) -> csr_matrix:
    """(2 n, m) orthonormal columns: every motion that supports and contact leave a node, centre nodes included."""
    from scipy.sparse import csr_matrix

    system, count = held.system, len(held.system.known)
    turned = np.tile(np.eye(2), (count, 1, 1))
    turned[system.directions.nodes] = system.directions.trial
    rows = np.arange(2 * count).reshape(-1, 2)
    at = np.broadcast_to(rows[:, :, None], turned.shape), np.broadcast_to(rows[:, None, :], turned.shape)
    whole = csr_matrix((turned.ravel(), (at[0].ravel(), at[1].ravel())), shape=(2 * count, 2 * count))
    free = ~system.known
    free[held.model.elements.grid.quads[:, 8]] = True  # known to the condensed system only
    return whole[:, np.nonzero(free.ravel())[0]]
