"""Small bodies for checking the solver's core: models built by hand, without a rim's press around them.

Tests import no test module; they get this one through the fixture ``bodies`` (``conftest.py`` beside it).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from labrum.meshes.curves.curve import Curve
from labrum.meshes.grids.grid import Grid
from labrum.meshes.grids.quadratic import EDGES, edge_functions, edge_rule
from labrum.simulate.contact.air import AirPressure
from labrum.simulate.contact.signorini import Pair, PairState, frame_of
from labrum.simulate.equilibrium.linearised import linearise
from labrum.simulate.equilibrium.model import Model, State, contact_forces, look
from labrum.simulate.equilibrium.newton import Drive, Equilibrium, Settings, equilibrate
from labrum.simulate.load_path.press import with_feet_settled  # noqa: F401  (tests take it from here)
from labrum.simulate.tissue.condensation import Pattern
from labrum.simulate.tissue.elements import Elements
from labrum.simulate.tissue.known_laws import STANDARD_LAW
from labrum.simulate.tissue.law import Tissue, bulk_modulus

FAR = -1000.0  # travel of a rim that meets nothing
TOP_EDGE = EDGES[2][::-1]  # local nodes of an element's top edge, outwards
GAUSS, WEIGHTS = edge_rule(6)
SHAPE = edge_functions(GAUSS)[0]


@dataclass(frozen=True)
class DeadLoad:
    """Forces (m, 3, 2), N, on the top edges of ``elements`` (m,), in the air's place: they do not follow the body."""

    mesh: Grid
    elements: np.ndarray
    forces: np.ndarray

    @classmethod
    def on_top(cls, mesh, traction):
        """Nominal ``traction(radii)`` (k, 2), MPa, over the whole top."""
        middle, half = 0.5 * (mesh.columns[1:] + mesh.columns[:-1]), 0.5 * np.diff(mesh.columns)
        radii = middle[:, None] + half[:, None] * GAUSS
        weight = 2.0 * np.pi * half[:, None] * WEIGHTS * radii
        pull = weight[..., None] * traction(radii.ravel()).reshape(*radii.shape, 2)
        top = np.arange(1, len(middle) + 1) * (len(mesh.rows) - 1) - 1
        return cls(mesh, top, np.einsum("ga,mgi->mai", SHAPE, pull))

    def nodal_forces(self, u):
        out = np.zeros_like(u)
        np.add.at(out, self.mesh.quads[self.elements][:, TOP_EDGE], self.forces)
        return out

    def added(self, u, condensed):
        force = condensed.force.copy()
        at = np.stack([2 * TOP_EDGE, 2 * TOP_EDGE + 1], axis=-1).ravel()
        force[self.elements[:, None], at] -= self.forces.reshape(-1, 6)
        return replace(condensed, force=force)


def grid(columns, rows, layers=None):
    """Tensor grid over any ascending ``columns`` and ``rows``, mm; one layer unless told."""
    columns, rows = np.asarray(columns, float), np.asarray(rows, float)
    return Grid(columns, rows, np.zeros(len(rows) - 1, int) if layers is None else np.asarray(layers))


def tissue(count, shear=1.0, poisson=0.5, second=0.0, third=0.0, active=0.0):
    """One tissue for ``count`` elements; moduli and stresses in MPa."""
    values = (shear, second, third, 1.0 / bulk_modulus(shear, poisson), active)
    return Tissue(*(np.full((count, 1), value) for value in values))


def line(*vertices):
    """Rigid chain of straight pieces through (r, s), mm, from the cup outwards."""
    return Curve.from_vertices([(r, s, 0.0) for r, s in vertices])


def chain(*vertices):
    """Rigid chain of (r, s, bulge of the piece to the next vertex), from the cup outwards."""
    return Curve.from_vertices(vertices)


def sphere(radius, angle=1.0):
    """Rigid sphere of ``radius`` mm: an arc from the axis outwards through ``angle`` radians."""
    end = (radius * np.sin(angle), radius * (1.0 - np.cos(angle)), 0.0)
    return Curve.from_vertices([(0.0, 0.0, np.tan(angle / 4.0)), end])


def nothing_fixed(mesh):
    return np.zeros(mesh.nodes.shape, bool)


def disc_fixed(mesh):
    """Bonded below, kept on the axis where it reaches it."""
    fixed = nothing_fixed(mesh)
    fixed[mesh.back] = True
    if mesh.columns[0] == 0.0:
        fixed[mesh.inner_edge, 0] = True
    return fixed


