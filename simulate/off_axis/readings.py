"""What a harmonic changes under the rim: pressure, load, and the rim's stiffness against tilt and shift."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.contact.air import SHAPE, SLOPE, WEIGHTS
from labrum.simulate.equilibrium.traction import Traction, surface_mass, traction
from labrum.simulate.off_axis.harmonic import Base, Cause, Response
from labrum.simulate.off_axis.motions import Motion
from labrum.simulate.postures.found import PressureWave

HUMP, LEAST_NODES = 0.97, 5  # of the peak, above which a node belongs to its hump; nodes that tell a parabola
LEAST_WIDTH = 1e-6  # mm


def contact_of(base: Base) -> Traction:
    """The base state's contact with the rim."""
    return traction(base.model, base.state)


def pressure_wave(base: Base, contact: Traction, response: Response, cause: Cause, order: int) -> PressureWave:
    """Change of the Cauchy pressure at the surface's places on the rim.

    A node's reaction is the integral of pressure times shape function, so with the surface's mass matrix M the change
    with the tissue solves M dp = d(reaction) - dM p over the touching nodes, dM from the surface's stretching. The
    pressure's pattern belongs to the rim's shape, under which tissue slides by w: at a fixed place on the rim the
    change is dp - dp/ds w. Seen so it is smooth where the rim's curvature jumps, and holds for far larger waves.
    """
    nodes, on = base.model.pairs[0].nodes, np.nonzero(contact.active)[0]
    wanted = response.reaction[nodes] - _stretched_load(contact, response.u[nodes], order)
    change = np.zeros(len(nodes))
    if len(on) > 1:
        change[on] = np.linalg.solve(surface_mass(contact.place)[np.ix_(on, on)], wanted[on])
        along = np.gradient(contact.pressure[on], contact.foot[on])
        change[on] -= along * slid(base, response, cause)
    force = float(np.sum(contact.reaction * -contact.normal[:, 1] - contact.drag * contact.normal[:, 0]))
    load = float(-response.forces[nodes[on], 2].sum()) / force
    return PressureWave(order, contact.place[:, 0], contact.pressure, change, contact.active, load)


def smoothed(wave: PressureWave, contact: Traction, width: float) -> PressureWave:
    """The wave averaged along the rim with a bell of standard deviation ``width`` mm.

    Where tissue slides far under a steep pressure, the change at a fixed place is the small difference of two large
    ones, each with its own grid error; they average out over some elements. Nothing is done where it slides nowhere.
    """
    if width < LEAST_WIDTH:
        return wave
    on = np.nonzero(wave.active)[0]
    along, change = contact.foot[on], wave.change.copy()
    weight = np.exp(-0.5 * ((along[:, None] - along[None, :]) / width) ** 2) * np.abs(np.gradient(along))
    change[on] = weight @ wave.change[on] / weight.sum(axis=1)
    return replace(wave, change=change)


def slid(base: Base, response: Response, cause: Cause) -> Floats:
    """(m,) how far the touching nodes slide along the rim in the section, mm."""
    touch = base.touches[0]
    moved = response.u[touch.at]
    if cause.motion is not None and cause.moves == 0:
        moved = moved - cause.motion.at(touch.places)
    return np.einsum("ki,ki->k", touch.tangent, moved[:, ::2])


def _stretched_load(contact: Traction, u: Floats, order: int) -> Floats:
    """(k,) integral of the base pressure times shape function over the change of area that (U, V, W) brings, N."""
    first = np.arange(0, len(u) - 2, 2)
    nodes = first[:, None] + np.arange(3)
    place, moved, pressure = contact.place[nodes], u[nodes], contact.pressure[nodes] @ SHAPE.T
    slope, change = np.einsum("ga,eai->egi", SLOPE, place), np.einsum("ga,eai->egi", SLOPE, moved[..., ::2])
    length, r = np.hypot(slope[..., 0], slope[..., 1]), place[..., 0] @ SHAPE.T
    around = (moved[..., 0] + order * moved[..., 1]) @ SHAPE.T
    area = r * np.einsum("egi,egi->eg", slope, change) / length + length * around
    parts = 2.0 * np.pi * np.einsum("g,ga,eg,eg->ea", WEIGHTS, SHAPE, pressure, area)
    return np.asarray(np.bincount(nodes.ravel(), parts.ravel(), len(u)), dtype=np.float64)


def at_peak(contact: Traction, values: Floats) -> float:
    """Nodal ``values`` (k,) where the base pressure peaks: parabolas through values and pressure over the peak's hump.

    The node or the edge on which an interpolant happens to be largest jumps about with the grid: values that slope
    under the peak scatter by one or two percent when read there, by some tenths when read so.
    """
    top, middle = float(contact.pressure.max()), int(np.argmax(contact.pressure))
    low = middle - np.argmin(contact.pressure[middle::-1] > HUMP * top) + 1
    high = middle + np.argmin(contact.pressure[middle:] > HUMP * top)
    if high - low < LEAST_NODES:
        return float(values[middle])
    along = contact.foot[low:high] - contact.foot[middle]
    bend, slope, _ = np.polyfit(along, contact.pressure[low:high], 2)
    place = np.clip(-0.5 * slope / bend, along.min(), along.max()) if bend < 0.0 else 0.0
    return float(np.polyval(np.polyfit(along, values[low:high], 2), place))


def work_of(base: Base, response: Response, cause: Motion, motion: Motion, height: float) -> float:
    """The force or moment on the rim, per unit of ``cause``, that works on a rigid ``motion`` of order one.

    N mm per radian for a tilt about the rim's own centre, on the axis at ``height`` mm; N for a shift; the rim's load
    stays axial and goes through that centre, which moves with the rim. Without friction it is the second derivative of
    the energy, so cause and motion may change places.
    """
    touch = base.touches[0]
    change, u = response.forces[touch.at], response.u[touch.at] - cause.at(np.array([[0.0, height]]))
    moved = np.einsum("ki,ki->", change, motion.at(touch.places))
    # forces work on a turn by f . (omega x du) = -du . (omega x f) more where their places have moved
    moved -= np.einsum("ki,ki->", u, motion.turned(touch.places, touch.forces))
    return 0.5 * float(moved)


def felt_offset(base: Base, response: Response) -> float:
    """How far the centre of the axial load moves towards theta = 0, mm per unit of the cause."""
    touch = base.touches[0]
    change, u = response.forces[touch.at], response.u[touch.at]
    moment = touch.places[:, 0] @ change[:, 2] + touch.forces[:, 1] @ (u[:, 0] - u[:, 1])
    return 0.5 * float(moment / touch.forces[:, 1].sum())
