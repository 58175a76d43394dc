"""Outlines to draw: the meshed tissue with its curved edges, the rim's metal, the tissue past the bite."""

from __future__ import annotations

import numpy as np
from matplotlib.path import Path as Outline

from labrum.meshes.arrays import Bools, Floats, Ints
from labrum.meshes.curves.polygons import enclosed, half_plane
from labrum.meshes.grids.quadratic import EDGES, edge_functions
from labrum.meshes.rims.rim import Rim
from labrum.simulate.outcome import Outcome, Section

DRAWN_CHORD_MM = 0.004
"""A drawn curve strays this far from the true one: a tenth of a pen's width at any size we print."""


def edge_curves(corners: Floats, parts: int) -> Floats:
    """Follow quadratic edges (e, 3, 2) given as start, middle, end: (e, parts + 1, 2) points."""
    return np.einsum("pk,ekd->epd", edge_functions(np.linspace(-1.0, 1.0, parts + 1))[0], corners)


def boundary_loops(quads: Ints) -> list[Ints]:
    """Chain the edges that belong to one quadrilateral only into closed loops.

    Parameters
    ----------
    quads
        (e, 9) node numbers as in :class:`labrum.simulate.outcome.Section`.

    Returns
    -------
    list of (k, 3)
        Start, middle and end node of the edges round each loop, tissue on the left.
    """
    edges = quads[:, EDGES].reshape(-1, 3)
    _, where, count = np.unique(np.sort(edges[:, [0, 2]], axis=1), axis=0, return_inverse=True, return_counts=True)
    left = {int(e[0]): e for e in edges[count[where.ravel()] == 1]}
    loops = []
    while left:
        loop = [left.pop(next(iter(left)))]
        while int(loop[-1][2]) in left:
            loop.append(left.pop(int(loop[-1][2])))
        loops.append(np.array(loop))
    return loops


def outlines(section: Section, chosen: Bools | None = None, chord_mm: float = DRAWN_CHORD_MM) -> list[Floats]:
    """Trace the deformed outline of the chosen elements (all by default), as closed polygons (k, 2) in mm.

    A quadratic edge cut into n even parts of its parameter strays from its chords by its own sag over n squared, so
    straight edges cost one point each and only bent ones more.
    """
    quads = section.quads if chosen is None else section.quads[chosen]
    return [_traced(section.deformed[loop], chord_mm) for loop in boundary_loops(quads)]


def _traced(edges: Floats, chord_mm: float) -> Floats:
    sag = np.linalg.norm(edges[:, 1] - 0.5 * (edges[:, 0] + edges[:, 2]), axis=1)
    parts = np.maximum(1, np.ceil(np.sqrt(sag / chord_mm))).astype(int)
    return np.concatenate([edge_curves(edge[None], count)[0, :-1] for edge, count in zip(edges, parts, strict=True)])


def compound(polygons: list[Floats]) -> Outline:
    """Join closed polygons into one outline, holes included."""
    closed = [Outline(np.vstack([p, p[:1]]), closed=True) for p in polygons if len(p) > 2]
    return Outline.make_compound_path(*closed) if closed else Outline(np.empty((0, 2)))


def bite_plane(outcome: Outcome) -> tuple[float, float]:
    """Return the bite's radius and the bite plane's z in the solution, mm."""
    radius, height = outcome.rim.bite
    return float(radius), float(height) - outcome.measures.sink_mm


def past_bite(outcome: Outcome) -> list[Floats]:
    """Cut out the tissue beyond the bite plane and inside the bite, as polygons (k, 2) in mm."""
    return past_bite_of(outcome.section, outcome.rim, outcome.measures.sink_mm)


def past_bite_of(section: Section, rim: Rim, sink_mm: float) -> list[Floats]:
    """Cut it out of any section under a rim that has sunk so far; see :func:`past_bite`."""
    radius, plane = rim.bite[0], rim.bite[1] - sink_mm
    cut = [half_plane(half_plane(p, 1, plane, above=True), 0, radius, above=False) for p in outlines(section)]
    return [p for p in cut if len(p) > 2 and enclosed(p) > 1e-9]


def rim_line(rim: Rim, sink_mm: float) -> Floats:
    """Return the rim's curve (k, 2) where it stands in the solution, from the cup outwards."""
    line: Floats = rim.curve.sample(DRAWN_CHORD_MM) - np.array([0.0, sink_mm])
    return line


def metal(rim: Rim, sink_mm: float, top_mm: float) -> Floats:
    """Close the rim's curve over its metal, up to ``top_mm`` or the curve's own top, whichever is higher."""
    line = rim_line(rim, sink_mm)
    top = max(top_mm, float(line[:, 1].max()))
    return np.vstack([line, [[line[-1, 0], top], [line[0, 0], top]]])


def along_rim(rim: Rim, sink_mm: float, places: Floats) -> Floats:
    """Measure how far along the rim's curve places lie.

    Parameters
    ----------
    rim, sink_mm
        The rim and its travel.
    places
        (n, 2) points on or near the rim in the solution, mm.

    Returns
    -------
    (n,)
        Arc length of the nearest point, mm: 0 at the high point, positive outwards.
    """
    resting = places + np.array([0.0, sink_mm])
    reached: Floats = rim.curve.nearest(resting).arc_length
    start = rim.curve.nearest(np.array([[rim.high_point_radius, 0.0]])).arc_length
    return reached - start
