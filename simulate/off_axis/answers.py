"""What a pressed rim answers to tilt, shift, an arch of teeth and unlike lips; and how far the answer holds.

All is of first order about the pressed state. Two bounds are told. *Holds to*: where pressure, drawn on in a straight
line, is first gone inside the contact, away from its ends (`labrum.simulate.off_axis.readings.bounds`). *Lift*: where
it is gone at the last place across the rim, so that the ring of contact is broken. A round rim tilted in three
dimensions kept to the straight line within 0.3 % in its moment and 4 % in its peak up to 4 degrees, beyond what is told
here (3.1), and lost its pressure on the rising side at a rate that ends at 7.6, for 7.4. (The load per angle is no
guide: it falls as the pressure's square does.)

With friction the rim has come to rest: every touching node sticks. A tilt or a shift pushes one side of the ring on and
the other back, and what is pushed back sticks first; nodes that slipped home, some inwards and some outwards, would not
all go on slipping as they did.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.traction import Traction, peak
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import Listener, Pressed
from labrum.simulate.off_axis.arch import on_arch
from labrum.simulate.off_axis.harmonic import Base, Cause, Harmonic, Response
from labrum.simulate.off_axis.lips import stiffer, thicker
from labrum.simulate.off_axis.motions import Shift, Tilt, arch_relief
from labrum.simulate.off_axis.readings import (
    KPA,
    at_peak,
    bounds,
    contact_of,
    felt_offset,
    peak_under,
    pressure_wave,
    read_otherwise,
    slid,
    smoothed,
    work_of,
)
from labrum.simulate.postures.asked import Posture
from labrum.simulate.postures.found import OffAxis, Opposed, PressureWave, Tilted, UnlikeLips
from labrum.simulate.problem import NotConverged, Problem

DEGREE = math.pi / 180.0
AVERAGED = 0.1  # of the way that tissue slides under the rim on an arch: what its pressure is averaged over


def off_axis(
    problem: Problem, pressed: Pressed, posture: Posture, listener: Listener, coarser: Pressed | None = None
) -> OffAxis:
    """Answer a posture about a pressed state; the arch, whose base state is sought anew, from a ``coarser`` one.

    That also tells how sure the tilt is that lifts the rim off.

    An arch on which no equilibrium is found is left out with a warning. Raises `NotConverged` where a wave's system is
    singular.
    """
    base = at_rest(pressed.model, pressed.equilibrium.state)
    contact, first = contact_of(base), _harmonic(base, 1, pressed)
    asked = [(stiffer, posture.lower_stiffer), (thicker, posture.lower_thicker)]
    causes = [make(base) for make, amount in asked if amount]
    tilted, others = _tilted(base, contact, first, causes)
    pairs = iter(zip(others, causes, strict=True))
    lips = [_lips(base, contact, *next(pairs), amount) if amount else None for _, amount in asked]
    arch, lost = None, tuple[str, ...]()
    if posture.arch_radius_mm is not None:
        try:
            arch = _arch(problem, coarser or pressed, pressed.fineness, posture.arch_radius_mm, listener)
        except NotConverged as stop:
            lost = (f"what the arch does is left out: {stop.cause}",)
    leaning = _opposed(tilted.tilt, posture.tilt_deg * DEGREE, -1.0) if posture.tilt_deg else None
    both = _together([one for one in lips if one is not None])
    warnings = (*lost, *_warnings(posture, tilted, lips, both, arch))
    grips = problem.load.friction > 0.0
    found = OffAxis(posture, tilted, leaning, lips[0], lips[1], both, arch, grips, warnings)
    moved = read_otherwise(found, contact)
    if coarser is not None:
        moved["tilt_to_lift_deg"] += _lift_moved_by_grid(tilted, coarser)
    return replace(found, moved=moved)


def at_rest(model: Model, state: State) -> Base:
    """A base in which every node that touches with friction sticks."""
    pairs = (
        replace(status, stuck=status.active.copy()) if pair.friction > 0.0 else status
        for pair, status in zip(model.pairs, state.pairs, strict=True)
    )
    return Base(model, replace(state, pairs=tuple(pairs)))


def _harmonic(base: Base, order: int, pressed: Pressed) -> Harmonic:
    try:
        return base.harmonic(order)
    except np.linalg.LinAlgError as error:
        raise NotConverged(
            pressed.equilibrium.force, f"the press is not stable against {order} waves around the circle ({error})",
            "press less, or stiffen the lip", pressed.history,
        ) from error  # fmt: skip


def _tilted(
    base: Base, contact: Traction, first: Harmonic, causes: list[Cause]
) -> tuple[Tilted, list[Response]]:
    tilt, shift = Tilt(-base.state.travel), Shift()
    tilting, shifting = Cause(tilt), Cause(shift)
    turned, moved, *others = first.answers([tilting, shifting, *causes])
    wave, shifted = (
        pressure_wave(base, contact, *pair, 1) for pair in ((turned, tilting), (moved, shifting))
    )  # fmt: skip
    top, change = peak(contact.pressure, contact.active)[0], at_peak(contact, wave.change)
    holds, lift = bounds(wave)
    sideways = work_of(base, moved, shift, shift, tilt.height)
    return Tilted(
        peak_kpa_per_degree=KPA * change * DEGREE,
        peak_percent_per_degree=100.0 * change / top * DEGREE,
        tilt_to_lift_deg=lift / DEGREE,
        holds_to_deg=holds / DEGREE,
        shift_holds_to_mm=min(bounds(shifted)[0], _slides_at(base, sideways)),
        rocking_stiffness_nmm_per_deg=work_of(base, turned, tilt, tilt, tilt.height) * DEGREE,
        sideways_stiffness_n_per_mm=sideways,
        tilt=wave,
        shift=shifted,
    ), others


def _lift_moved_by_grid(here: Tilted, coarser: Pressed) -> float:
    """How far the tilt that lifts the rim off, deg, lies from that on a coarser grid.

    All of it where nothing lifts it off there or the wave is not stable; nought where nothing does here.
    """
    if not math.isfinite(here.tilt_to_lift_deg):
        return 0.0
    base = at_rest(coarser.model, coarser.equilibrium.state)
    try:
        there = _tilted(base, contact_of(base), _harmonic(base, 1, coarser), [])[0].tilt_to_lift_deg
    except NotConverged:
        return here.tilt_to_lift_deg
    return min(here.tilt_to_lift_deg, abs(there - here.tilt_to_lift_deg))


def _slides_at(base: Base, sideways: float) -> float:
    """The shift, mm, at which the whole rim would slide on the lip; its friction is all that resists."""
    friction, force = base.model.pairs[0].friction, float(base.touches[0].reaction.sum())
    return friction * force / sideways if sideways > 0.0 else math.inf


def _opposed(wave: PressureWave, amount: float, other: float) -> Opposed:
    (here, radius), (there, _) = (peak_under(wave, amount, side) for side in (1.0, other))
    return Opposed(wave, amount, KPA * here, radius, KPA * there, *bounds(wave))


def _together(lips: list[UnlikeLips]) -> UnlikeLips | None:
    """All that makes the lips unlike at once: first-order answers add."""
    if len(lips) < 2:
        return lips[0] if lips else None
    waves = [one.pressures.wave for one in lips]
    amounts = [one.pressures.amount for one in lips]
    change = np.sum([amount * wave.change for amount, wave in zip(amounts, waves, strict=True)], axis=0)
    load = sum(amount * wave.load for amount, wave in zip(amounts, waves, strict=True))
    return UnlikeLips(
        lower_share=0.5 + sum(one.lower_share - 0.5 for one in lips),
        felt_offset_mm=sum(one.felt_offset_mm for one in lips),
        pressures=_opposed(replace(waves[0], change=change, load=load), 1.0, -1.0),
    )


def _lips(base: Base, contact: Traction, response: Response, cause: Cause, amount: float) -> UnlikeLips:
    wave = pressure_wave(base, contact, response, cause, 1)
    return UnlikeLips(
        lower_share=0.5 + amount * wave.load / math.pi,
        felt_offset_mm=amount * felt_offset(base, response),
        pressures=_opposed(wave, amount, -1.0),
    )


def _arch(problem: Problem, coarse: Pressed, fineness: Fineness, radius: float, listener: Listener) -> Opposed:
    """The arch's curvature over that asked for is the amount: one."""
    base = at_rest(*on_arch(problem, coarse, fineness, radius, listener))
    contact, cause = contact_of(base), Cause(arch_relief(radius), moves=1)
    (found,) = _harmonic(base, 2, coarse).answers([cause])
    width = AVERAGED * float(np.abs(slid(base, found, cause)).max())
    wave = smoothed(pressure_wave(base, contact, found, cause, 2), contact, width)
    return _opposed(wave, 1.0, -1.0)


