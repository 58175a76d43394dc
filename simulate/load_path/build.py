"""From a problem and grid lines to a model ready to be solved."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from labrum.meshes.grids.grading import layered_rows
from labrum.meshes.grids.grid import Grid
from labrum.simulate.contact.breath import breath_on
from labrum.simulate.contact.signorini import Pair, PairState
from labrum.simulate.contact.supports import (
    TRANSITION_MM,
    fold_springs,
    grown_to_the_jaw,
    held_back,
    teeth_curve,
    transition_springs,
)
from labrum.simulate.contact.surroundings import edge_springs, held_edge
from labrum.simulate.equilibrium.model import Model, State
from labrum.simulate.load_path.adaptive_grid import Fineness, Surface, fitted_columns, resting_surface
from labrum.simulate.load_path.muscle import tissue_of
from labrum.simulate.load_path.squeezed import KeptLines, merged
from labrum.simulate.problem import Problem
from labrum.simulate.tissue.condensation import Pattern
from labrum.simulate.tissue.elements import Elements


@dataclass(frozen=True)
class Stage:
    """The loads beside the rim that act at one stage of the loading: activation 0 to 1, mouth pressure MPa."""

    name: str
    activation: float = 0.0
    mouth_pressure: float = 0.0
    rim: bool = True


def model_on(problem: Problem, grid: Grid, stage: Stage) -> Model:
    """The model of a problem at one stage on a given grid."""
    lip = problem.lip
    fixed = held_back(lip, grid) | held_edge(lip, grid) | grown_to_the_jaw(lip, grid)
    if lip.opening_radius == 0.0:
        fixed[grid.inner_edge, 0] = True
    pairs = [Pair("rim", problem.rim.curve, grid.surface, True, problem.load.friction)]
    if lip.backing == "sliding":
        pairs.append(Pair("teeth", teeth_curve(lip), grid.back, False))
    return Model(
        Elements(grid, tissue_of(lip, grid, stage.activation), lip.law),
        Pattern(grid, fixed),
        tuple(pairs),
        breath_on(lip, grid, stage.mouth_pressure),
        transition_springs(lip, grid) + fold_springs(lip, grid) + edge_springs(lip, grid),
    )


def fitted_grid(
    problem: Problem, surfaces: list[Surface], fineness: Fineness, kept: KeptLines | None = None
) -> Grid:
    """A grid fitted to where the faces of the tissue rest and stand; the first is the rim's.

    Lines ``kept`` stay as they are, whatever the fineness asks for there.
    """
    lip = problem.lip
    gap = lip.tooth_gap_radius
    edges = (gap, gap + TRANSITION_MM) if gap > 0.0 else ()
    columns, finest = fitted_columns(surfaces, fineness, edges)
    bottom = finest[1] if len(finest) > 1 else (fineness.arc * TRANSITION_MM if gap > 0.0 else np.inf)
    margin = fineness.margin if lip.opening_radius > 0.0 else np.inf
    rows, row_layer = layered_rows(
        [layer.thickness for layer in lip.layers], fineness.aspect * finest[0], fineness.growth, fineness.largest,
        min(fineness.aspect * bottom, margin), fineness.margin_growth if np.isfinite(margin) else fineness.growth,
    )  # fmt: skip
    grid = Grid(columns, rows, row_layer)
    return grid if kept is None else _with_lines(grid, kept, edges)


def _with_lines(grid: Grid, kept: KeptLines, edges: tuple[float, ...]) -> Grid:
    """The grid with lines kept; those at ``edges`` of a support, at its own ends and between layers stay too."""
    between = 1 + np.nonzero(np.diff(grid.row_layer))[0]
    columns = merged(grid.columns, kept.columns, np.array([grid.columns[0], *edges, grid.columns[-1]]))
    rows = merged(grid.rows, kept.rows, grid.rows[[0, *between, -1]])
    layer = grid.row_layer[np.searchsorted(grid.rows, 0.5 * (rows[1:] + rows[:-1])) - 1]
    return Grid(columns, rows, layer)


def resting_grid(problem: Problem, fineness: Fineness) -> Grid:
    """A grid fitted to the undeformed lip with the rim just touching it."""
    lip, none = problem.lip, np.arange(0)
    faces = [(Pair("rim", problem.rim.curve, none, True), 0.0)]
    if lip.backing == "sliding":
        faces.append((Pair("teeth", teeth_curve(lip), none, False), -lip.thickness))
    surfaces = [resting_surface(pair, lip.opening_radius, lip.radius, height) for pair, height in faces]
    return fitted_grid(problem, surfaces, fineness)


def resting_state(model: Model) -> State:
    """Nothing has moved; the back face lies on the teeth where there are any."""
    grid = model.elements.grid
    pairs = []
    for pair in model.pairs:
        seen = pair.look(grid.nodes[pair.nodes], 0.0)
        status = PairState.untouched(seen.arc_length)
        touching = np.abs(seen.distance) < 1e-9 if not pair.moving else status.active
        pairs.append(replace(status, active=touching))
    return State(np.zeros(grid.nodes.shape), np.zeros((len(grid.quads), 3)), 0.0, tuple(pairs))
