"""The main job: from a problem to an outcome."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TypeVar

import numpy as np

from labrum.meshes.rims.rim import Rim
from labrum.simulate.accuracy.refinement import (
    ANSWER,
    BESIDE,
    SHARE_GRID_WITH_FRICTION,
    Refined,
    held,
    readable,
    reading_of,
    refine_until_accurate,
    way_error_percent,
)
from labrum.simulate.equilibrium.newton import StepFailedError
from labrum.simulate.equilibrium.traction import Traction, traction
from labrum.simulate.living.breath_and_muscle import contracts, enlivened, final_stage, free_contraction
from labrum.simulate.living.contraction import Contraction, Freedom
from labrum.simulate.living.vibration import Liveliness, liveliness
from labrum.simulate.load_path.adaptive_grid import Fineness, surface_samples
from labrum.simulate.load_path.aiming import Aimed, force_for
from labrum.simulate.load_path.press import (
    HOME,
    PRESS,
    Last,
    Listener,
    Pressed,
    StepLengths,
    hold,
    move_on,
    press,
    press_near,
)
from labrum.simulate.measures.catalogue import Measures
from labrum.simulate.outcome import Contact, Outcome
from labrum.simulate.postures.found import OffAxis
from labrum.simulate.problem import KPA_PER_MPA, Lip, NotConverged, Problem, Progress
from labrum.simulate.readings.fields import section_of
from labrum.simulate.readings.measures import measures_of
from labrum.simulate.readings.pressure import on_rim, profile
from labrum.simulate.readings.rim_edges import inner_edge_of_contact

DRIFT_STEP_N = 10.0
FEWEST_HALVINGS, MOST_HALVINGS = 2, 5  # of the steps on the way, with friction
AIM_FOUND, AIM_MET = 1e-3, 2e-3  # relative, of the wanted value: on the first grid read, and in the answer
AIM_TRIES = 4
MARGIN_MM = 0.2
SLOW = StepLengths(first=0.008, longest=0.09, longer=1.6)


@dataclass(frozen=True)
class Effort:
    """How the solver spends its effort.

    The grid of the load path, the coarsest grid that is read, the most unknowns a refinement may reach, and how long
    the steps of the path are; with friction, whose answer depends on the way, the first way's, of which shorter ones
    follow: ``fewest_halvings`` or more. ``most_work``, unknowns times iterations, is the most that goes into the ways of
    a contracting lip: some ten seconds.
    """

    path: Fineness = field(default_factory=Fineness)
    answer: Fineness = ANSWER
    most_unknowns: int = 150_000
    pace: StepLengths = field(default_factory=StepLengths)
    fewest_halvings: int = FEWEST_HALVINGS
    most_work: int = 7_000_000

    @property
    def careful(self) -> Effort:
        """A second plan for where the first leads nowhere: grids that are fine under the whole rim."""
        path = replace(self.path, touching=0.09, ends=0.03, span=0.35, growth=0.28)
        return replace(self, path=path, answer=replace(self.answer, growth=0.28))

    def living(self, lip: Lip) -> tuple[Fineness, ...]:
        """The grids that contract, of which the first that gets there serves.

        They are the path's, with elements around the opening half as long. So the closing travel was within 0.1 % of
        far finer grids in the two cases tried; on the path's own grid it was 0.3 % too large. Where a back that slides
        on teeth meets the opening, the soft lining is squeezed out, which coarse elements cannot follow, and which very
        fine ones answer with folds, as lining does (Biot's instability of a compressed surface); a bonded back's corner
        is singular, and best left coarse.
        """
        plain = replace(self.path, largest=0.5 * self.path.largest)
        if lip.opening_radius == 0.0:
            return (plain,)
        fine = replace(plain, margin=MARGIN_MM)
        meets_teeth = lip.backing == "sliding" and lip.tooth_gap_radius == 0.0
        return (fine, plain) if meets_teeth else (plain, fine)


def silent(progress: Progress) -> None:
    """Report nothing."""


class _Counted:
    """A listener that also counts iterations, those of failed steps included."""

    def __init__(self, listener: Listener) -> None:
        self._listener = listener
        self.iterations = 0

    def __call__(self, progress: Progress) -> None:
        self.iterations += progress.iteration > 0
        self._listener(progress)


class _Limited:
    """A listener that ends the search for a first equilibrium where it takes more work than a plan allows."""

    def __init__(self, listener: Listener, problem: Problem, plan: Effort) -> None:
        self._listener, self._left = listener, plan.most_work if contracts(problem) else math.inf

    def __call__(self, progress: Progress) -> None:
        self._left -= progress.unknowns
        if self._left < 0:
            raise NotConverged(
                max(0.0, progress.force),
                f"the stage '{progress.stage}' took more iterations than are worth while: it is near an instability",
                "lower muscle_activation or force_n, or round the bite (bite_radius_mm)",
            )
        self._listener(progress)


@dataclass(frozen=True)
class Solved:
    """An outcome, and a press on its way, before breath and contraction: a start for like problems."""

    outcome: Outcome
    pressed: Pressed


def solve(problem: Problem, progress: Listener = silent, plan: Effort | None = None) -> Outcome:
    """Press the rim into the lip with the problem's force and read the measures off.

    Where the problem has an aim in place of a force, the force is found that meets it to 0.2 %.

    Raises
    ------
    NotConverged
        Where no equilibrium was found; it tells the force reached, the likely cause and what to try.
    """
    return solve_near(problem, None, progress, plan).outcome


def solve_near(
    problem: Problem, neighbour: Pressed | None, progress: Listener = silent, plan: Effort | None = None
) -> Solved:
    """Like `solve`, starting from a like problem's press where there is one and it helps.

    The answer is that of a cold start within the estimated error; with friction, whose answer depends on the
    way, the start is always cold. Raises `NotConverged`.
    """
    return solve_refined(problem, neighbour, progress, plan)[0]


def solve_refined(
    problem: Problem, neighbour: Pressed | None = None, progress: Listener = silent, plan: Effort | None = None
) -> tuple[Solved, Refined]:
    """Like `solve_near`, and the last two equilibria with it, for what is asked about the pressed state itself."""
    plan, started, counted = plan or Effort(), time.perf_counter(), _Counted(progress)
    if problem.load.aim is None:
        solved, refined = _pressed_and_read(problem, neighbour, plan, counted)
    else:
        solved, refined = _pressed_as_wanted(problem, neighbour, plan, counted)
    seconds = time.perf_counter() - started
    outcome = replace(solved.outcome, newton_iterations=counted.iterations, solve_seconds=seconds)
    return replace(solved, outcome=outcome), refined


def _pressed_and_read(
    problem: Problem, neighbour: Pressed | None, plan: Effort, progress: Listener
) -> tuple[Solved, Refined]:
    """Solve under the problem's force."""
    if problem.load.friction > 0.0:
        first, refined = _by_shorter_steps(problem, plan, progress)
    else:
        first, refined = _by_some_way(problem, neighbour, plan, progress, _refined)
    warnings = list[str]()
    drift = _drift(problem, refined.before, refined.finest, progress, warnings)
    living = _Living.of(problem, first, plan, progress)
    lively = _lively(problem, refined.finest, warnings)
    if refined.error_percent > problem.accuracy.peak_pressure_percent:
        warnings.append(
            f"the peak's estimated error of {refined.error_percent:.2f} % is above the "
            f"{problem.accuracy.peak_pressure_percent:g} % asked for"
        )
    found = _off_axis(problem, refined, progress, warnings)
    outcome = _outcome(problem, refined, drift, living, lively, tuple(warnings))
    if found is not None:
        outcome = replace(outcome, measures=replace(outcome.measures, **found.measures()), off_axis=found)
    return Solved(outcome, first.pressed if _alive(problem) else refined.before), refined


def _pressed_as_wanted(
    problem: Problem, neighbour: Pressed | None, plan: Effort, progress: Listener
) -> tuple[Solved, Refined]:
    """Find the force on grids that can be read, solve under it, and set it right where the finer grid reads otherwise.

    Raises `NotConverged`, also where the answer stays off by more than `AIM_MET`.
    """
    aim = problem.load.aim
    assert aim is not None
    aimed, near = _aimed(problem, neighbour, plan, progress)
    force = aimed.force
    for _ in range(AIM_TRIES):
        solved, refined = _pressed_and_read(_under(problem, force), near.start, plan, progress)
        miss = float(getattr(solved.outcome.measures, aim.measure)) / aim.value - 1.0
        if abs(miss) <= AIM_MET:
            return solved, refined
        force *= math.exp(-miss / aimed.power)
    raise NotConverged(
        force,
        f"{aim.measure} stayed {100.0 * miss:.2f} % off what is wanted: it jumps from force to force",
        "give force_n, or ask for a little more or less",
    )


def _aimed(
    problem: Problem, neighbour: Pressed | None, plan: Effort, progress: Listener
) -> tuple[Aimed, Readable]:
    """The force on grids that can be read, and the last equilibrium looked at; raises `NotConverged`."""
    aim = problem.load.aim
    assert aim is not None
    seen: list[Readable] = []

    def value_at(force: float) -> float:
        near = seen[-1].start if seen else neighbour
        seen.append(_by_some_way(_under(problem, force), near, plan, progress, lambda first, *_: first))
        standing = seen[-1].standing
        if aim.measure == "sink_mm":
            return standing.equilibrium.state.travel
        reading = reading_of(problem.rim, standing)
        return KPA_PER_MPA * reading.force / reading.area

    return force_for(value_at, aim.value, problem.load.force, AIM_FOUND), seen[-1]


def _under(problem: Problem, force: float) -> Problem:
    return replace(problem, load=replace(problem.load, force=force, aim=None))


def first_readable(
    problem: Problem, neighbour: Pressed | None, progress: Listener = silent, plan: Effort | None = None
) -> Readable:
    """The first stage of `solve_near` alone: an equilibrium that can be read, of which nobody has checked the error.

    Raises `NotConverged`.
    """
    plan = plan or Effort()
    if problem.load.aim is not None:
        return _aimed(problem, neighbour, plan, progress)[1]
    return _by_some_way(problem, neighbour, plan, progress, lambda first, *_: first)


@dataclass(frozen=True)
class Readable:
    """The first equilibrium that is read, ``standing``, under all of a problem's loads.

    ``pressed`` is the press it came from, before breath and contraction; ``contraction`` what the muscle then did, if
    anything contracts.
    """

    problem: Problem
    pressed: Pressed
    contraction: Contraction | None
    standing: Pressed

    @property
    def start(self) -> Pressed:
        """Where a like problem may begin."""
        return self.pressed if _alive(self.problem) else self.standing


@dataclass(frozen=True)
class _Drift:
    """What 10 N more do: change of the felt diameter, and twice the fall of the radius where contact begins; mm."""

    felt: float | None = None
    edge: float | None = None


@dataclass(frozen=True)
class _Living:
    """Contraction under the rim, and that over what it is without one; None where nothing contracts."""

    contraction: Contraction | None = None
    freedom: Freedom | None = None

    @classmethod
    def of(cls, problem: Problem, found: Readable, plan: Effort, progress: Listener) -> _Living:
        if found.contraction is None:
            return cls()
        return cls(found.contraction, found.contraction.over(_freely(problem, plan, progress)))


def _freely(problem: Problem, plan: Effort, progress: Listener) -> Contraction:
    """Contraction without a rim, on the first grid where it gets there."""
    *others, last = plan.living(problem.lip)
    for fineness in others:
        with suppress(NotConverged):
            return free_contraction(problem, fineness, progress)
    return free_contraction(problem, last, progress)


Found = TypeVar("Found")


def _by_some_way(
    problem: Problem, neighbour: Pressed | None, plan: Effort, progress: Listener,
    go_on: Callable[[Readable, Effort, Listener], Found], searching: Listener | None = None,
) -> Found:  # fmt: skip
    """Press by the quickest way that leads somewhere, be it only on a finer grid; raises the last's `NotConverged`.

    ``searching`` listens to the ways only, and may end them; where it is not given each search has its own limit.
    """
    lost: NotConverged | None = None
    searching = searching or _Limited(progress, problem, plan)
    for press_home, effort in _ways(problem, neighbour, plan, searching):
        try:
            pressed = press_home()
        except NotConverged as stop:
            lost = stop
            continue
        for fineness in effort.living(problem.lip) if contracts(problem) else (effort.path,):
            if pressed is None:
                break
            try:
                return go_on(_loaded(problem, pressed, effort, fineness, searching), effort, progress)
            except NotConverged as stop:
                lost = stop
    assert lost is not None  # a press from first touch is home or raises
    raise lost


def _by_shorter_steps(problem: Problem, plan: Effort, progress: Listener) -> tuple[Readable, Refined]:
    """Press with friction: by steps halved until what that changes lets the estimate meet what is asked.

    Slip adds up along the way, so the answer depends on the steps as on the grid; both are in the estimate.
    """
    searching = _Limited(progress, problem, plan)

    def standing(plan: Effort) -> Readable:
        return _by_some_way(problem, None, plan, progress, lambda first, *_: first, searching)

    here = standing(plan)
    for shorter in range(1, MOST_HALVINGS + 1):
        before, plan = here, replace(plan, pace=plan.pace.times(0.5))
        try:
            here = standing(plan)
        except NotConverged:
            if shorter <= plan.fewest_halvings:
                raise
            break  # what the last halving moved is the estimate then
        moved = way_error_percent(problem.rim, before.standing, here.standing)
        if shorter >= plan.fewest_halvings and moved <= 0.5 * problem.accuracy.peak_pressure_percent:
            break
    first, refined = _refined(here, plan, progress)
    both = SHARE_GRID_WITH_FRICTION * refined.grid_percent + moved
    return first, replace(refined, error_percent=max(refined.error_percent, both))


def _ways(
    problem: Problem, neighbour: Pressed | None, plan: Effort, progress: Listener
) -> Iterator[tuple[Callable[[], Pressed | None], Effort]]:
    """From a like problem's press, from first touch, and from first touch with care.

    Very soft tissue without stiffening folds up into coarse elements, and then no step is short enough.
    """
    if neighbour is not None:
        fineness = plan.living(problem.lip)[0] if contracts(problem) else plan.answer
        settings = HOME if _alive(problem) else BESIDE
        yield partial(press_near, problem, neighbour, fineness, progress, settings), plan
    # with friction the answer depends on the steps on the way; breath and contraction go on from the path's grid
    plain = problem.load.friction == 0.0 and not _alive(problem)
    last = Last(plan.answer, BESIDE) if plain else None
    yield partial(press, problem, plan.path, progress, plan.pace, last=last), plan
    careful = plan.careful
    yield partial(press, problem, careful.path, progress, SLOW, HOME), careful


def _loaded(
    problem: Problem, pressed: Pressed, plan: Effort, fineness: Fineness, progress: Listener
) -> Readable:
    """Bring breath and contraction in, on a grid of ``fineness``, and go to the coarsest grid that is read."""
    living, had = pressed, pressed.fineness
    if contracts(problem) and (had.largest, had.margin) != (fineness.largest, fineness.margin):
        living = held(problem, pressed, replace(fineness, arc=min(fineness.arc, had.arc)), PRESS, progress, HOME)
    living, contraction = enlivened(problem, living, progress)
    standing = readable(problem, living, final_stage(problem), progress, plan.answer)
    return Readable(problem, pressed, contraction, standing)


def _refined(first: Readable, plan: Effort, progress: Listener) -> tuple[Readable, Refined]:
    problem, stage = first.problem, final_stage(first.problem)
    refined = refine_until_accurate(problem, first.standing, stage, progress, plan.answer, plan.most_unknowns)
    return first, refined


def _alive(problem: Problem) -> bool:
    """Is there breath or contraction?"""
    stage = final_stage(problem)
    return stage.activation > 0.0 or stage.mouth_pressure > 0.0


def _drift(
    problem: Problem, pressed: Pressed, finest: Pressed, progress: Listener, warnings: list[str]
) -> _Drift:
    """What the felt diameter and the inner edge of contact do when the force rises by 10 N.

    From ``pressed``, which is as fine as what comes after it; ``finest`` tells where contact begins.
    """
    here, stage = pressed, final_stage(problem)
    target, step, reached = problem.load.force + DRIFT_STEP_N, DRIFT_STEP_N, problem.load.force
    shortens = False
    while abs(target - reached) > BESIDE.residual * target:
        try:
            pressed = move_on(problem, pressed, stage, progress, min(reached + step, target), BESIDE, shortens)
            reached, step = pressed.equilibrium.force, 1.5 * step
        except StepFailedError:
            step, shortens = 0.5 * step, True
            pressed = replace(pressed, fineness=pressed.fineness.finer_arcs())
            if step < DRIFT_STEP_N / 40:
                warnings.append("drifts with 10 N more are left out: no equilibrium was found there")
                return _Drift()
    before, after = (reading_of(problem.rim, one) for one in (here, pressed))
    felt = 2.0 * (after.felt_radius - before.felt_radius)
    try:  # where contact begins is only as sure as the columns there are narrow, and they were placed for less force
        harder = replace(problem, load=replace(problem.load, force=target))
        pressed = hold(harder, pressed, pressed.fineness, stage, progress, settings=BESIDE)
    except StepFailedError:
        return _Drift(felt)
    return _Drift(felt, _edge_drift(problem.rim, finest, pressed))


def _lively(problem: Problem, pressed: Pressed, warnings: list[str]) -> Liveliness:
    """How the lip answers a small pressure on its front, where that is asked for."""
    if not problem.vibration:
        return Liveliness()
    try:
        found = liveliness(pressed.model, pressed.equilibrium.state)
    except (np.linalg.LinAlgError) as error:
        warnings.append(f"vibration is left out: {error}")
        return Liveliness()
    if found.mode is None:
        warnings.append("lip_mode_hz is left out: no mode stands out in the answer to a pressure on the front")
    return found


def _edge_drift(rim: Rim, before: Pressed, after: Pressed) -> float | None:
    """Twice the fall, mm, of the radius where contact with the rim begins; None where there is no such radius."""
    ends = [inner_edge_of_contact(rim, traction(k.model, k.equilibrium.state)) for k in (before, after)]
    return None if ends[0] is None or ends[1] is None else 2.0 * (ends[0] - ends[1])


def _off_axis(
    problem: Problem, refined: Refined, progress: Listener, warnings: list[str]
) -> OffAxis | None:
    """What the rim does off the axis, where that was asked; the press stands, whatever comes of it."""
    if problem.posture is None:
        return None
    from labrum.simulate.off_axis.answers import off_axis  # whoever does not ask does not load it

    try:
        found = off_axis(problem, refined.finest, problem.posture, progress, refined.before)
    except NotConverged as stop:
        warnings.append(f"what the rim does off the axis is left out: {stop.cause}")
        return None
    warnings += found.warnings
    return found


def _outcome(
    problem: Problem,
    refined: Refined,
    drift: _Drift,
    living: _Living,
    lively: Liveliness,
    warnings: tuple[str, ...],
) -> Outcome:
    """What is told; what it took is counted by whoever asked."""
    model, state = refined.finest.model, refined.finest.equilibrium.state
    grid, contact = model.elements.grid, traction(model, state)
    return Outcome(
        rim=problem.rim,
        measures=_measures(problem, refined, contact, drift, living, lively),
        force_n=refined.finest.equilibrium.force,
        pressure_profile=profile(contact),
        lip_surface=np.column_stack([grid.nodes[grid.surface, 0], contact.place]),
        contact=_contact(problem, contact),
        section=section_of(model, state, tuple(layer.name for layer in problem.lip.layers)),
        history=refined.finest.history,
        unknowns=model.unknowns,
        newton_iterations=0,
        solve_seconds=0.0,
        largest_penetration_mm=_penetration(problem, refined.finest),
        warnings=warnings,
        mode=lively.mode,
    )


def _measures(
    problem: Problem, refined: Refined, contact: Traction, drift: _Drift, living: _Living, lively: Liveliness
) -> Measures:
    """What the answer's equilibrium tells by itself, and what took more than one."""
    alone = measures_of(problem, refined.finest.model, refined.finest.equilibrium.state, contact)
    more = replace(
        alone,
        peak_pressure_error_percent=refined.error_percent,
        felt_drift_mm_per_10n=drift.felt,
        edge_drift_mm_per_10n=drift.edge,
        lip_compliance_um_per_kpa=lively.compliance,
        lip_mode_hz=lively.mode.frequency_hz if lively.mode else None,
    )
    if living.contraction is None or living.freedom is None:
        return more
    return replace(
        more,
        height_by_muscle_mm=living.contraction.crest,
        closing_travel_ratio=living.freedom.aperture,
        closing_travel_ratio_skin=living.freedom.skin,
        muscle_shortening_ratio=living.freedom.shortening,
    )


def _contact(problem: Problem, contact: Traction) -> Contact:
    return Contact(
        place=contact.place,
        normal=contact.normal,
        pressure_kpa=KPA_PER_MPA * contact.pressure,
        shear_kpa=KPA_PER_MPA * contact.shear,
        on_rim=on_rim(problem.rim, contact),
    )


def _penetration(problem: Problem, pressed: Pressed) -> float:
    """Greatest depth, mm, of the tissue's surface inside the rim, between nodes included."""
    _, place = surface_samples(pressed.model, pressed.equilibrium.state)
    shifted = place + np.array([0.0, pressed.equilibrium.state.travel])
    return float(max(0.0, -problem.rim.curve.nearest(shifted).distance.min()))