def _warnings(
    posture: Posture, tilted: Tilted, lips: list[UnlikeLips | None], both: UnlikeLips | None, arch: Opposed | None
) -> tuple[str, ...]:
    out = []
    if posture.tilt_deg > tilted.holds_to_deg:
        out.append(
            f"a tilt of {posture.tilt_deg:g} degrees is beyond {tilted.holds_to_deg:.2g} degrees, "
            "up to which its answer holds"
        )
    out += _lip_warnings(lips, both)
    if arch is not None and arch.holds_to < 1.0:
        out.append(
            f"an arch of {posture.arch_radius_mm:g} mm is more bent than that of "
            f"{(posture.arch_radius_mm or 0.0) / arch.holds_to:.3g} mm, up to which its answer holds: "
            "its peaks tell a direction, no sizes"
        )
    return tuple(out)


def _lip_warnings(lips: list[UnlikeLips | None], both: UnlikeLips | None) -> list[str]:
    out = [
        f"a lower lip {100 * found.pressures.amount:g} % {what} than the mean is beyond "
        f"{100 * found.pressures.holds_to:.2g} %, up to which its answer holds"
        for what, found in zip(("stiffer", "thicker"), lips, strict=True)
        if found is not None and abs(found.pressures.amount) > found.pressures.holds_to
    ]
    if both is not None and not out and both.pressures.holds_to < abs(both.pressures.amount):
        out.append("the lower lip's stiffness and thickness together are beyond what the answer holds to")
    return out