def body(mesh, material, fixed, curve=None, friction=0.0, others=(), air=None, law=STANDARD_LAW):
    """Model of a body under a rim ``curve`` (none: a flat one, to be kept ``FAR`` away); its faces are free."""
    rim = Pair("rim", curve or line((0.0, 0.0), (1.0, 0.0)), mesh.surface, True, friction)
    return Model(
        Elements(mesh, material, law),
        Pattern(mesh, fixed),
        (rim, *others),
        air or AirPressure.nowhere(mesh),
        np.zeros(mesh.nodes.shape),
    )


def at_rest(model, travel=0.0):
    """Nothing moved, nothing touching; slip counts from where the nodes stand."""
    places = model.elements.grid.nodes
    pairs = [PairState.untouched(k.look(places[k.nodes], travel).arc_length) for k in model.pairs]
    return State(np.zeros(places.shape), np.zeros((len(model.elements.grid.quads), 3)), travel, tuple(pairs))


def settle(model, state, travel=None, force=None, iterations=30, residual=1e-10):
    """Equilibrium under a wanted travel or force; the rim stays where it is when neither is given."""
    drive = Drive(force=force) if force is not None else Drive(travel=state.travel if travel is None else travel)
    settings = Settings(residual=residual, gap=1e-10, iterations=iterations, patience=iterations)
    return equilibrate(model, state, drive, settings, lambda *news: None)


def held(model, moved, steps=4, guess=None) -> Equilibrium:
    """Equilibrium without a rim in which fixed components go where the displacement ``moved`` (n, 2) takes them.

    They go there in ``steps``; before each the whole body is moved along by ``guess``, which is ``moved`` unless told.
    """
    state, guess = at_rest(model, FAR), moved if guess is None else guess
    for share in np.linspace(0.0, 1.0, steps + 1)[1:]:
        start = np.where(model.pattern.fixed, share * moved, state.u + guess / steps)
        found = settle(model, replace(state, u=start))
        state = found.state
    return found


def pulled(model, state, further) -> State:
    """Equilibrium of a body all but free of stress, after the displacement ``further`` (n, 2) on top of ``state``.

    The residual is measured against internal forces that all but vanish there, so less of it is asked for.
    """
    return settle(model, replace(state, u=state.u + further), residual=1e-6).state


def reactions(model, state):
    """(n, 2) forces, N, of supports and contact on the body."""
    return contact_forces(model, state, model.elements.forces(state.u, state.p))


def halved(lines):
    """Every interval cut in two."""
    lines = np.asarray(lines, float)
    return np.sort(np.concatenate([lines, 0.5 * (lines[1:] + lines[:-1])]))


def growing(first, ratio, stop):
    """Lines from 0 to ``stop``, intervals ``first`` mm long and growing by ``ratio``."""
    count = int(np.ceil(np.log1p(stop * (ratio - 1.0) / first) / np.log(ratio)))
    places = (ratio ** np.arange(count + 1) - 1.0) / (ratio**count - 1.0)
    return stop * places


def half_space(contact, across, reach=2000.0, ratio=1.5, beyond=0.25):
    """Grid of a disc ``reach`` contact radii wide and deep, ``across`` elements over the ``contact`` radius."""
    size = contact / across
    near = np.arange(0.0, (1.0 + beyond) * contact - 1e-9 * contact, size)
    far = near[-1] + size + growing(size * ratio, ratio, reach * contact)
    return grid(np.concatenate([near, far]), -growing(size, ratio, reach * contact)[::-1])


def refined(mesh):
    """The same grid with every interval halved."""
    return Grid(halved(mesh.columns), halved(mesh.rows), np.repeat(mesh.row_layer, 2))


def torus(place, tube):
    """Rigid round rim: an arc of radius ``tube``, half a circle at most, lowest at r = ``place``, mm."""
    half = np.arcsin(min(1.0, place / tube))
    side, up, bulge = tube * np.sin(half), tube * (1.0 - np.cos(half)), np.tan(half / 4.0)
    return Curve.from_vertices([(place - side, up, bulge), (place, 0.0, bulge), (place + side, up, 0.0)])


def frames(model, state):
    """The contact's frames as an iteration sees them."""
    seen = look(model, state)
    return tuple(frame_of(p, s, k) for p, s, k in zip(model.pairs, state.pairs, seen, strict=True))


def step_of(model, state, travel=0.0, force=None):
    """One Newton step from any state: to a change of travel, mm, or to a force, N."""
    system = linearise(model, state, frames(model, state))
    return system.step_to_travel(travel) if force is None else system.step_to_force(force)
