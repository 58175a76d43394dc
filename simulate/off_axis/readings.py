"""What a harmonic changes under the rim: pressure, load, and the rim's stiffness against tilt and shift.

And how sure it is. A change of pressure read at a place scatters from node to node where the rim's curvature jumps,
and near an end of contact. Averaged over some nodes it does not, but then a sharp hump is flattened: the difference
tells how well the grid knows it, from one grid alone. On 55 random designs it went with the true error. Where pressure
goes last, a narrower average, places a little further from the ends and a coarser grid tell it: on 100 others each of
these saw errors that the two others did not.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.simulate.contact.air import SHAPE, SLOPE, WEIGHTS
from labrum.simulate.equilibrium.traction import Traction, peak, surface_mass, traction
from labrum.simulate.off_axis.harmonic import Base, Cause, Response
from labrum.simulate.off_axis.motions import Motion
from labrum.simulate.postures.found import OffAxis, Opposed, PressureWave
from labrum.simulate.readings.pressure import between_nodes

HUMP, LEAST_NODES = 0.97, 5  # of the peak, above which a node belongs to its hump; nodes that tell a parabola
LEAST_WIDTH = 1e-6  # mm
BELL, NARROW_BELL = 0.02, 0.01  # of the contact's width, over which a wave is averaged
ENDS, STATIONS = 0.1, 201  # of that width, at either end, where the wave has its root; places between
FURTHER = 0.12  # of that width, from where a bound is read again
OF_FURTHER = 0.5  # of what that moves it by
AT_THE_TOP = 0.002  # of a peak: so much below it may be it as well
OF_ADDED = 0.1  # of what a wave adds to a peak on an arch, always unsure
OF_ADDED_AT_END, NEAR_END = 1.5, 0.05  # the same within so much of the contact's width from an end
TIMES_READ_ON_ARCH = 3.0
GRIPPED = 0.4  # of all that where tissue slides nowhere under the rim: then no large changes are taken off each other
KPA = 1e3


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
    on, change = wave.active, wave.change.copy()
    change[on] = bell_averaged(contact.foot[on], wave.change[on], width)
    return replace(wave, change=change)


def bell_averaged(along: Floats, values: Floats, width: float) -> Floats:
    """``values`` (k,) at places ``along`` (k,), averaged with a bell of standard deviation ``width``."""
    weight = np.exp(-0.5 * ((along[:, None] - along[None, :]) / width) ** 2) * np.abs(np.gradient(along))
    return np.asarray(weight @ values / weight.sum(axis=1))


def bounds(wave: PressureWave, bell: float = BELL, ends: float = ENDS) -> tuple[float, float]:
    """The amounts to which a wave holds, and at which it lifts the ring off, see `labrum.simulate.off_axis.answers`.

    Away from the ends, where the wave has a root, and for the lift where pressure goes with the load. Pressure and wave
    are averaged with a bell and read at places that are shares of the contact's width: read at nodes, the first past
    an end's share decides, or one where the rim's curvature jumps, and the bound moves by a tenth from grid to grid.
    ``bell`` and ``ends`` are such shares: the bell's, and what is left out at either end.
    """
    radius = wave.radius[wave.active]
    if len(radius) < 3:
        return math.inf, math.inf
    width = float(radius[-1] - radius[0])
    places = np.linspace(radius[0] + ends * width, radius[-1] - ends * width, STATIONS)
    base, change = (
        np.interp(places, radius, bell_averaged(radius, k[wave.active], bell * width)) for k in (wave.base, wave.change)
    )
    rate = np.divide(change, base, out=np.zeros_like(base), where=base > 0.0)
    along = rate[rate * wave.load > 0.0]
    holds = 1.0 / float(np.abs(rate).max(initial=1e-12))
    return holds, max(holds, 1.0 / float(np.abs(along).min(initial=1e12)) if len(along) else np.inf)


def peak_under(wave: PressureWave, amount: float, towards: float) -> tuple[float, float]:
    """Largest pressure, MPa, and its radius, mm, where the wave's cosine is ``towards``."""
    value, at = peak(wave.pressure(amount, towards), wave.active)
    return value, float(np.interp(at, np.arange(len(wave.radius)), wave.radius))


