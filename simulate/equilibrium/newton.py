"""Semismooth Newton iteration for the equilibrium of tissue, contact and rim.

The rim is driven either by its travel or by its total force. An iteration that does not settle is an error
(`StepFailedError`), so that the caller shortens the step or refits the mesh; it is never a result.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Nearest
from labrum.simulate.contact.signorini import Frame, frame_of, updated
from labrum.simulate.equilibrium.linearised import Linearised, Step, linearise
from labrum.simulate.equilibrium.model import Model, State, contact_forces, look, rim_share
from labrum.simulate.tissue.elements import ElementForces

RESIDUAL_ROUNDING = 1e-9  # relative residual below which it need not fall any further
MOST_CHORDS = 3  # steps with the last matrix that may take the place of one with a matrix of its own
LEAST_FORCE_SHARE = 1e-4  # of the force scale, so that a body free of stress can be said to be in equilibrium
Report = Callable[[int, float, float, float], None]  # iteration, relative residual, force N, travel mm


@dataclass(frozen=True)
class Drive:
    """What the rim is told: a travel in mm, or a force in N over the full circle (exactly one is given).

    ``shortens``: where the first prediction would slide a node too far along an arc, stop at a shorter travel;
    ``declines``: do not take such a step at all (`StepTooLongError`), for where something else than the rim moved.
    """

    travel: float | None = None
    force: float | None = None
    shortens: bool = False
    declines: bool = False


@dataclass(frozen=True)
class Settings:
    """When an iteration is over: relative residual, greatest gap of a touching node in mm, number of iterations.

    ``fall`` is the most the last residual may be of the one before it: one that stagnates is near no equilibrium.
    ``least_ratio`` is the smallest volume ratio J a damped step may reach; ``turn`` rad the furthest a touching
    node may go along an arc of the rim in one iteration, and ``reach`` times that in a whole step; ``patience``
    iterations without progress end the step. ``chords_below`` is the relative residual below which steps with the last
    matrix may take the place of one with a matrix of its own: further from the end they led elsewhere, and did not pay.
    """

    residual: float = 1e-9
    fall: float = 1.0
    gap: float = 1e-9
    iterations: int = 14
    least_ratio: float = 0.05
    turn: float = 0.5
    reach: float = 2.4
    patience: int = 6
    rise: float = 2.0
    halvings: int = 3
    chords_below: float = 0.0


@dataclass(frozen=True)
class Equilibrium:
    """A converged state with the rim's force N, its stiffness dF/dtravel N/mm and the iteration's history.

    ``chords`` is how many of the last steps went by the matrix of the one before them.
    """

    state: State
    force: float
    stiffness: float
    residuals: tuple[float, ...]
    changes: tuple[int, ...]
    chords: int = 0


@dataclass(frozen=True)
class _Standing:
    """A state and what is read off it once: what each pair sees, local frames, nodal forces (n, 2), volume residuals
    (e, 3), the imbalance of both.
    """

    state: State
    seen: tuple[Nearest, ...]
    frames: tuple[Frame, ...]
    nodal: Floats
    volume: Floats
    imbalance: float


class StepFailedError(RuntimeError):
    """No equilibrium was found in this step; a shorter one, or another mesh, may find it."""


class StepTooLongError(StepFailedError):
    """The first prediction slides a node too far along an arc of the rim; ``share`` of the step would not."""

    def __init__(self, share: float) -> None:
        self.share = share
        super().__init__(f"the step is too long for the rim's arcs: {share:.3f} of it would do")


def equilibrate(model: Model, start: State, drive: Drive, settings: Settings, report: Report) -> Equilibrium:
    """Iterate from ``start`` to the equilibrium under ``drive``; raises `StepFailedError`."""
    if model.elements.smallest_ratio(start.u) <= 0.0:
        raise StepFailedError("the state carried over to this grid turns an element inside out")
    standing, system, chords = _stand(model, start, look(model, start)), None, 0
    residuals: list[float] = []
    changes: list[int] = []
    for iteration in range(settings.iterations + 1):
        state = standing.state
        force = rim_share(model, state, standing.nodal)
        residuals.append(max(standing.imbalance, _missed(state, drive, force)))
        report(iteration, residuals[-1], force, state.travel)
        _still_hopeful(residuals, settings)
        fell = not changes or residuals[-1] <= max(settings.fall * residuals[-2], RESIDUAL_ROUNDING)
        still = bool(changes) and changes[-1] == 0 and fell
        if still and residuals[-1] < settings.residual and _largest_gap(state, standing.frames) < settings.gap:
            stiffness = 0.0 if system is None else system.stiffness
            return Equilibrium(state, force, stiffness, tuple(residuals), tuple(changes), chords)
        if system is not None and _nearly_there(residuals, changes, settings):
            system, chords = system.with_forces_of(state, standing.frames, standing.nodal, standing.volume), chords + 1
        else:
            system = None  # one factorisation is out of memory before the next is made
            system, chords = _linearised(model, standing), 0
        step, drive = _next_step(model, system, standing, drive, settings, first=iteration == 0)
        share = _share_along_arcs(standing, model, step, settings)
        bound = settings.rise * standing.imbalance if iteration else np.inf
        standing, changed = _advanced(model, state, step, share, settings, bound)
        changes.append(changed)
    raise StepFailedError(f"{settings.iterations} iterations left a relative residual of {residuals[-1]:.1e}")


def _linearised(model: Model, standing: _Standing) -> Linearised:
    try:
        return linearise(model, standing.state, standing.frames, standing.nodal)
    except np.linalg.LinAlgError as error:
        raise StepFailedError(str(error)) from error


def _nearly_there(residuals: list[float], changes: list[int], settings: Settings) -> bool:
    """Will a few steps with the last matrix do? Each brings about half of what the last step brought.

    The same nodes touch then, or the matrix would be another one. A step may begin at rest to the last bit, with a
    residual of nought before: nothing is known then of how fast it falls.
    """
    if not 0.0 < residuals[-1] < settings.chords_below or residuals[-2] == 0.0 or changes[-1] > 0:
        return False
    fall = residuals[-1] / residuals[-2]
    return residuals[-1] * (2.0 * fall) ** MOST_CHORDS <= settings.residual


def _next_step(
    model: Model, system: Linearised, standing: _Standing, drive: Drive, settings: Settings, first: bool
) -> tuple[Step, Drive]:
    """The step, and the drive it goes by from now on."""
    if drive.force is not None and not system.stiffness:
        raise StepFailedError("no tissue bears the rim, so that no travel changes the force")
    step = _driven(system.step_to_force, system.step_to_travel, drive, standing.state)
    reach = settings.reach * _share_along_arcs(standing, model, step, settings)
    if first and reach < 1.0 and drive.declines:
        raise StepTooLongError(reach)
    if first and reach < 1.0 and drive.shortens:
        drive = Drive(travel=standing.state.travel + reach * step.travel, shortens=True)
        step = system.step_to_travel(reach * step.travel)
    return step, drive


def _still_hopeful(residuals: list[float], settings: Settings) -> None:
    """End a step that is lost, so that no time goes into iterations that lead nowhere."""
    if not np.isfinite(residuals[-1]):
        raise StepFailedError("the residual is not finite")
    # a residual within tolerance that did not end the step tells only that contact had not been seen yet
    telling = [np.inf if r < settings.residual else r for r in residuals]
    since_best = len(telling) - 1 - int(np.argmin(telling))
    if since_best >= settings.patience:
        raise StepFailedError(f"no progress beyond a relative residual of {min(telling):.1e}")


def _driven(to_force: Callable[[float], Step], to_travel: Callable[[float], Step], drive: Drive, state: State) -> Step:
    if drive.force is not None:
        return to_force(drive.force)
    assert drive.travel is not None
    return to_travel(drive.travel - state.travel)


def _largest_gap(state: State, frames: tuple[Frame, ...]) -> float:
    """Greatest distance, mm, by which a touching node misses its place on the curve."""
    gaps = [np.abs(f.gap[s.active]).max(initial=0.0) for f, s in zip(frames, state.pairs, strict=True)]
    return float(max(gaps + [np.abs(f.slide).max(initial=0.0) for f in frames]))


def _missed(state: State, drive: Drive, force: float) -> float:
    """The relative force, or the travel in mm, that the drive still misses."""
    if drive.force is not None:
        return abs(force - drive.force) / max(abs(drive.force), 1e-6)
    assert drive.travel is not None
    return abs(state.travel - drive.travel)


def _stand(model: Model, state: State, seen: tuple[Nearest, ...]) -> _Standing:
    frames = tuple(frame_of(p, s, k) for p, s, k in zip(model.pairs, state.pairs, seen, strict=True))
    forces = model.elements.forces(state.u, state.p)
    nodal = contact_forces(model, state, forces)
    return _Standing(state, seen, frames, nodal, forces.volume, _imbalance(model, state, frames, forces, nodal))


def _imbalance(
    model: Model, state: State, frames: tuple[Frame, ...], forces: ElementForces, nodal: Floats
) -> float:
    """Unbalanced force over the size of the internal forces, or the volume residual, if larger."""
    free = nodal.copy()
    for pair, status, frame in zip(model.pairs, state.pairs, frames, strict=True):
        at, on = pair.nodes[status.active], status.active
        along = np.einsum("ki,ki->k", frame.tested, nodal[pair.nodes])
        free[at] = np.where(status.stuck, 0.0, along)[on, None] * frame.tangent[on]
    free[model.pattern.fixed] = 0.0
    scale = _size(forces.force) + LEAST_FORCE_SHARE * _force_scale(model)
    return max(_size(free) / scale, _volume_residual(model, forces))


def _size(values: Floats) -> float:
    """Euclidean length of all values: numpy's own would start the threads of the linear algebra library for it."""
    return math.sqrt(float(np.einsum("i,i->", values.ravel(), values.ravel())))


