"""Points of a profile in the order of travel, however they came: strays, duplicates and gaps found on the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra, minimum_spanning_tree
from scipy.spatial import Delaunay, QhullError, cKDTree

from labrum.meshes.arrays import Floats, Ints
from labrum.meshes.traces.raw_trace import LONGEST_MM, refuse

# Posts of the first rough path stand this far apart, mm: more than the noise, less than a sharp bite.
POST_MM = 0.06
NEIGHBOURS = 31
STRAY_SIGMAS, STRAY_MM = 8.0, 0.02
GAP_STEPS, GAP_MM = 10.0, 0.3
# Denser points than this are averaged: over so short a way the sharpest edge is straight to 0.1 micrometre.
DENSE_MM = 0.018


@dataclass(frozen=True)
class Ordered:
    """Points along the profile.

    Parameters
    ----------
    points, weights
        (n, 2) mm in the order of travel; (n,) how many measured points each stands for.
    place
        (n,) rough arc length, mm.
    source
        (m,) numbers of the measured points used, in the order of travel.
    source_place
        (m,) rough arc length of each.
    strays, duplicates
        How many measured points were left out.
    gaps
        (g, 2) rough arc lengths between which nothing was measured.
    path
        (k, 2) the rough path itself, mm.
    """

    points: Floats
    weights: Floats
    place: Floats
    source: Ints
    source_place: Floats
    strays: int
    duplicates: int
    gaps: Floats
    path: Floats


def ordered(points: Floats, post: float = POST_MM) -> Ordered:
    """Put (n, 2) points in the order of travel along the line they lie on.

    A rough path through posts (the longest path of their minimum spanning tree) orders the points by where on
    it they fall; so the order in the file does not matter.

    Raises
    ------
    TraceError
        If the points are no line.
    """
    _, first = np.unique(np.round(points, 9), axis=0, return_index=True)
    first = np.sort(first)
    kept = points[first]
    path = _path(_posts(kept, post))
    place, off = on_path(path, kept)
    order = np.argsort(place, kind="stable")
    place, off = place[order], off[order]
    stray = _strays(off)
    if stray.mean() > 0.2:
        raise refuse(f"points of which {100 * stray.mean():.0f} % lie off any one line", "points along one profile")
    order, place = order[~stray], place[~stray]
    gaps = _gaps(place)
    few, weights, where = averaged(kept[order], place)
    return Ordered(few, weights, where, first[order], place, int(stray.sum()), len(points) - len(first), gaps, path)


def _posts(points: Floats, apart: float) -> Floats:
    """Means of the points around posts no nearer to each other than ``apart``."""
    tree = cKDTree(points)
    free = np.ones(len(points), dtype=bool)
    posts = []
    for i in range(len(points)):
        if free[i]:
            near = tree.query_ball_point(points[i], apart)
            free[near] = False
            posts.append(points[tree.query_ball_point(points[i], 0.5 * apart)].mean(axis=0))
            if len(posts) * apart > LONGEST_MM:
                raise refuse(f"points all over the place, as along more than {LONGEST_MM:g} mm",
                             "points along one profile")
    return np.array(posts)


def _path(posts: Floats) -> Floats:
    """Longest path of the posts' minimum spanning tree, which is a part of their Delaunay triangulation."""
    if len(posts) < 4:
        raise refuse("points in one small spot", "points along a profile")
    try:
        corners = Delaunay(posts - posts.mean(axis=0)).simplices
    except QhullError:
        raise refuse("points on one straight line", "points along a profile") from None
    edges = np.unique(np.sort(np.vstack([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [0, 2]]]), axis=1), axis=0)
    length = np.hypot(*(posts[edges[:, 0]] - posts[edges[:, 1]]).T)
    n = len(posts)
    tree = minimum_spanning_tree(coo_matrix((length, edges.T), shape=(n, n)).tocsr())
    far = int(np.argmax(dijkstra(tree, directed=False, indices=0)))
    along, before = dijkstra(tree, directed=False, indices=far, return_predecessors=True)
    way = [int(np.argmax(along))]
    while before[way[-1]] >= 0:
        way.append(int(before[way[-1]]))
    return posts[way]


def on_path(path: Floats, points: Floats) -> tuple[Floats, Floats]:
    """(n,) arc length of each point's foot on a polyline and its offset to the left."""
    post = cKDTree(path).query(points)[1]
    step = np.diff(path, axis=0)
    length = np.hypot(*step.T)
    offset = np.concatenate([[0.0], np.cumsum(length)])
    best = np.full(len(points), np.inf)
    place, off = np.zeros(len(points)), np.zeros(len(points))
    for shift in (-1, 0):
        k = np.clip(post + shift, 0, len(step) - 1)
        way = step[k] / length[k, None]
        rel = points - path[k]
        along = np.sum(rel * way, axis=1)
        low = np.where(k == 0, -np.inf, 0.0)
        high = np.where(k == len(step) - 1, np.inf, length[k])
        excess = along - np.clip(along, low, high)
        side = way[:, 0] * rel[:, 1] - way[:, 1] * rel[:, 0]
        distance = np.hypot(side, excess)
        better = distance < best
        best[better] = distance[better]
        place[better] = (offset[k] + np.clip(along, low, high))[better]
        off[better] = (np.sign(side) * distance)[better]
    return place, off


def _strays(off: Floats) -> NDArray[np.bool_]:
    """Points far from where their neighbours lie."""
    apart = np.abs(off - median_filter(off, size=NEIGHBOURS, mode="nearest"))
    return apart > max(STRAY_SIGMAS * 1.4826 * float(np.median(apart)), STRAY_MM)


def _gaps(place: Floats) -> Floats:
    step = np.diff(place)
    wide = np.flatnonzero(step > max(GAP_STEPS * float(np.median(step)), GAP_MM))
    return np.column_stack([place[wide], place[wide + 1]])


def averaged(points: Floats, place: Floats) -> tuple[Floats, Floats, Floats]:
    """Means of neighbours where there are more than the shape needs; with how many each stands for."""
    cell = np.floor((place - place[0]) / DENSE_MM).astype(np.int64)
    _, which, count = np.unique(cell, return_inverse=True, return_counts=True)
    if count.mean() < 1.5:
        return points, np.ones(len(points)), place
    mean = [np.bincount(which, weights=v) / count for v in (points[:, 0], points[:, 1], place)]
    return np.column_stack(mean[:2]), count.astype(np.float64), mean[2]