def read_otherwise(found: OffAxis, contact: Traction) -> dict[str, float]:
    """How far each measure that is read at a place moves, in its own unit, where its wave is averaged with a bell.

    On an arch what the wave adds counts besides: it is a difference of large changes there, most of all at the bite.
    """
    tilt = found.tilted
    again = at_peak(contact, across(tilt.tilt, BELL).change) / (at_peak(contact, tilt.tilt.change) or math.inf)
    out = {
        "peak_percent_per_degree": abs(tilt.peak_percent_per_degree * (again - 1.0)),
        "tilt_for_ten_percent_deg": abs(tilt.tilt_for_ten_percent_deg * (again - 1.0)),
        "tilt_to_lift_deg": math.degrees(lift_read_otherwise(tilt.tilt)),
    }
    if found.leaning is not None:
        out["tilted_peak_kpa"] = _moved(found.leaning, 1.0, BELL)
        out["tilted_peak_radius_mm"] = _flat_top(found.leaning)
    if found.lips is not None:
        out["lower_lip_peak_kpa"], out["upper_lip_peak_kpa"] = _both(found.lips.pressures, NARROW_BELL, _moved)
    if found.arch is not None:
        out["corners_peak_kpa"], out["front_teeth_peak_kpa"] = (
            (GRIPPED if found.grips else 1.0) * moved for moved in _both(found.arch, BELL, _moved_on_arch)
        )
    return out


def lift_read_otherwise(wave: PressureWave) -> float:
    """How far the amount at which a wave lifts the ring off moves where it is read otherwise.

    By all of it where another reading lifts nothing off; nought where this one does not.
    """
    it, *others = (bounds(wave, *how)[1] for how in ((BELL, ENDS), (NARROW_BELL, ENDS), (BELL, FURTHER)))
    if not math.isfinite(it):
        return 0.0
    narrow, further = (abs(other - it) if math.isfinite(other) else it for other in others)
    return narrow + OF_FURTHER * further


def across(wave: PressureWave, share: float) -> PressureWave:
    """The wave averaged with a bell of that ``share`` of the contact's width."""
    radius, change = wave.radius[wave.active], wave.change.copy()
    if len(radius) > 1:
        change[wave.active] = bell_averaged(radius, wave.change[wave.active], share * float(radius[-1] - radius[0]))
    return replace(wave, change=change)


def _both(of: Opposed, bell: float, moved: Callable[[Opposed, float, float], float]) -> tuple[float, float]:
    return moved(of, 1.0, bell), moved(of, -1.0, bell)


def _moved(of: Opposed, towards: float, bell: float) -> float:
    """How far a peak moves, kPa, where its wave is averaged."""
    one, other = (peak_under(wave, of.amount, towards)[0] for wave in (of.wave, across(of.wave, bell)))
    return KPA * abs(one - other)


def _moved_on_arch(of: Opposed, towards: float, bell: float) -> float:
    """How unsure a peak on an arch is, kPa."""
    top, radius = peak_under(of.wave, of.amount, towards)
    added, touching = KPA * abs(top - peak_under(of.wave, 0.0, 1.0)[0]), of.wave.radius[of.wave.active]
    from_end = min(radius - touching[0], touching[-1] - radius)
    at_end = from_end < NEAR_END * (touching[-1] - touching[0])
    return TIMES_READ_ON_ARCH * _moved(of, towards, bell) + (OF_ADDED + at_end * OF_ADDED_AT_END) * added


def _flat_top(of: Opposed) -> float:
    """How far from a peak, mm in radius, pressure is all but as large."""
    pressure, on = of.wave.pressure(of.amount, 1.0), np.nonzero(of.wave.active)[0]
    radius, pressure = (between_nodes(k, int(on[0]), int(on[-1])) for k in (of.wave.radius, pressure))
    return float(np.abs(radius[pressure >= (1.0 - AT_THE_TOP) * pressure.max()] - of.peak_radius_mm).max())


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
