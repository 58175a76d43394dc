"""The base state on an arch of teeth: what of the arch is even around the axis.

Front teeth on a circle of radius A, seen from above, lie on z = -x^2 / (2 A), x across: -r^2 / (4 A) (1 + cos 2 theta).
The even half is a bowl, taken up here by the full, large-strain solver on the grid at hand; the wave on it is
`labrum.simulate.off_axis.motions.arch_relief`. Where the support begins at a tooth gap, heights count from its edge: a
height that is the same everywhere only moves the rim.

The jaw, to which a lip is grown beyond the fold, is as bent as the teeth. There the back keeps the radius that it has
on flat teeth and takes the bowl's height, and the springs of the fold are slack on the bowl.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import replace

import numpy as np

from labrum.meshes.arrays import Floats
from labrum.meshes.curves.curve import Curve
from labrum.simulate.accuracy.refinement import BESIDE
from labrum.simulate.contact.signorini import Pair
from labrum.simulate.contact.supports import TRANSITION_MM
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.equilibrium.newton import Drive, Settings, StepFailedError, StepTooLongError, equilibrate
from labrum.simulate.living.breath_and_muscle import final_stage
from labrum.simulate.load_path.adaptive_grid import Fineness
from labrum.simulate.load_path.press import WAYPOINT, Listener, Pressed, refitted, reporter
from labrum.simulate.problem import Lip, NotConverged, Problem
from labrum.simulate.tissue.condensation import Pattern

SHORTEST = 1.0 / 16.0  # of the arch's whole curvature, a step
WAY = Fineness(arc=0.45, touching=0.25, ends=0.12, span=0.7, largest=2.4, growth=1.2)  # of grids on the way there
NEAR = Settings(residual=1e-2, fall=0.3, gap=1e-2, reach=4.0)  # enough of an equilibrium to go on from
LEAST_CUT = 0.3  # what a step too long is cut to at least
CLEAR_MM = 1e-6  # between bowl and what is grown to the jaw, so that none of it counts as touching


def bowl_curve(lip: Lip, radius: float) -> Curve:
    """Teeth as a rigid curve like `labrum.simulate.contact.supports.teeth_curve`, on a bowl that falls by
    r^2 / (4 ``radius``): an arc of twice the arch's radius (mm), flat at the axis or round at the gap's edge.
    """
    bowl, level, gap = 2.0 * radius, -lip.thickness, lip.tooth_gap_radius
    start = _start(lip)
    far = min(1.5 * lip.radius, 0.9 * bowl)
    lean = math.asin(start / bowl)
    turn = math.asin(far / bowl) - lean
    first = (far, level - float(bowl_depth(lip, radius, far)), math.tan(0.25 * turn))
    if gap == 0.0:
        return Curve.from_vertices([first, (0.0, level, 0.0), (-1.0, level, 0.0)])
    edge = TRANSITION_MM
    centre = (start - edge * math.sin(lean), level - edge * math.cos(lean))
    end, deep = (centre[0] - edge, centre[1]), level - 2.0 * lip.thickness
    bulge = math.tan(0.25 * (0.5 * math.pi + lean))
    return Curve.from_vertices([first, (start, level, bulge), (*end, 0.0), (end[0], deep, 0.0)])


def on_arch(
    problem: Problem, coarse: Pressed, fineness: Fineness, radius: float, listener: Listener
) -> tuple[Model, State]:
    """The pressed state on the even half of an arch of ``radius`` mm, force kept: reached from ``coarse`` on grids that
    are coarser still, without friction, or as fine; answered on one as fine as ``fineness`` that is fitted to where the
    arch has brought the lip. Raises `NotConverged`.
    """
    try:
        model, state = _brought(problem, coarse, radius, listener)
        model, state = _bent(problem, *_refitted(problem, model, state, fineness), radius)
        return model, _settled(problem, model, state, listener, BESIDE)
    except StepFailedError as failure:
        raise NotConverged(
            coarse.equilibrium.force,
            f"no equilibrium on an arch of {radius:g} mm ({failure})",
            "make the arch's radius larger, or lower force_n",
            coarse.history,
        ) from failure


def bowl_depth(lip: Lip, radius: float, places: Floats | float) -> Floats:
    """How far, mm, the bowl of an arch of ``radius`` mm lies below its edge at distances ``places`` from the axis."""
    bowl = 2.0 * radius
    return np.asarray(math.sqrt(bowl**2 - _start(lip) ** 2) - np.sqrt(np.maximum(bowl**2 - np.square(places), 0.0)))


def _start(lip: Lip) -> float:
    return lip.tooth_gap_radius + TRANSITION_MM if lip.tooth_gap_radius > 0.0 else 0.0


def _brought(problem: Problem, pressed: Pressed, radius: float, listener: Listener) -> tuple[Model, State]:
    """`_reached` on coarse grids where the answer does not depend on the way; where they do not get there, on fine."""
    if problem.load.friction == 0.0:
        with suppress(StepFailedError):
            return _reached(problem, pressed, replace(WAY, margin=pressed.fineness.margin), radius, listener)
    return _reached(problem, pressed, pressed.fineness, radius, listener)


def _reached(
    problem: Problem, pressed: Pressed, fineness: Fineness, radius: float, listener: Listener
) -> tuple[Model, State]:
    """Bend the teeth as far as the arch asks, in one step or several, on grids refitted on the way.

    Tissue slides under the rim by some bite radii, so a grid made for flat teeth is coarse where it gets to. A step
    whose first prediction is too long is cut to what the prediction tells; with friction, whose answer depends on the
    steps, it is not. Raises `StepFailedError`.
    """
    slides = problem.load.friction == 0.0
    settings = NEAR if slides else WAYPOINT
    flat, state = pressed.model, pressed.equilibrium.state
    if fineness != pressed.fineness:
        flat, state = _refitted(problem, flat, state, fineness)
    done, share = 0.0, 1.0
    while True:
        reach = min(1.0, done + share)
        lowered = replace(state, u=state.u + (reach - done) * _lowering(problem.lip, flat, radius))
        bent, start = _bent(problem, flat, lowered, radius / reach)
        try:
            state = _settled(problem, bent, start, listener, settings, declines=slides)
        except StepFailedError as failure:
            if isinstance(failure, StepTooLongError):
                share = (reach - done) * max(failure.share, LEAST_CUT)
            else:
                share, fineness = 0.5 * (reach - done), fineness.finer_arcs()
            if share < SHORTEST:
                raise
            continue
        if reach == 1.0:
            return bent, state
        done = reach
        flat, state = _refitted(problem, bent, state, fineness)


def _settled(
    problem: Problem, model: Model, start: State, listener: Listener, settings: Settings, declines: bool = False
) -> State:
    drive = Drive(force=problem.load.force, declines=declines)
    return equilibrate(model, start, drive, settings, reporter(listener, "arch", model)).state


def _refitted(problem: Problem, model: Model, state: State, fineness: Fineness) -> tuple[Model, State]:
    """Like `labrum.simulate.load_path.press.refitted`: a model on flat teeth, which is yet to be bent."""
    return refitted(problem, model, state, fineness, replace(final_stage(problem), name="arch"))


def _bent(problem: Problem, flat: Model, state: State, radius: float) -> tuple[Model, State]:
    """A model on flat teeth, and what is held of a state, put on the bowl."""
    lip, grid = problem.lip, flat.elements.grid
    u, fixed, back = state.u.copy(), flat.pattern.fixed.copy(), grid.back
    if lip.backing == "bonded":
        held = back[fixed[back].all(axis=1)]
        u[held, 1] = -bowl_depth(lip, radius, grid.nodes[held, 0])
        return flat, replace(state, u=u)
    grown = back[fixed[back, 1]]
    fixed[grown] = True
    u[grown, 1] = CLEAR_MM - bowl_depth(lip, radius, (grid.nodes + u)[grown, 0])
    slack = np.zeros_like(u)
    slack[back, 1] = -bowl_depth(lip, radius, grid.nodes[back, 0])
    rim, teeth = flat.pairs
    bowl = Pair(teeth.name, bowl_curve(lip, radius), teeth.nodes, False)
    lifted = np.isin(teeth.nodes, grown)
    status = replace(state.pairs[1], active=state.pairs[1].active & ~lifted)
    model = replace(flat, pattern=Pattern(grid, fixed), pairs=(rim, bowl), slack=slack)
    return model, replace(state, u=u, pairs=(state.pairs[0], status))


def _lowering(lip: Lip, model: Model, radius: float) -> Floats:
    """(n, 2) mm, that brings the back down to the bowl and leaves the surface at the rim.

    A guess that lowers rim and lip together slides tissue around the bite, and many more iterations go by.
    """
    r, z = model.elements.grid.nodes.T
    return np.column_stack([np.zeros(len(r)), bowl_depth(lip, radius, np.maximum(r, _start(lip))) * z / lip.thickness])