def _force_scale(model: Model) -> float:
    """Shear modulus times the area of the section, N: what forces would be at strains of order one."""
    grid = model.elements.grid
    return float(model.elements.tissue.shear.max() * grid.columns[-1] * -grid.rows[0])


def _volume_residual(model: Model, forces: ElementForces) -> float:
    """Root mean square of the relative volume the elements are off by."""
    volumes = model.elements.volumes
    return math.sqrt(float(np.einsum("ek,ek,e->", forces.volume, forces.volume, 1.0 / volumes)) / float(volumes.sum()))


def _advanced(
    model: Model, state: State, step: Step, share: float, settings: Settings, bound: float
) -> tuple[_Standing, int]:
    """Take at most ``share`` of the step, and the active-set step; count its changes.

    The step is damped until no element turns inside out and, for a few halvings, until the imbalance stays
    below ``bound``.
    """
    factor, tries = share, 0
    while factor > 1e-2:
        moved = _moved(state, step, factor)
        factor *= 0.5
        if model.elements.smallest_ratio(moved.u) < settings.least_ratio:
            continue
        tries += 1
        seen = look(model, moved)
        settled, changed = _with_new_contact(model, moved, seen, step.reaction)
        standing = _stand(model, settled, seen)
        if tries == settings.halvings or standing.imbalance <= bound:
            return standing, changed
    raise StepFailedError("an element would turn inside out")


def _moved(state: State, step: Step, factor: float) -> State:
    return State(
        state.u + factor * step.u, state.p + factor * step.p, state.travel + factor * step.travel, state.pairs
    )


def _share_along_arcs(standing: _Standing, model: Model, step: Step, settings: Settings) -> float:
    """Share of the step that moves no touching node further along an arc than the linearisation can be trusted."""
    share = 1.0
    for pair, status, seen in zip(model.pairs, standing.state.pairs, standing.seen, strict=True):
        tangent = np.column_stack([-seen.normal[:, 1], seen.normal[:, 0]])
        turned = np.abs(np.einsum("ki,ki->k", tangent, step.u[pair.nodes]) * seen.hessian)[status.active]
        share = min(share, settings.turn / max(float(turned.max(initial=0.0)), 1e-12))
    return share


def _with_new_contact(model: Model, state: State, seen: tuple[Nearest, ...], reaction: Floats) -> tuple[State, int]:
    least = 1e-13 * float(np.abs(reaction).sum())
    pairs, changed = [], 0
    for pair, status, near in zip(model.pairs, state.pairs, seen, strict=True):
        along, across = reaction[pair.nodes].T
        new = updated(pair, status, near, across, along, least)
        changed += status.same_set(new)
        pairs.append(new)
    return replace(state, pairs=tuple(pairs)), changed
